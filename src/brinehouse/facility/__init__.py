"""The facility file: text to a checked, frozen model whose every object knows its file, line and column."""
