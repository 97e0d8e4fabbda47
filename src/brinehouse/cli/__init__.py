"""Commands: the same words as the pages, in a terminal."""
