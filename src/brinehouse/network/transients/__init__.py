"""Plants after failures: many courses at once, each until its limits are crossed."""
