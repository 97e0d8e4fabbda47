"""Server-rendered pages: the sheets of the drawing office."""
