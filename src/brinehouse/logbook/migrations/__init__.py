"""Changes to the shape of the logbook, oldest first."""
