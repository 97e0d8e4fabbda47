"""How long the animals have after each failure, and what to do first."""
