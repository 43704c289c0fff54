"""One machine on the page: its question, the answers so far, and everybody who looks on."""

from __future__ import annotations

import asyncio
from collections import OrderedDict
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from typing import TypeVar

from waitwright.api.opening import Question
from waitwright.errors import InputError
from waitwright.page.answers import Abandoned, Answers, Ask, Job
from waitwright.page.asking import ask_check, ask_controls, ask_logbook, ask_next
from waitwright.page.evidence import Evidence
from waitwright.page.live import Hub
from waitwright.report.controls_view import ControlsView
from waitwright.report.trial_views import RecordView

T = TypeVar("T")

PATIENCE_S = 0.8
"""How long a page waits for its answer before it shows how far the work has come."""

LONG_PATIENCE_S = 100.0
"""How long it waits where it was told to."""

LOOK_EVERY_S = 0.7
"""Seconds between two looks at the files, while somebody has a page open."""

_TOLD_KEPT = 8


class Waiting(Exception):
    """The answer takes longer than a page should wait."""

    def __init__(self, job: Job[object]) -> None:
        self.job = job
        super().__init__(job.words)


class Desk:
    """To be used from one event loop only.

    Attributes:
        question: What the page was started with; another machine once a packed one has been copied.
        told: What the last records taught, by entry.
    """

    def __init__(self, question: Question) -> None:
        self.question = question
        self.hub = Hub()
        self.told: OrderedDict[int, RecordView] = OrderedDict()
        self._answers = Answers()
        self._evidence = Evidence(question)
        self._reading = asyncio.Lock()
        self._preparing: asyncio.Task[None] | None = None

    @property
    def stamp(self) -> str:
        """Stands for the evidence that answers are given on."""
        return self._evidence.stamp

    async def fresh(self) -> str:
        """Look whether any file has changed; gives the stamp that holds now."""
        async with self._reading:
            if not self.stamp or self._evidence.moved():
                before = self.stamp
                await self._answers.run(self._evidence.read)
                if self.stamp != before:
                    self._answers.renew(self.stamp)
                    self.hub.changed()
                    self._preparing = asyncio.create_task(self._prepare())
        return self.stamp

    async def ask(self, ask: Ask[T], patience: float = LONG_PATIENCE_S) -> T:
        """The answer to *ask*.

        Raises:
            Waiting: if it takes longer than *patience* seconds.
            InputError: whatever the api refuses.
        """
        while True:
            job = self._answers.job(ask, await self.fresh())
            # The work goes on for the next request, whether or not this one waits for it.
            done, _ = await asyncio.wait([job.future], timeout=patience)
            if not done:
                raise Waiting(job)  # type: ignore[arg-type]
            try:
                return await job.future
            except Abandoned:  # the evidence has changed meanwhile
                if self.hub.closed:
                    raise

    async def controls(self, question: Question | None = None) -> ControlsView:
        """What can be chosen on the machine."""
        return await self.ask(ask_controls(question or self.question))

    async def run(self, work: Callable[[], T], *, slow: bool = False) -> T:
        """Do *work* in a thread."""
        return await self._answers.run(work, slow=slow)

    def job(self, job_id: str) -> Job[object] | None:
        """The work of that id, while it is kept."""
        return self._answers.by_id(job_id)

    def remember(self, view: RecordView) -> None:
        """Keep what a record taught, to be shown on the page after it."""
        self.told[view.entry] = view
        while len(self.told) > _TOLD_KEPT:
            self.told.popitem(last=False)

    def move_to(self, machine: str) -> None:
        """Go on with the profile at path *machine*."""
        self.question = replace(self.question, machine=machine)
        self._evidence = Evidence(self.question)
        self.told.clear()

    async def watch(self) -> None:
        """Look at the files for as long as the page runs."""
        while not self.hub.closed:
            await asyncio.sleep(LOOK_EVERY_S)
            if self.hub.watched:
                with suppress(InputError, OSError):  # whoever asks next is told
                    await self.fresh()

    def close(self) -> None:
        """Let everybody go."""
        self.hub.close()
        self._answers.close()

    async def _prepare(self) -> None:
        """Have ready what is likely to be asked next, in the order in which it is likely to be."""
        question, stamp = self.question, self.stamp
        self._answers.job(ask_check(question), stamp, later=True)
        with suppress(InputError, Abandoned):
            log = await self._answers.job(ask_logbook(question), stamp, later=True).future
            if stamp != self.stamp:
                return  # what follows is prepared on the new evidence
            self._answers.job(ask_next(question, log.mode or "jump", None), stamp, later=True)
