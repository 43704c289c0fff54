"""The packed machines on the bench, rebuilt with other parts or boards as a test needs them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction
from functools import cache
from typing import Any

from hypothesis import strategies as st

from waitwright.api.check import check
from waitwright.api.opening import Question, open_machine
from waitwright.api.rank import Wish, rank
from waitwright.api.why import why
from waitwright.expr import parse
from waitwright.ids import OptionId, PartId, Settings, SlotId
from waitwright.machine import Machine, build_machine
from waitwright.report.views import CheckView, RankView, WhyView
from waitwright.rulebook.domain import Part, Rulebook
from waitwright.rulebook.load import load_rulebook
from waitwright.rulebook.profiles import Automatic, BoardProfile, FitDef
from waitwright.timing.bind import BoundRules, bind

OLD, NEW = "tollgate-386dx33", "tollgate-486dx2"

MACHINES = (OLD, NEW)
"""The packed machines on the board whose options these tests call by name; tests/profiles looks at all."""

Fits = Mapping[str, tuple[FitDef, ...]]


@cache
def packed(name: str) -> tuple[Machine, BoundRules]:
    """A packed machine with its rules bound."""
    machine = open_machine(name, load_rulebook())
    return machine, bind(machine)


def rebuilt(
    name: str = OLD,
    *,
    fit: Fits | None = None,
    what_if: Mapping[str, str] | None = None,
    labels: Mapping[str, str] | None = None,
    board: Callable[[BoardProfile], BoardProfile] | None = None,
    rulebook: Rulebook | None = None,
) -> Machine:
    """A packed machine with some slots filled otherwise, other labels, another board or other rules."""
    book = rulebook or load_rulebook()
    profile = packed(name)[0].profile
    fitted = {**profile.fit, **{SlotId(slot): parts for slot, parts in (fit or {}).items()}}
    changed = replace(profile, fit=fitted, labels=labels or {})
    return build_machine(name, changed, board(profile.board) if board else profile.board, book, what_if)


def fits(part: str, count: int = 1, **more: Any) -> FitDef:
    """Equal parts for one slot."""
    return FitDef(PartId(part), count, **more)


def with_automatic(board: BoardProfile, when: str, **sets: str) -> BoardProfile:
    """*board* with one more automatic mode."""
    modes = Automatic(parse(when), {name: parse(text) for name, text in sets.items()})  # type: ignore[misc]
    return replace(board, automatics=(*board.automatics, modes))


def with_part(book: Rulebook, part_id: str, change: Callable[[Part], Part]) -> Rulebook:
    """*book* with one part changed."""
    return replace(book, parts={**book.parts, part_id: change(book.parts[part_id])})


def with_value(part: Part, row: str, value: Fraction) -> Part:
    """*part* with one value changed."""
    return replace(part, values={**part.values, row: replace(part.values[row], value=value)})


def settings(machine: Machine) -> st.SearchStrategy[Settings]:
    """Any combination of choices."""
    choices = {option.id: st.sampled_from([c.id for c in option.choices]) for option in machine.options}
    return st.fixed_dictionaries(choices)


def named(machine: Machine, **changes: str) -> Settings:
    """The current settings with changes by option id, ``_`` for ``-``."""
    by_id = {str(option.id): option for option in machine.options}
    chosen: Settings = {}
    for name, choice_id in changes.items():
        option = by_id[name.replace("_", "-")]
        chosen[OptionId(option.id)] = next(choice.id for choice in option.choices if choice.id == choice_id)
    return machine.settings_with(chosen)


# Answers that several tests look at; each is worked out once in a process.


@cache
def checked(name: str, *sets: str) -> CheckView:
    """Answer of ``check``."""
    return check(Question(name, sets=sets))


@cache
def explained(name: str, *sets: str) -> WhyView:
    """Answer of ``why``."""
    return why(Question(name, sets=sets))


@cache
def ranked(name: str, rated: bool = True) -> RankView:
    """Answer of ``rank``: three proposals, by odds with the trade-off of speed against odds."""
    return rank(Question(name), Wish(rated=rated, top=3, curve=not rated))
