"""Courses worked out by compiled functions: one step, its slopes, and the limits on its way."""
