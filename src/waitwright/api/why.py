"""``why``: the ledger of everything that is short or tight for one combination."""

from __future__ import annotations

from waitwright.api.check import cautions
from waitwright.api.opening import Question, find_workload, put_on_bench
from waitwright.api.rank import change_view
from waitwright.explain.reasons import Reasoner
from waitwright.machine import FactTable
from waitwright.report.margin_view import BudgetView, LimitView, budget_view, conflict_views, limit_view
from waitwright.report.views import WhyView
from waitwright.timing.margins import margins
from waitwright.workload.gain import Pricer
from waitwright.workload.model import event_tables


def why(question: Question) -> WhyView:
    """Every budget and limit that falls short or is tight under the asked settings, and broken logic rules.

    Raises:
        InputError: if machine, rules or wishes are faulty.
    """
    bench = put_on_bench(question)
    machine = bench.machine
    found = margins(machine, bench.rules, bench.settings)
    pricer = Pricer(machine, event_tables(machine, find_workload(machine.rulebook, None)))
    rules: list[BudgetView | LimitView] = [
        *map(budget_view, found.budgets),
        *map(limit_view, found.limits),
    ]
    return WhyView(
        machine=machine.name,
        title=machine.title,
        settings=dict(bench.settings),
        changes=tuple(map(change_view, Reasoner(machine, bench.rules, pricer).changes(bench.settings))),
        odds=None,
        short=tuple(sorted((r for r in rules if r.rated == "falls short"), key=_by_share)),
        tight=tuple(sorted((r for r in rules if r.rated == "tight"), key=_by_share)),
        conflicts=conflict_views(found),
        unchecked=tuple(r.id for r in rules if r.rated == "unchecked"),
        stands=found.stands,
        symptoms=found.symptoms,
        cautions=cautions(machine, FactTable(machine, bench.settings), "why"),
    )


def _by_share(rule: BudgetView | LimitView) -> tuple[bool, float, str]:
    """Deciding rules first, then by margin over what is available, worst first."""
    if isinstance(rule, BudgetView):
        share = (rule.margin_ns or 0.0) / (rule.available_ns or 1.0)
    else:
        share = (rule.margin or 0.0) / (rule.limit or 1.0)
    return (rule.advisory, share, rule.id)
