"""Answers as text for a terminal: one file per command, readable in 80 columns and without colour."""
