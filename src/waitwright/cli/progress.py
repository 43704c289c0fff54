"""Progress of a long search on the terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import monotonic

from waitwright.search.bestfirst import SearchObserver

PATIENCE_S = 1.0
"""Searches shorter than this run silently."""


class _Line:
    """One line on standard error, rewritten in place; nothing where that is no terminal."""

    def __init__(self) -> None:
        self._started = monotonic()
        self._shown = ""

    def show(self, text: str) -> None:
        """Put *text* in place of what stands there, once the user has waited for a while."""
        if not sys.stderr.isatty() or monotonic() - self._started < PATIENCE_S:
            return
        from shutil import get_terminal_size  # only for those who wait

        self._write(text[: get_terminal_size().columns - 1])  # a text that wraps could not be wiped

    def wipe(self) -> None:
        """Leave no trace."""
        self._write("")

    def _write(self, text: str) -> None:
        if text != self._shown:
            sys.stderr.write("\r" + text.ljust(len(self._shown)) + ("" if text else "\r"))
            sys.stderr.flush()
            self._shown = text


class Progress(SearchObserver):
    """Shows on *line* how far a search has come, and what is proven of all that is still to come."""

    def __init__(self, line: _Line) -> None:
        self._line = line
        self._opened = "searching"
        self._proven = ""

    def opened(self, conditions: int, of: int) -> None:
        """Tell how much of the space has been opened."""
        share = 100 * conditions // max(of, 1)
        self._opened = f"searching: {share} % of {of} branches opened"
        self._line.show(self._opened + self._proven)

    def bound(self, cost: int) -> None:
        """Tell what is proven: all that is to come takes *cost* picoseconds or more for 1000 instructions."""
        self._proven = f"; the rest takes {cost / 1e6:.2f} us or more"
        self._line.show(self._opened + self._proven)


@contextmanager
def searching() -> Iterator[Progress]:
    """Gives an observer for a search; its line is gone afterwards, however the search ends."""
    line = _Line()
    try:
        yield Progress(line)
    finally:
        line.wipe()


@contextmanager
def counting(what: str) -> Iterator[Callable[[int, int], None]]:
    """Gives a function to be called with how many of how many are done."""
    line = _Line()

    def told(done: int, of: int) -> None:
        line.show(f"{what}: {done} of {of}")

    try:
        yield told
    finally:
        line.wipe()
