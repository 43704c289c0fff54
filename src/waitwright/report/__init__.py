"""Answers as plain data, and their renderings."""
