"""Heads and flows of pumps, pipes and valves: our own global-gradient solver, for one plant or a thousand."""
