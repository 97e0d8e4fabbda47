"""The workbench of the people who keep a large closed seawater facility alive."""
