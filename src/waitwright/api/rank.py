"""``rank``: the fastest combinations that should hold, with the reasons."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from time import perf_counter

from waitwright.api.check import cautions
from waitwright.api.opening import Question, find_workload, put_on_bench
from waitwright.errors import UsageError
from waitwright.explain.reasons import Change, Reasoner, change_sentence, kept_sentence
from waitwright.ids import OptionId
from waitwright.machine import FactTable, Machine
from waitwright.report.margin_view import ns
from waitwright.report.views import ChangeView, RankView, ResultView, SpaceView, TightView
from waitwright.schema.nearest import did_you_mean
from waitwright.search.bestfirst import Combination, SearchObserver
from waitwright.search.compile import choice_numbers, compile_rated, settings_of
from waitwright.search.compile import held as held_variables
from waitwright.search.topk import Ranking, fastest, hold
from waitwright.timing.margins import margins
from waitwright.workload.gain import gain, total_cost
from waitwright.workload.model import event_tables


def rank(
    question: Question,
    *,
    odds: float = 0.9,
    rated: bool = False,
    top: int = 5,
    workload: str | None = None,
    fix: Sequence[str] = (),
    observer: SearchObserver | None = None,
) -> RankView:
    """The *top* fastest combinations.

    Args:
        rated: Judge by data-sheet maxima only.
        fix: Options that must keep their present choice (or the one that ``question.sets`` gives them).

    Raises:
        InputError: if machine, rules or wishes are faulty.
    """
    started = perf_counter()
    bench = put_on_bench(question)
    machine = replace(bench.machine, current=bench.settings)
    work = find_workload(machine.rulebook, workload)
    events = event_tables(machine, work)
    problem = compile_rated(machine, bench.rules, events)
    problem = hold(problem, held_variables(machine, machine.current, _options(machine, fix)))
    ranking = fastest(problem, count=top, odds=odds, observer=observer)
    reasoner = Reasoner(machine, bench.rules, events)
    baseline = total_cost(machine, events, machine.current)
    facts = FactTable(machine, machine.current)
    return RankView(
        machine=machine.name,
        title=machine.title,
        workload=work.id,
        rated=rated,
        wanted_odds=None if rated else odds,
        space=_space(problem.raw_size, ranking),
        baseline_settings=dict(machine.current),
        baseline_odds=None,
        baseline_stands=margins(machine, bench.rules, machine.current).stands,
        results=tuple(_result(machine, reasoner, one, baseline, odds=None) for one in ranking.best),
        verdict=_verdict(ranking, top),
        bound_gain=None if ranking.proven or not ranking.bound else gain(baseline, ranking.bound),
        cautions=cautions(machine, facts, "rank"),
        elapsed_s=round(perf_counter() - started, 3),
    )


def _result(
    machine: Machine, reasoner: Reasoner, found: Combination, baseline: int, odds: float | None
) -> ResultView:
    settings = settings_of(machine, found.values)
    return ResultView(
        settings=dict(settings),
        changes=tuple(map(change_view, reasoner.changes(settings))),
        gain=round(gain(baseline, found.cost), 6),
        odds=odds,
        tightest=tuple(
            TightView(m.bound.id, m.bound.title, ns(m.margin) or 0.0) for m in reasoner.tightest(settings)
        ),
        reasons=tuple(map(kept_sentence, reasoner.kept(settings))),
    )


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


def _options(machine: Machine, names: Sequence[str]) -> list[OptionId]:
    known = {str(option.id): option.id for option in machine.options}
    for name in names:
        if name not in known:
            hint = did_you_mean(name, known)
            raise UsageError(f"--fix {name}: no such option" + (f"; {hint}" if hint else ""))
    return [known[name] for name in names]


def _space(raw: int, ranking: Ranking) -> SpaceView:
    return SpaceView(raw, None, ranking.groups, ranking.effort.conditions)


def _verdict(ranking: Ranking, top: int) -> str:
    if not ranking.proven:
        return "unknown"
    if not ranking.best:
        return "none"
    return "complete" if len(ranking.best) == top else "all"
