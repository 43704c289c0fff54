"""Ctrl-C, also where a library takes it for an error of its own.

The interpreter raises KeyboardInterrupt wherever the program happens to be.  Inside a compiled library it
may come out as that library's error, or not at all; what was pressed is noted here, so that the entry
point can tell the two apart.
"""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


@contextmanager
def noting_interrupts() -> Iterator[list[int]]:
    """A list that holds something once Ctrl-C has been pressed inside the block."""
    noted: list[int] = []

    def note(number: int, _: FrameType | None) -> None:
        noted.append(number)
        raise KeyboardInterrupt

    try:
        before = signal.signal(signal.SIGINT, note)
    except ValueError:  # only the main thread hears of signals
        yield noted
        return
    try:
        yield noted
    finally:
        signal.signal(signal.SIGINT, before)
