"""The facility file: text to a checked, frozen model in which every object knows its file, line and column."""
