"""One combination judged: every margin with its odds, as views."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from waitwright.api.opening import Bench
from waitwright.belief.latents import latents_of
from waitwright.belief.typical import typical_delays
from waitwright.ids import Settings
from waitwright.machine import FactTable
from waitwright.report.margin_view import (
    BudgetView,
    ConflictView,
    LimitView,
    RuleMargin,
    budget_view,
    conflict_views,
    limit_view,
)
from waitwright.timing.beat import beat_of
from waitwright.timing.margins import BudgetMargin, LimitMargin, Margins, margins

if TYPE_CHECKING:  # numpy comes with it, and verdicts by data sheet need none
    from waitwright.belief.cloud import Cloud
    from waitwright.belief.outlook import Outlook


@dataclass(frozen=True, slots=True)
class Judgement:
    """What the rules say of one combination.

    Attributes:
        margins: The exact margins behind the views.
        odds: Odds that all of it holds through the soak test; None where only data sheets were asked.
        cloud: The draws behind the odds.
    """

    margins: Margins
    budgets: tuple[BudgetView, ...]
    limits: tuple[LimitView, ...]
    conflicts: tuple[ConflictView, ...]
    odds: float | None
    cloud: Cloud | None

    @property
    def rules(self) -> tuple[RuleMargin, ...]:
        """Every budget and limit."""
        return (*self.budgets, *self.limits)


def judge(bench: Bench, *, seed: int, hours: float | None) -> Judgement:
    """Margins of the settings on the bench, with odds for a soak test of *hours* unless that is None."""
    found = margins(bench.machine, bench.rules, bench.settings)
    alone: Mapping[str, float] = {}
    whole, cloud = None, None
    if hours is not None:
        from waitwright.belief.outlook import outlook

        view = outlook(bench.machine, bench.rules, seed=seed, hours=hours, only=bench.settings)
        alone, whole = view.rule_odds(bench.settings), overall_odds(view, found, bench.settings)
        cloud = view.cloud
    return Judgement(
        margins=found,
        budgets=_budget_views(bench, found, alone),
        limits=tuple(limit_view(margin, _odds(alone, margin)) for margin in found.limits),
        conflicts=conflict_views(found),
        odds=whole,
        cloud=cloud,
    )


def _budget_views(bench: Bench, found: Margins, alone: Mapping[str, float]) -> tuple[BudgetView, ...]:
    facts, latents = FactTable(bench.machine, bench.settings), latents_of(bench.machine)
    return tuple(
        budget_view(
            margin,
            _odds(alone, margin),
            typical_delays(bench.machine, margin.bound, facts, latents),
            beat_of(bench.machine, margin.bound, facts),
        )
        for margin in found.budgets
    )


def overall_odds(view: Outlook, found: Margins, settings: Settings) -> float:
    """Odds of a combination; zero where a logic rule rules it out."""
    return 0.0 if any(one.known for one in found.broken) else round(view.odds(settings), 6)


def _odds(odds: Mapping[str, float], margin: BudgetMargin | LimitMargin) -> float | None:
    """Odds of one rule; None where it is unchecked or decides nothing."""
    value = odds.get(margin.bound.id)
    return None if value is None or margin.verdict == "unchecked" else round(value, 6)
