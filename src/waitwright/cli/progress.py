"""Progress of a long search on the terminal."""

from __future__ import annotations

import sys
from time import monotonic

from waitwright.search.bestfirst import SearchObserver

PATIENCE_S = 1.0
"""Searches shorter than this run silently."""


class Progress(SearchObserver):
    """One line on standard error, rewritten in place; nothing where that is no terminal."""

    def __init__(self) -> None:
        self._started = monotonic()
        self._shown = ""

    def opened(self, conditions: int, of: int) -> None:
        """Tell how much of the space has been opened."""
        if not sys.stderr.isatty() or monotonic() - self._started < PATIENCE_S:
            return
        share = 100 * conditions // max(of, 1)
        self._show(f"searching: {share} % of {of} clock and refresh combinations opened")

    def done(self) -> None:
        """Wipe the line."""
        self._show("")

    def _show(self, text: str) -> None:
        if text != self._shown:
            sys.stderr.write("\r" + text.ljust(len(self._shown)) + ("" if text else "\r"))
            sys.stderr.flush()
            self._shown = text
