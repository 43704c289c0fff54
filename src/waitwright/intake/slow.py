"""Settings that should hold: where a machine begins whose current ones nobody has read off.

They start from a packed machine on the same board, or from the board's first choices, and are changed,
one option at a time, for as long as fewer rules fall short by data-sheet limits.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from waitwright.ids import ChoiceId, OptionId, ParameterName, Settings
from waitwright.machine import Machine, build_machine
from waitwright.rulebook.domain import Rulebook
from waitwright.rulebook.profiles import BoardProfile, FitDef, MachineProfile
from waitwright.timing.bind import BoundRules, bind
from waitwright.timing.margins import margins
from waitwright.units import Exact

_ROUNDS = 12
_HOST = ParameterName("host_clock")


def first_settings(
    board: BoardProfile, fixed: Mapping[OptionId, ChoiceId], examples: Iterable[MachineProfile], family: str
) -> Settings:
    """Settings to start from: *fixed*, then those of a packed machine on *board*, its CPU of *family* if any.

    Without such a machine the first choice of each option stands, which is the slowest as a rule.
    """
    alike = [machine for machine in examples if machine.board == board]
    alike.sort(key=lambda machine: not any(fit.part.startswith(family) for fit in _cpus(machine)))
    start = alike[0].current if alike else {option.id: option.choices[0].id for option in board.options}
    return {option.id: fixed.get(option.id, start[option.id]) for option in board.options}


def _cpus(machine: MachineProfile) -> list[FitDef]:
    return [fit for slot in machine.board.slots if slot.role == "cpu" for fit in machine.fit.get(slot.id, ())]


def settings_that_hold(
    profile: MachineProfile, rulebook: Rulebook, fixed: Mapping[OptionId, ChoiceId], rated: Exact | None
) -> Settings:
    """The settings of *profile* changed until nothing falls short, or nothing more helps.

    Args:
        fixed: Options that are not touched.
        rated: Bus clock of the CPU: the fastest host clock within it is taken, where that is not fixed.
    """
    machine = build_machine("draft", profile, profile.board, rulebook)
    rules = bind(machine)
    settings = dict(profile.current)
    clock = next((option for option in machine.options if _HOST in option.parameters), None)
    held = set(fixed)
    if clock is not None and clock.id not in held and rated is not None:
        able = {choice.id: choice.sets[_HOST] for choice in clock.choices}
        within = [(value, name) for name, value in able.items() if _within(value, rated)]
        if within:
            settings[clock.id] = max(within, key=lambda pair: Fraction(pair[0]))[1]
            held.add(clock.id)
    broken = _broken(machine, rules, settings)
    for _ in range(_ROUNDS):
        if not broken:
            break
        better = _best_step(machine, rules, settings, held, broken)
        if better is None:
            break
        settings, broken = better
    return settings


def _within(value: object, rated: Exact) -> bool:
    return isinstance(value, int | Fraction) and value <= rated


def _best_step(
    machine: Machine, rules: BoundRules, settings: Settings, held: set[OptionId], broken: int
) -> tuple[Settings, int] | None:
    """The one change that leaves the fewest rules broken; None where none leaves fewer than *broken*."""
    best: tuple[Settings, int] | None = None
    for option in machine.options:
        if option.id in held:
            continue
        for choice in option.choices:
            trial = {**settings, option.id: choice.id}
            count = _broken(machine, rules, trial)
            if count < (broken if best is None else best[1]):
                best = trial, count
    return best


def _broken(machine: Machine, rules: BoundRules, settings: Settings) -> int:
    found = margins(machine, rules, settings)
    short = sum(1 for one in found.short if not one.bound.rule.advisory)
    return short + sum(1 for one in found.broken if one.known)
