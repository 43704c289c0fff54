"""Trials: the logbook of what was tried, and how it is kept."""
