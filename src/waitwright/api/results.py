"""Proposed combinations as views, with everything that explains them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from waitwright.api.check import plain
from waitwright.belief.outlook import Outlook
from waitwright.explain.reasons import Change, MarginOf, Reasoner
from waitwright.explain.sentences import change_sentence, kept_sentence
from waitwright.machine import Machine
from waitwright.report.views import ChangeView, ResultView, TightView
from waitwright.search.bestfirst import Combination
from waitwright.search.compile import settings_of
from waitwright.timing.margins import BudgetMargin
from waitwright.units import display
from waitwright.workload.gain import gain


@dataclass(frozen=True, slots=True)
class ResultTeller:
    """Turns combinations of one machine into views.

    Attributes:
        baseline: Picoseconds per 1000 instructions under the settings now.
        outlook: Belief that the odds come from; None where data-sheet limits alone judge.
    """

    machine: Machine
    reasoner: Reasoner
    baseline: int
    outlook: Outlook | None

    def result(self, found: Combination) -> ResultView:
        """A combination with everything that explains it."""
        settings = settings_of(self.machine, found.values)
        odds = {} if self.outlook is None else self.outlook.rule_odds(settings)
        return replace(
            self.point(found),
            changes=tuple(map(change_view, self.reasoner.changes(settings))),
            tightest=tuple(
                tight_view(margin, odds.get(margin.bound.id)) for margin in self.reasoner.tightest(settings)
            ),
            reasons=tuple(map(kept_sentence, self.reasoner.kept(settings))),
        )

    def point(self, found: Combination) -> ResultView:
        """A combination without its explanation, for the curve."""
        return ResultView(
            settings=plain(settings_of(self.machine, found.values)),
            changes=(),
            gain=round(gain(self.baseline, found.cost), 6),
            odds=None if self.outlook is None else round(found.odds, 6),
            tightest=(),
            reasons=(),
        )


def tight_view(margin: MarginOf, odds: float | None) -> TightView:
    """A rule that is near to failing as plain data."""
    unit = "ns" if isinstance(margin, BudgetMargin) else margin.bound.rule.unit
    left = 0.0 if margin.margin is None else display(margin.margin, unit, 2 if unit == "ns" else 3)
    return TightView(margin.bound.id, margin.bound.title, left, unit, odds)


def change_view(change: Change) -> ChangeView:
    """One changed option as plain data, with its reason in words."""
    return ChangeView(
        option=change.option.id,
        origin=change.origin.id,
        goal=change.goal.id,
        label=change.option.label,
        origin_label=change.origin.label,
        goal_label=change.goal.label,
        kind=change.option.kind,
        share=round(change.share, 6),
        reason=change_sentence(change),
    )
