"""News for open pages: server-sent events on what has changed and how far work has come."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from contextlib import suppress
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from waitwright.page.desk import Desk

BEAT_S = 15.0
"""Seconds after which a sign of life goes out: a connection that is gone shows itself then."""

STEP_S = 0.3
"""Seconds between two looks at work that somebody waits for."""


class Hub:
    """Wakes everybody who listens.

    Attributes:
        changes: Counts up at each change, so that nobody who looks away for a moment misses one.
        watched: How many listen.
        closed: Whether the page is closing.
    """

    def __init__(self) -> None:
        self._bell = asyncio.Event()
        self.changes = 0
        self.watched = 0
        self.closed = False

    def changed(self) -> None:
        """The evidence is another one."""
        self.changes += 1
        self._bell.set()
        self._bell = asyncio.Event()

    def close(self) -> None:
        """Let the listeners go."""
        self.closed = True
        self.changed()

    async def wait(self, seen: int, seconds: float) -> None:
        """Wait for a change after the *seen* ones, at most *seconds*."""
        if self.changes == seen:
            with suppress(TimeoutError):
                await asyncio.wait_for(self._bell.wait(), seconds)


async def news(desk: Desk, job_id: str) -> AsyncIterator[str]:
    """Events for one page: ``stamp`` at once and at each change; ``progress`` and ``ready`` of one job."""
    hub, told = desk.hub, ""
    waiting = bool(job_id)
    hub.watched += 1
    try:
        while not hub.closed:
            seen = hub.changes
            if desk.stamp != told:
                told = desk.stamp
                yield _event("stamp", told)
            if waiting:
                job = desk.job(job_id)
                waiting = job is not None and not job.ready
                if job is not None and waiting:
                    yield _event("progress", {"done": job.done, "of": job.of})
                else:  # ready, failed or forgotten: the page finds out which by asking again
                    yield _event("ready", job_id)
            await hub.wait(seen, STEP_S if waiting else BEAT_S)
            yield ": still here\n\n"
    finally:
        hub.watched -= 1


def _event(name: str, data: object) -> str:
    return f"event: {name}\ndata: {json.dumps(data)}\n\n"
