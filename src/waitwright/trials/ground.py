"""What belief about a machine rests on that no trial changes, kept from one trial to the next."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

from waitwright.belief.causes import causes_of
from waitwright.belief.evidence import Formers
from waitwright.belief.faults import FaultCause, faults_of
from waitwright.belief.latents import Latents
from waitwright.belief.mechanisms import TimingCause
from waitwright.belief.survival import Situations
from waitwright.ids import ChoiceId, OptionId
from waitwright.machine import Machine
from waitwright.machine.build import as_found
from waitwright.timing.bind import BoundRules, bind

Choices = Mapping[OptionId, ChoiceId]
_Key = tuple[str, ...]


class Ground:
    """A machine and its rules, with what was worked out of them so far."""

    def __init__(self, machine: Machine, rules: BoundRules) -> None:
        """Nothing is worked out before it is asked for."""
        self.machine, self.rules = machine, rules
        self._causes: dict[_Key, tuple[TimingCause, ...]] = {}
        self._faults: dict[_Key, tuple[FaultCause, ...]] = {}

    @cached_property
    def situations(self) -> Situations:
        """What each rule can meet."""
        return Situations(self.machine, self.rules)

    @cached_property
    def formers(self) -> Formers:
        """The machine with the parts of its profile, and with those that it ran with before."""
        found = as_found(self.machine)
        return Formers(found, self.rules if found is self.machine else bind(found))

    def causes(
        self, machine: Machine, rules: BoundRules, latents: Latents, settings: Choices
    ) -> tuple[TimingCause, ...]:
        """What timing could stop *settings*; remembered unless it is asked for other rules."""
        if rules is not self.rules:
            return causes_of(machine, rules, latents, settings)
        # Parts come first among the unknowns, so that repairs shift none of them.  Where they vary more,
        # fewer rules are safe whatever the parts may need; all vary more together.
        key = (f"{latents.items[0].sigma:.12g}", *self._key(settings))
        if key not in self._causes:
            self._causes[key] = causes_of(machine, rules, latents, settings)
        return self._causes[key]

    def faults(
        self, latents: Latents, settings: Choices, repairs: Mapping[str, int]
    ) -> tuple[FaultCause, ...]:
        """What beside timing could stop *settings* after *repairs*."""
        key = (*self._key(settings), *(f"{name} {count}" for name, count in sorted(repairs.items())))
        if key not in self._faults:
            self._faults[key] = faults_of(self.machine, latents, settings, repairs)
        return self._faults[key]

    def _key(self, settings: Choices) -> _Key:
        return tuple(settings[option.id] for option in self.machine.options)
