"""``rank``: the fastest combinations that should hold, with the reasons."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from time import perf_counter

from waitwright.api.check import cautions, plain
from waitwright.api.judging import overall_odds
from waitwright.api.opening import Question, find_workload, logbook_of, put_on_bench
from waitwright.api.results import ResultTeller
from waitwright.api.scoring import own_calibration, pricing
from waitwright.belief.outlook import Outlook, outlook
from waitwright.errors import UsageError
from waitwright.explain.incurable import incurable
from waitwright.explain.reasons import Reasoner
from waitwright.ids import OptionId, Settings
from waitwright.machine import FactTable, Machine
from waitwright.nearest import hint_behind
from waitwright.report.margin_view import conflict_view
from waitwright.report.views import RankView, SpaceView
from waitwright.search.bestfirst import Combination, SearchObserver
from waitwright.search.compile import choice_numbers, compile_likely, compile_rated, settings_of
from waitwright.search.compile import held as held_variables
from waitwright.search.enumerate import CallBudget
from waitwright.search.feasible import Feasibility
from waitwright.search.problem import Problem
from waitwright.search.topk import DEFAULT_BUDGET, Ranking, fastest, frontier, hold
from waitwright.search.worthwhile import beats, worthwhile
from waitwright.timing.bind import BoundRules
from waitwright.timing.margins import broken, margins
from waitwright.timing.soak import DEFAULT_SOAK_HOURS
from waitwright.workload.concession import WORTH, Concessions
from waitwright.workload.gain import Pricer, gain
from waitwright.workload.model import EventTable

APART = 0.001
"""Speeds closer than this share count as one; nobody would notice the difference."""

_COUNTING = 200_000
"""Work that counting the legal combinations may take."""

LEAST_CURVE_ODDS = 0.05
"""Where the trade-off curve begins: below, a trial is not worth its evening."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What a ranking should be like.

    Attributes:
        odds: Least odds of passing the soak test.
        rated: Judge by data-sheet limits only.
        top: How many combinations.
        workload: What the machine is to be fast at; None for the default.
        fix: Options that must keep their present choice (or the one that the question's ``sets`` gives).
        hours: Length of the soak test.
        curve: Also answer, for each level of odds, the fastest combination.
        apart: Speeds closer than this share are listed once, as the combination with the better odds
            and fewer changes; 0 tells apart whatever differs at all.
        every: List every speed that differs at all, also of combinations that a faster one beats in odds
            and in number of changes.
        budget: Work that the search may use before it answers "unknown".
    """

    odds: float = 0.9
    rated: bool = False
    top: int = 5
    workload: str | None = None
    fix: tuple[str, ...] = ()
    hours: float = DEFAULT_SOAK_HOURS
    curve: bool = False
    apart: float = APART
    every: bool = False
    budget: int = DEFAULT_BUDGET


def rank(question: Question, wish: Wish | None = None, observer: SearchObserver | None = None) -> RankView:
    """The fastest combinations as *wish* wants them.

    Raises:
        InputError: if machine, rules or wishes are faulty.
    """
    started = perf_counter()
    wish = wish or Wish()
    bench = put_on_bench(question)
    machine = replace(bench.machine, current=bench.settings)
    work = find_workload(machine.rulebook, wish.workload)
    calibration = own_calibration(logbook_of(question.machine), machine, work)
    events = pricing(work, calibration)(machine)
    view = None if wish.rated else outlook(machine, bench.rules, seed=question.seed, hours=wish.hours)
    problem = _problem(machine, bench.rules, events, view, wish)
    pricer = Pricer(machine, events)
    baseline = pricer.total(machine.current)
    ranking = (fastest if wish.every else worthwhile)(
        problem,
        count=wish.top,
        odds=wish.odds,
        apart=1 if wish.every else max(1, int(baseline * wish.apart)),
        budget=wish.budget,
        observer=observer,
    )
    best = ranking.best
    if not wish.every:
        best = _unconceded(best, machine, bench.rules, Concessions(machine, events), pricer, view, wish.odds)
    curve = _curve(problem, wish, observer) if wish.curve and view is not None else None
    teller = ResultTeller(machine, Reasoner(machine, bench.rules, pricer, view, wish.odds), baseline, view)
    found = margins(machine, bench.rules, machine.current)
    barred = () if ranking.best else incurable(machine, bench.rules, rated=wish.rated)
    return RankView(
        machine=machine.name,
        title=machine.title,
        workload=work.id,
        rated=wish.rated,
        wanted_odds=None if wish.rated else wish.odds,
        space=_space(problem, ranking),
        baseline_settings=plain(machine.current),
        baseline_odds=None if view is None else overall_odds(view, found, bench.settings),
        baseline_stands=found.stands,
        results=tuple(map(teller.result, best)),
        verdict=_verdict(ranking, wish.top),
        bound_gain=None if ranking.proven or not ranking.bound else gain(baseline, ranking.bound),
        cautions=cautions(machine, FactTable(machine, machine.current), "rank"),
        elapsed_s=round(perf_counter() - started, 3),
        hours=None if wish.rated else wish.hours,
        listing="every speed" if wish.every else "worthwhile",
        apart=0.0 if wish.every else wish.apart,
        curve=() if curve is None else tuple(map(teller.point, curve.best)),
        curve_complete=curve is None or curve.proven,
        own_scores=0 if calibration is None else calibration.describe().runs,
        incurable=tuple(map(conflict_view, barred)),
    )


def _space(problem: Problem, ranking: Ranking) -> SpaceView:
    legal = Feasibility(problem, CallBudget(_COUNTING)).count()
    return SpaceView(problem.raw_size, legal, ranking.groups, ranking.effort.conditions)


def _problem(
    machine: Machine,
    rules: BoundRules,
    events: Sequence[EventTable],
    view: Outlook | None,
    wish: Wish,
) -> Problem:
    if view is None:
        problem = compile_rated(machine, rules, events)
    else:
        problem = compile_likely(machine, rules, events, view.tables, view.cloud)
    return hold(problem, held_variables(machine, machine.current, _options(machine, wish.fix)))


def _unconceded(
    found: Sequence[Combination],
    machine: Machine,
    rules: BoundRules,
    concessions: Concessions,
    pricer: Pricer,
    view: Outlook | None,
    wanted: float,
) -> tuple[Combination, ...]:
    """*found* without concessions that the *wanted* odds do not need and that bring next to none."""
    listed: list[Combination] = []
    for one in found:
        least = max(wanted, one.odds - WORTH)

        def bearable(wish: Settings, least: float = least) -> bool:
            if view is None:
                return margins(machine, rules, wish).stands
            return view.odds(wish) >= least and not list(broken(rules.logic, FactTable(machine, wish)))

        settings = settings_of(machine, one.values)
        kept = concessions.withdrawn(settings, bearable)
        changes = sum(kept[option] != choice for option, choice in machine.current.items())
        odds = one.odds if view is None or kept == settings else view.odds(kept)
        rest = Combination(choice_numbers(machine, kept), pricer.total(kept), odds, changes)
        if not any(beats(other, rest.cost, rest.odds, rest.changes) for other in listed):
            listed.append(rest)
    return tuple(listed)


def _curve(problem: Problem, wish: Wish, observer: SearchObserver | None) -> Ranking:
    """For each level of odds the fastest combination, from the fastest up to the safest."""
    return frontier(problem, least_odds=LEAST_CURVE_ODDS, budget=wish.budget, observer=observer)


def _options(machine: Machine, names: Sequence[str]) -> list[OptionId]:
    known = {str(option.id): option.id for option in machine.options}
    for name in names:
        if name not in known:
            raise UsageError(f"--fix {name}: no such option{hint_behind(name, known)}")
    return [known[name] for name in names]


def _verdict(ranking: Ranking, top: int) -> str:
    if not ranking.proven:
        return "unknown"
    if not ranking.best:
        return "none"
    return "complete" if len(ranking.best) == top else "all"
