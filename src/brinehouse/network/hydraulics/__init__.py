"""Heads and flows of pumps, pipes and valves: our own global-gradient solver, one plant or a thousand at once."""
