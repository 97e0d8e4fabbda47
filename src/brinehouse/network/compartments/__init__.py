"""What water carries from place to place: heat, salt, gases, carbon, nitrogen; at rest and in time."""
