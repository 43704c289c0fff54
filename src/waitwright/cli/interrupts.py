"""Ctrl-C, also where a library takes it for an error of its own.

The interpreter raises KeyboardInterrupt wherever the program happens to be.  Inside a compiled library it
may come out as that library's error; inside a finalizer it is dropped with a message that is of no use to
anybody.  What was pressed is noted here, so that the entry point can tell.
"""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


@contextmanager
def noting_interrupts() -> Iterator[list[int]]:
    """A list that holds something once Ctrl-C has been pressed inside the block."""
    noted: list[int] = []
    tell = sys.unraisablehook

    def note(number: int, _: FrameType | None) -> None:
        noted.append(number)
        raise KeyboardInterrupt

    def hush(dropped: sys.UnraisableHookArgs) -> None:
        if dropped.exc_type is not KeyboardInterrupt:
            tell(dropped)

    try:
        before = signal.signal(signal.SIGINT, note)
    except ValueError:  # only the main thread hears of signals
        yield noted
        return
    sys.unraisablehook = hush
    try:
        yield noted
    finally:
        sys.unraisablehook = tell
        signal.signal(signal.SIGINT, before)
