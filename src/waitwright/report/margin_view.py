"""Margins as plain data for people and for JSON: nanoseconds, verdict words, sources."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from waitwright.rulebook.domain import Budget, Limit, LogicRule
from waitwright.timing.beat import Beat
from waitwright.timing.bind import Bound
from waitwright.timing.margins import BudgetMargin, Delay, LimitMargin, Margins
from waitwright.units import Exact, display

Json = dict[str, Any]


def ns(time: Exact | None) -> float | None:
    """Picoseconds as nanoseconds, to a hundredth."""
    return None if time is None else display(time, "ns")


@dataclass(frozen=True, slots=True)
class DelayView:
    """One line of a ledger; ``typical_ns`` is what it usually takes, None where that is unknown."""

    name: str
    part: str
    ns: float | None
    source: str
    typical_ns: float | None = None

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "name": self.name,
            "part": self.part,
            "ns": self.ns,
            "typical_ns": self.typical_ns,
            "source": self.source,
        }


@dataclass(frozen=True, slots=True)
class BudgetView:
    """One budget with its ledger; ``odds`` is None where none were computed.

    ``clock`` names the clock that the available time is told in, and ``period_ns`` its period; both are
    empty where it comes from none.  ``typical_ns`` is what all delays together usually take.
    """

    id: str
    title: str
    room: str
    available_ns: float | None
    spent_ns: float | None
    margin_ns: float | None
    rated: str
    odds: float | None
    windows: tuple[DelayView, ...]
    delays: tuple[DelayView, ...]
    symptoms: tuple[str, ...]
    advice: str
    source: str
    advisory: bool
    clock: str = ""
    period_ns: float | None = None
    typical_ns: float | None = None

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "id": self.id,
            "title": self.title,
            "room": self.room,
            "clock": self.clock,
            "period_ns": self.period_ns,
            "typical_ns": self.typical_ns,
            "available_ns": self.available_ns,
            "spent_ns": self.spent_ns,
            "margin_ns": self.margin_ns,
            "rated": self.rated,
            "odds": self.odds,
            "available": [line.to_dict() for line in self.windows],
            "delays": [line.to_dict() for line in self.delays],
            "symptoms": list(self.symptoms),
            "advice": self.advice,
            "source": self.source,
            "advisory": self.advisory,
        }


@dataclass(frozen=True, slots=True)
class LimitView:
    """One limit in its own unit."""

    id: str
    title: str
    room: str
    value: float | None
    limit: float | None
    unit: str
    margin: float | None
    rated: str
    odds: float | None
    sense: str
    symptoms: tuple[str, ...]
    advice: str
    source: str
    advisory: bool

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "id": self.id,
            "title": self.title,
            "room": self.room,
            "value": self.value,
            "limit": self.limit,
            "unit": self.unit,
            "margin": self.margin,
            "rated": self.rated,
            "odds": self.odds,
            "sense": self.sense,
            "symptoms": list(self.symptoms),
            "advice": self.advice,
            "source": self.source,
            "advisory": self.advisory,
        }


RuleMargin: TypeAlias = BudgetView | LimitView
"""A rule with a margin."""


@dataclass(frozen=True, slots=True)
class ConflictView:
    """A rule that the settings break, or that every combination of choices breaks."""

    id: str
    title: str
    options: tuple[str, ...]
    advice: str
    source: str

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "id": self.id,
            "title": self.title,
            "options": list(self.options),
            "advice": self.advice,
            "source": self.source,
        }


def relative_margin(rule: RuleMargin) -> float | None:
    """What is left over as a share of what there is; None where either is unknown or there is nothing."""
    if isinstance(rule, BudgetView):
        left, whole = rule.margin_ns, rule.available_ns
    else:
        left, whole = rule.margin, rule.limit
    return left / abs(whole) if left is not None and whole else None


def worst_first(rule: RuleMargin) -> tuple[bool, bool, float, str]:
    """Sorting key: rules that decide before advisory ones, by relative margin, unknown ones last."""
    share = relative_margin(rule)
    return (rule.advisory, share is None, share or 0.0, rule.id)


def budget_view(
    margin: BudgetMargin,
    odds: float | None = None,
    typical: Sequence[Exact | None] = (),
    beat: Beat | None = None,
) -> BudgetView:
    """A budget's margin as plain data.

    Args:
        typical: What each delay usually takes, in picoseconds; may be left out.
        beat: The clock that the available time is told in.
    """
    rule = margin.bound.rule
    usual = typical or [None] * len(margin.delays)
    return BudgetView(
        id=margin.bound.id,
        title=margin.bound.title,
        room=rule.room,
        available_ns=ns(margin.available),
        spent_ns=ns(margin.spent),
        margin_ns=ns(margin.margin),
        rated=margin.verdict,
        odds=odds,
        windows=tuple(map(_delay_view, margin.sources)),
        delays=tuple(_delay_view(line, time) for line, time in zip(margin.delays, usual, strict=True)),
        symptoms=margin.bound.symptoms,
        advice=rule.advice,
        source=rule.provenance.source,
        advisory=rule.advisory,
        clock="" if beat is None else beat.clock,
        period_ns=None if beat is None else ns(beat.period),
        typical_ns=ns(_sum(usual)),
    )


def limit_view(margin: LimitMargin, odds: float | None = None) -> LimitView:
    """A limit's margin as plain data."""
    rule = margin.bound.rule
    return LimitView(
        id=margin.bound.id,
        title=margin.bound.title,
        room=rule.room,
        value=_in(margin.value, rule.unit),
        limit=_in(margin.rating, rule.unit),
        unit=rule.unit,
        margin=_in(margin.margin, rule.unit),
        rated=margin.verdict,
        odds=odds,
        sense=rule.sense,
        symptoms=margin.bound.symptoms,
        advice=rule.advice,
        source=margin.source,
        advisory=rule.advisory,
    )


def conflict_views(found: Margins) -> tuple[ConflictView, ...]:
    """The broken logic rules."""
    return tuple(conflict_view(broken.bound) for broken in found.broken if broken.known)


def conflict_view(bound: Bound[Budget] | Bound[Limit] | Bound[LogicRule]) -> ConflictView:
    """A broken rule as plain data."""
    rule = bound.rule
    return ConflictView(bound.id, bound.title, bound.scope, rule.advice, rule.provenance.source)


def _sum(times: Sequence[Exact | None]) -> Exact | None:
    """All of *times* together; None where one is unknown."""
    known = [time for time in times if time is not None]
    return sum(known, 0) if len(known) == len(times) else None


def _delay_view(line: Delay, typical: Exact | None = None) -> DelayView:
    return DelayView(line.name, line.part, ns(line.time), line.source, ns(typical))


def _in(number: Exact | None, unit: str) -> float | None:
    return None if number is None else display(number, unit, 3)
