"""Timing of 386- and 486-class PCs: from installed parts to the fastest settings that should hold."""

__version__ = "0.1.0"
