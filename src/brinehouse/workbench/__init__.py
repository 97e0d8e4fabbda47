"""The one room where file, logbook, series and engines meet."""
