"""What happened, kept: one append-only chain of entries that shows any change."""
