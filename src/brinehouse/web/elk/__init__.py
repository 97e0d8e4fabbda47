"""Laying out the plant drawing: a layout program of others, run here on the server."""
