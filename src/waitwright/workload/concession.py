"""Concessions: changes that slow what the work at hand does not count, and bring that work nothing.

A calculation does not count the disk, so that a slower pace of the drive costs it nothing and would be
taken for a trace of safety.  Whoever owns the machine would hardly call that tuning.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from waitwright.ids import ChoiceId, OptionId, Settings
from waitwright.machine import Machine
from waitwright.machine.vector import VectorFacts
from waitwright.rulebook.domain import Event
from waitwright.workload.gain import Pricer
from waitwright.workload.model import EventTable

WORTH = 0.05
"""Odds that a concession has to bring before it is made."""


class Concessions:
    """Finds concessions in combinations of one machine, against the machine's current settings."""

    def __init__(self, machine: Machine, tables: Sequence[EventTable]) -> None:
        """Take the costs of the work as *tables*; an event that costs nothing anywhere is not counted."""
        self._home = machine.current
        self._pricer = Pricer(machine, tables)
        self._number = {
            option.id: {choice.id: number for number, choice in enumerate(option.choices)}
            for option in machine.options
        }
        self._idle: list[tuple[Event, tuple[OptionId, ...], NDArray[np.float64]]] = []
        for table in tables:
            scope = machine.scope_of(table.event.time)
            if scope and not table.values.any():
                self._idle.append((table.event, scope, VectorFacts(machine, scope).numbers(table.event.time)))
        bearing = {option for _, scope, _ in self._idle for option in scope}
        self.options = tuple(option.id for option in machine.options if option.id in bearing)
        """Options that bear on what the work does not count, in board order."""

    def without(self, settings: Settings, option: OptionId) -> Settings | None:
        """*settings* with *option* put back, if that is a concession; None if it is none."""
        home = self._home[option]
        if settings[option] == home or not self.slowed(settings, option):
            return None
        # What buys speed is no concession, whatever it slows beside.
        return None if self._pricer.step(settings, option, home) > 0 else {**settings, option: home}

    def slowed(self, settings: Settings, option: OptionId) -> tuple[Event, ...]:
        """What the work does not count and the choice of *option* makes slower than the current one."""
        back = {**settings, option: self._home[option]}
        return tuple(
            event
            for event, scope, times in self._idle
            if option in scope and times[self._at(scope, settings)] > times[self._at(scope, back)]
        )

    def withdrawn(self, settings: Settings, bearable: Callable[[Settings], bool]) -> Settings:
        """*settings* with each concession put back without which they are *bearable*."""
        for option in self.options:
            wish = self.without(settings, option)
            if wish is not None and bearable(wish):
                settings = wish
        return settings

    def _at(self, scope: Sequence[OptionId], settings: Settings) -> tuple[int, ...]:
        return tuple(self._number[option][ChoiceId(settings[option])] for option in scope)
