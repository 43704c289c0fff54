"""Verdicts of a packed machine with other parts, by rule id."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction

from tests.workshop import named, rebuilt
from waitwright.ids import PartId
from waitwright.rulebook.profiles import BoardProfile
from waitwright.timing.bind import bind
from waitwright.timing.margins import BudgetMargin, LimitMargin, margins
from waitwright.units import from_base

Found = Mapping[str, BudgetMargin | LimitMargin]

HOSTS = {
    "20": Fraction(20),
    "25": Fraction(25),
    "33": Fraction(100, 3),
    "40": Fraction(40),
    "50": Fraction(50),
}
"""Choices of the packed board's host clock, in MHz."""

ISA_DIVIDERS = {"clk2-8": 8, "clk2-6": 6, "clk2-5": 5, "clk2-4": 4}
"""Choices of its ISA clock that divide CLK2; the remaining one is 14.31818 MHz over 2."""


class Stand:
    """A packed machine with *parts* (slot to part), built once, and what some of its rules say.

    Args:
        only: Beginnings of the ids of the rules that are asked about; all of them if empty.
    """

    def __init__(
        self,
        name: str,
        parts: Mapping[str, str] | None = None,
        *,
        board: Callable[[BoardProfile], BoardProfile] | None = None,
        only: tuple[str, ...] = (),
    ) -> None:
        self._machine = rebuilt(name, what_if=parts, board=board)
        rules = bind(self._machine)
        self._rules = replace(
            rules,
            budgets=tuple(bound for bound in rules.budgets if not only or bound.id.startswith(only)),
            limits=tuple(bound for bound in rules.limits if not only or bound.id.startswith(only)),
            logic=(),
        )

    def judged(self, **sets: str) -> Found:
        """The margins under *sets* (option to choice, the others as they are now)."""
        found = margins(self._machine, self._rules, named(self._machine, **sets))
        every: tuple[BudgetMargin | LimitMargin, ...] = (*found.budgets, *found.limits)
        return {margin.bound.id: margin for margin in every}


def left(found: Found, rule: str) -> Fraction:
    """Margin of a budget in ns."""
    margin = found[rule].margin
    assert margin is not None, f"{rule} is unchecked"
    return Fraction(from_base(margin, "ns"))


def holds(found: Found, rule: str) -> bool:
    """Whether a rule holds, tightly or not; it must be decided."""
    verdict = found[rule].verdict
    assert verdict != "unchecked", rule
    return verdict != "falls short"


def isa_clock(host: str, choice: str) -> Fraction:
    """ISA clock in MHz of two choices, computed here."""
    if choice == "fixed":
        return Fraction("14.31818") / 2
    return 2 * HOSTS[host] / ISA_DIVIDERS[choice]


def soldered(board: BoardProfile, parts: Mapping[str, str]) -> BoardProfile:
    """*board* with other parts soldered in, slot to part."""
    return replace(
        board,
        slots=tuple(
            replace(slot, soldered=PartId(parts[slot.id])) if slot.id in parts else slot
            for slot in board.slots
        ),
    )
