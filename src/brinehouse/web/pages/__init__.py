"""One module a sheet: its routes and what it shows."""
