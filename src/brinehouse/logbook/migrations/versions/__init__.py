"""One module for each change of shape."""
