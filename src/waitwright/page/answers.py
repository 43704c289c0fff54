"""Answers of the api, each worked out once for the same question and the same evidence.

An answer is worked out in a thread: quick ones in one lane, those that search in another, so that a
long search keeps nobody waiting who only wants to look at a margin.
"""

from __future__ import annotations

import asyncio
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any, Generic, TypeVar

from waitwright.page.lanes import LATER, URGENT, Lane

T = TypeVar("T")

MOST_KEPT = 64
"""Answers kept; the one that nobody has asked for the longest goes first."""

Told = Callable[[int, int], None]
"""Called with how many of how many steps are done."""


class Abandoned(Exception):
    """Nobody wants this answer any more: the evidence has changed, or the page is closing."""


@dataclass(frozen=True, slots=True)
class Ask(Generic[T]):
    """A question to the api.

    Attributes:
        key: The same for the same question; the evidence is added to it.
        work: Calls the api, in a thread; may tell how far it has come.
        words: What is being done, for those who wait.
        slow: Whether it searches.
    """

    key: Hashable
    work: Callable[[Told], T]
    words: str = ""
    slow: bool = False


@dataclass(slots=True)
class Job(Generic[T]):
    """A question that is being answered, or has been.

    Attributes:
        done, of: How many steps of how many; 0 of 0 where that is not known.
    """

    id: str
    words: str
    future: asyncio.Future[T] = field(init=False)
    done: int = 0
    of: int = 0
    abandoned: bool = False

    @property
    def ready(self) -> bool:
        """Whether the answer, or the reason why there is none, is there."""
        return self.future.done()

    def told(self, done: int, of: int) -> None:
        """Take down how far the work has come; ends it where nobody wants it any more."""
        if self.abandoned:
            raise Abandoned
        self.done, self.of = done, of


class Answers:
    """The cache.  To be used from the event loop only; the work itself runs in the lanes."""

    def __init__(self, most: int = MOST_KEPT) -> None:
        self._most = most
        self._jobs: OrderedDict[Hashable, Job[Any]] = OrderedDict()
        self._quick = Lane("quick", 1)
        self._patient = Lane("patient", 2)

    def job(self, ask: Ask[T], stamp: str, *, later: bool = False) -> Job[T]:
        """The job that answers *ask* on the evidence that *stamp* stands for, begun if need be.

        Args:
            later: It may wait until nothing more urgent is to be done.
        """
        key = (stamp, ask.key)
        job = self._jobs.get(key)
        if job is None:
            job = self._begun(ask, key, later=later)
        self._jobs.move_to_end(key)
        return job

    def by_id(self, job_id: str) -> Job[Any] | None:
        """The job of that id, while it is kept."""
        return next((job for job in self._jobs.values() if job.id == job_id), None)

    async def run(self, work: Callable[[], T], *, slow: bool = False) -> T:
        """Do *work* in a thread, and keep nothing of it."""
        return await asyncio.wrap_future((self._patient if slow else self._quick).submit(work))

    def renew(self, stamp: str) -> None:
        """Forget all answers on other evidence than *stamp* stands for."""
        for key in [key for key in self._jobs if isinstance(key, tuple) and key[0] != stamp]:
            self._jobs.pop(key).abandoned = True

    def close(self) -> None:
        """Let no search go on."""
        for job in self._jobs.values():
            job.abandoned = True

    def _begun(self, ask: Ask[T], key: Hashable, *, later: bool) -> Job[T]:
        job: Job[T] = Job(sha256(repr(key).encode()).hexdigest()[:16], ask.words)
        lane = self._patient if ask.slow else self._quick

        def work() -> T:
            job.told(0, 0)  # it may have been abandoned while it waited for its turn
            return ask.work(job.told)

        job.future = asyncio.wrap_future(lane.submit(work, LATER if later else URGENT))
        job.future.add_done_callback(lambda future: self._settled(key, future))
        self._jobs[key] = job
        self._make_room()
        return job

    def _settled(self, key: Hashable, future: asyncio.Future[Any]) -> None:
        """A failure is told to those who wait for it, and is not kept."""
        if future.cancelled() or future.exception() is not None:
            self._jobs.pop(key, None)

    def _make_room(self) -> None:
        for key in [key for key, job in self._jobs.items() if job.ready]:
            if len(self._jobs) <= self._most:
                return
            del self._jobs[key]
