"""Conflicts, proofs and remedies in sentences, as a practitioner would say them.

Every figure here is one of the ledger's, or the difference of two of them.  Nothing in this module decides
anything, and nothing knows of a console.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from waitwright.explain.conflict import Argument, Conflict
from waitwright.explain.derivation import Case, Step
from waitwright.explain.figures import chance, listed, measured, percent, plain, several
from waitwright.explain.members import Choice, Member, PartGroup
from waitwright.explain.remedy import Remedy
from waitwright.explain.toll import Toll
from waitwright.explain.verdicts import AnyBound, Verdict
from waitwright.ids import Settings
from waitwright.machine import FactTable, Machine
from waitwright.timing.margins import BudgetMargin, Delay, LimitMargin
from waitwright.units import Exact, display

CLOCKS = {
    "dma_clock": "With the DMA controller at",
    "isa_clock": "With the ISA bus at",
    "pci_clock": "With PCI at",
    "host_clock": "At a host clock of",
}
"""Which clock a time hangs on, the most special one first, and how it is said."""

_NEXT_TO_NOTHING = 0.0005


class Teller:
    """Tells of one machine, in its owner's words for options and choices."""

    def __init__(self, machine: Machine) -> None:
        self._machine = machine
        self._slots = {slot.id: slot.title for slot in machine.board.slots}
        self._soldered = {slot.role for slot in machine.board.slots if slot.soldered}

    # ---------------------------------------------------------------------------- rules

    def verdict(self, verdict: Verdict, settings: Settings, *, least: bool = False) -> str:
        """Why a rule fails under *settings*; *least*: other choices fail by more."""
        best = " at best" if least else ""
        if isinstance(verdict, BudgetMargin):
            return self._budget(verdict, settings, best)
        if isinstance(verdict, LimitMargin):
            return _limit(verdict, best)
        return f"{verdict.bound.title}: this is not kept."

    def step(self, step: Step) -> str:
        """One case of a proof."""
        sentence = self.verdict(step.verdict, step.settings, least=step.spread)
        if not step.cases:
            return sentence
        return f"Where {listed([_case(case) for case in step.cases])}: {sentence}"

    def argument(self, argument: Argument) -> tuple[str, ...]:
        """A proof, one sentence for each case; only the rules where it has too many cases."""
        if argument.steps:
            return tuple(self.step(step) for step in argument.steps)
        titles = listed([f"'{bound.title}'" for bound in argument.rules])
        return (f"Whatever else is chosen, one of these rules fails: {titles}.",)

    def _budget(self, verdict: BudgetMargin, settings: Settings, best: str) -> str:
        """What is left for the part that the time is meant for, and what it needs."""
        line = self._asker(verdict)
        if line is None or line.time is None or verdict.margin is None:
            return f"{verdict.bound.title}: a figure is missing."
        left = line.time + verdict.margin
        room = f"{_ns(left)} {_is_are(left)} left" if left > 0 else "nothing is left"
        whom = self._part(verdict.bound, line)
        needs = (
            f"{whom} needs {_ns(line.time)} ({line.name})" if whom else f"{line.name} takes {_ns(line.time)}"
        )
        return (
            f"{self._clock(verdict.bound, settings)}{room} in '{verdict.bound.title}'; {needs}: "
            f"short by {_ns(-verdict.margin)}{best}."
        )

    def _asker(self, verdict: BudgetMargin) -> Delay | None:
        """The delay to tell of: the longest one of a part that can be exchanged, else the longest."""
        known = [line for line in verdict.delays if line.time is not None]
        loose = [line for line in known if line.part and line.part not in self._soldered]
        return max(loose or known, key=lambda line: Fraction(line.time or 0), default=None)

    def _part(self, bound: AnyBound, line: Delay) -> str:
        """The part behind a delay by its title; empty where the delay is no part's."""
        if not line.part:
            return ""
        if bound.member is not None and bound.member.role == line.part:
            return bound.member.item.part.title
        titles = {member.item.part.title for member in self._machine.members[line.part]}
        return titles.pop() if len(titles) == 1 else "the slowest part fitted"

    def _clock(self, bound: AnyBound, settings: Settings) -> str:
        """The clock that the available time hangs on."""
        windows = getattr(bound.rule, "available", ())
        named = frozenset().union(
            *(self._machine.names_behind(name) for term in windows for name in term.time.names)
        )
        facts = FactTable(self._machine, settings)
        for fact, words in CLOCKS.items():
            value = facts(fact) if fact in named else None
            if isinstance(value, Exact) and not isinstance(value, bool):
                return f"{words} {measured(display(value, 'MHz', 3), 'MHz')}, "
        return ""

    # -------------------------------------------------------------------------- members

    def member(self, member: Member) -> str:
        """A choice or a part in the owner's words."""
        if isinstance(member, Choice):
            return f"{member.option.label} at '{member.option.choice(member.choice).label}'"
        return f"{member.part.title} ({self._where(member)})"

    def _where(self, group: PartGroup) -> str:
        return listed([self._slots[slot] for slot in group.slots])

    def conflict(self, conflict: Conflict) -> str:
        """What cannot stand together, in one sentence."""
        if not conflict.members:
            return "Nothing that can be set or exchanged here satisfies this board."
        names = listed([self.member(member) for member in conflict.members])
        if len(conflict.members) > 1:
            return f"These cannot stand together: {names}."
        if isinstance(conflict.members[0], Choice):
            return f"This cannot stand, whatever else is chosen: {names}."
        return f"No setting of this board suits this part: {names}."

    def correction(self, given_up: Sequence[Member]) -> str:
        """What to give up, as the object of a sentence."""
        names = [
            f"another choice for {member.option.label}"
            if isinstance(member, Choice)
            else f"another part in place of {self.member(member)}"
            for member in given_up
        ]
        return listed(names)

    # ------------------------------------------------------------------- remedies, tolls

    def remedy(self, remedy: Remedy) -> str:
        """What to do, and what comes of it."""
        done = " and ".join(self._doing(change) for change in remedy.changes)
        short = "" if remedy.stands else ", though not every data-sheet limit is kept"
        return f"{done[:1].upper()}{done[1:]}: odds {chance(remedy.odds)}, {_price(remedy.gain)}{short}."

    def _doing(self, change: Choice | PartGroup) -> str:
        if isinstance(change, PartGroup):
            return f"fit {change.part.title} ({self._where(change)})"
        return f"set {change.option.label} to '{change.option.choice(change.choice).label}'"

    def toll(self, toll: Toll, title: str) -> str:
        """What one rule takes from the odds."""
        return f"'{title}' by itself has odds of {chance(toll.odds)}: {percent(toll.share)} of what is lost."


def more(count: int, one: str, many: str) -> str:
    """How many are left untold."""
    return f"There {'is' if count == 1 else 'are'} {several(count, f'more {one}', f'more {many}')}."


def _limit(verdict: LimitMargin, best: str) -> str:
    rule = verdict.bound.rule
    value, rating, apart = (
        measured(None if number is None else display(number, rule.unit, 3), rule.unit)
        for number in (verdict.value, verdict.rating, None if verdict.margin is None else -verdict.margin)
    )
    side = "over" if rule.sense == "at most" else "under"
    return f"{verdict.bound.title}: {value} against {rule.sense} {rating}, {side} by {apart}{best}."


def _case(case: Case) -> str:
    names = [f"'{choice.label}'" for choice in case.choices]
    return f"{case.option.label} is at {listed(names, 'or')}"


def _price(gain: float) -> str:
    if gain < -_NEXT_TO_NOTHING:
        return f"{percent(-gain)} slower"
    return f"{percent(gain)} faster" if gain > _NEXT_TO_NOTHING else "as fast"


def _ns(time: Exact) -> str:
    return measured(display(time, "ns"), "ns")


def _is_are(time: Exact) -> str:
    return "is" if plain(display(time, "ns")) == "1" else "are"
