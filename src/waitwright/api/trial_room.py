"""What ``next``, ``record`` and ``suspect`` share: the machine, its logbook and the belief that follows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from waitwright._resources import packed_profile
from waitwright.api.check import plain
from waitwright.api.opening import (
    Bench,
    Question,
    find_workload,
    logbook_of,
    no_such_machine,
    put_on_bench,
)
from waitwright.api.scoring import own_pricing
from waitwright.errors import UsageError
from waitwright.ids import Settings
from waitwright.machine import Machine
from waitwright.report.trial_views import ProvenView
from waitwright.rulebook.domain import Workload
from waitwright.trials.ground import Ground
from waitwright.trials.history import oddities
from waitwright.trials.logbook import Logbook, misfits, warnings
from waitwright.trials.planner import SURE, Mode, Plan
from waitwright.trials.second_look import DOUBT, plan_next, planner_of
from waitwright.trials.shortlist import Shortlist
from waitwright.trials.standing import Standing, standing
from waitwright.trials.store import LogbookStore
from waitwright.workload.model import EventTable


@dataclass(frozen=True)
class TrialRoom:
    """A machine under trial.

    Attributes:
        store: Where the logbook is kept; None for packed machines, which are not written to.
        hours: Length of the soak test.
    """

    bench: Bench
    store: LogbookStore | None
    logbook: Logbook
    workload: Workload
    hours: float
    seed: int

    @property
    def machine(self) -> Machine:
        """The machine as its profile has it."""
        return self.bench.machine

    @cached_property
    def ground(self) -> Ground:
        """What belief rests on."""
        return Ground(self.machine, self.bench.rules)

    @cached_property
    def standing(self) -> Standing:
        """Belief after everything in profile and logbook."""
        return self._standing()

    def _standing(self, spread: float = 1.0) -> Standing:
        return standing(self.ground, self.logbook, hours=self.hours, seed=self.seed, spread=spread)

    @property
    def warnings(self) -> tuple[str, ...]:
        """What the owner should know of entries that do not count, one line each."""
        return (*warnings(self.logbook, self.machine.options), *oddities(self.logbook, self.machine))

    @cached_property
    def events(self) -> tuple[EventTable, ...]:
        """What the events of the work cost, by the owner's scores where there are enough."""
        return own_pricing(self.logbook, self.machine, self.workload)(self.machine)

    @cached_property
    def shortlist(self) -> Shortlist:
        """What could be tried."""
        return Shortlist(self.ground, self.events, hours=self.hours)

    def plan(self, mode: Mode = "jump") -> Plan:
        """The next trial."""
        return plan_next(
            self.standing, self.shortlist, self.events, lambda: self._standing(spread=DOUBT), mode
        )

    def proven(self) -> ProvenView:
        """The best settings so far as plain data."""
        best = planner_of(self.standing, self.shortlist, self.events).proven(self.standing.tried)
        here = [one.passed for one in self.standing.tried if one.settings == best.settings]
        passed = bool(here) and all(here)
        return ProvenView(
            plain(best.settings), round(best.gain, 6), round(best.sure, 6), passed and best.sure >= SURE
        )


def enter(question: Question, *, hours: float, workload: str | None = None) -> TrialRoom:
    """The trial room of the machine that *question* names.

    Raises:
        InputError: if machine, rules, wishes or logbook are faulty.
    """
    bench = put_on_bench(question)
    packed = packed_profile("machines", question.machine) is not None
    store = None if packed else LogbookStore.beside(Path(question.machine))
    work = find_workload(bench.machine.rulebook, workload)
    return TrialRoom(bench, store, logbook_of(question.machine), work, hours, question.seed)


def own_store(name: str) -> LogbookStore:
    """The logbook of the machine at path *name*, to write in; nothing is read yet.

    Raises:
        UsageError: if there is no such machine, or it is a packed example, which is never written to.
    """
    if packed_profile("machines", name) is not None:
        raise UsageError(
            f"{name} is a packed example, which is never written to; make a copy of your own first: "
            f"waitwright new --from {name}"
        )
    if not Path(name).exists():
        raise no_such_machine(name)
    return LogbookStore.beside(Path(name))


def asked_settings(room: TrialRoom, sets: Sequence[str]) -> Settings:
    """The settings that a record is about: the asked ones, else the trial last offered.

    Raises:
        UsageError: if nothing was asked, and nothing is on offer or it no longer fits the board.
    """
    if sets:
        return room.bench.settings
    pending = room.logbook.pending
    if pending is None:
        raise UsageError(
            "no trial is on offer; run 'next' first, or tell the settings with --set OPTION=CHOICE"
        )
    for misfit in misfits(pending.settings, room.machine.options):
        raise UsageError(
            f"the trial on offer no longer fits the board: {misfit}; run 'next' for another, or tell the "
            "settings with --set OPTION=CHOICE"
        )
    return dict(pending.settings)
