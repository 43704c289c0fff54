"""Speed and memory of the exact search, beside two other solvers in the same run.

    python benchmarks/search.py [--seconds S] [--runs N]

Prints five tables.  Exact top 20 at odds of 0.9 on the packed machines, in process and as a whole command,
with peak memory, against the goals.  The same top 20 by cost alone (rated) beside an integer optimiser that
is asked again and again.  The largest part of a machine that the constraint library finishes within S
seconds when it is given everything at once, without groups.  Growth of time and work with the number of
options, without and with odds.  All costs are checked to agree.  Takes some ten minutes; this is a report:
it fails only if answers differ.  Needs the checkout, and ortools for the second table.
"""

from __future__ import annotations

import argparse
import importlib.util
import multiprocessing
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TypeVar

import numpy as np

from waitwright.api.opening import Question, find_workload, put_on_bench
from waitwright.belief.outlook import outlook
from waitwright.search.compile import compile_likely, compile_rated
from waitwright.search.problem import Problem, Survival
from waitwright.search.topk import Ranking, fastest, frontier, hold
from waitwright.workload.model import event_tables

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.search.peers import Optimiser, flat_search
from tests.search.synthetic import synthetic

MACHINES = ("tollgate-486dx2", "tollgate-386dx33")
TOP, ODDS = 20, 0.9
GOALS = {"in process": 0.5, "command": 1.5, "MB": 300.0}

GROWTH_BUDGET = 300_000
"""Work after which a search of the last table gives up.  Risks in every group make the problem a hard one."""

T = TypeVar("T")


@dataclass(frozen=True)
class Prepared:
    """A machine's two problems."""

    rated: Problem
    likely: Problem


def prepared(name: str) -> Prepared:
    """Load a packed machine, lay out its tables and draw its cloud."""
    bench = put_on_bench(Question(name))
    machine = replace(bench.machine, current=bench.settings)
    events = event_tables(machine, find_workload(machine.rulebook, None))
    view = outlook(machine, bench.rules)
    return Prepared(
        compile_rated(machine, bench.rules, events),
        compile_likely(machine, bench.rules, events, view.tables, view.cloud),
    )


def timed(task: Callable[[], T], runs: int = 1) -> tuple[float, T]:
    """Median seconds of *runs* runs, and what the last one gave."""
    seconds = []
    for _ in range(runs):
        started = time.perf_counter()
        answer = task()
        seconds.append(time.perf_counter() - started)
    return statistics.median(seconds), answer


def command(words: Sequence[str]) -> tuple[float, float]:
    """Seconds and peak megabytes of one whole process."""
    started = time.perf_counter()
    process = subprocess.Popen([sys.executable, "-m", "waitwright", *words], stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"waitwright {' '.join(words)}: exit code {process.returncode}")
    per_megabyte = 1024**2 if sys.platform == "darwin" else 1024
    return time.perf_counter() - started, used.ru_maxrss / per_megabyte


def verdict(value: float, goal: float) -> str:
    """A goal, and whether it is met."""
    return f"{goal:g} {'met' if value <= goal else 'missed'}"


def costs(ranking: Ranking) -> list[int]:
    """Costs of a proven ranking."""
    if not ranking.proven:
        raise SystemExit("the search gave up")
    return [one.cost for one in ranking.best]


def agree(ours: Sequence[int], theirs: Sequence[int]) -> None:
    """End with an error if two solvers differ."""
    if list(ours) != list(theirs):
        raise SystemExit(f"answers differ: {list(ours)} and {list(theirs)}")


# ------------------------------------------------------------------------------------------ tables


def packed_machines(runs: int) -> None:
    """Exact top 20 at odds of 0.9: steps in process, whole commands, memory."""
    print(f"Exact top {TOP} at odds of {ODDS}, seconds, median of {runs}")
    print(f"  {'':<18}{'combinations':>13}{'load':>7}{'search':>8}{'curve':>7}   in process   goal")
    for name in MACHINES:
        prepared(name)  # once: rules are read and kept
        loading, ready = timed(partial(prepared, name), runs)
        searching, ranking = timed(partial(fastest, ready.likely, count=TOP, odds=ODDS), runs)
        costs(ranking)
        curve, _ = timed(partial(frontier, ready.likely, least_odds=0.05), runs)
        whole = loading + searching
        print(
            f"  {name:<18}{ready.likely.raw_size:>13.1e}{loading:>7.2f}{searching:>8.2f}{curve:>7.2f}"
            f"{whole:>13.2f}   {verdict(whole, GOALS['in process'])}"
        )
    print(f"\n  {'command':<46}{'s':>6}   goal       {'MB':>5}   goal")
    for name in MACHINES:
        words = ["rank", name, "--odds", str(ODDS), "--top", str(TOP), "--json"]
        results = [command(words) for _ in range(runs)]
        seconds, peak = statistics.median(one[0] for one in results), max(one[1] for one in results)
        print(
            f"  {' '.join(words):<46.46}{seconds:>6.2f}   {verdict(seconds, GOALS['command']):<10} "
            f"{peak:>5.0f}   {verdict(peak, GOALS['MB'])}"
        )


def beside_optimiser(rated: Mapping[str, Problem], runs: int) -> None:
    """Rated top 20 by cost alone."""
    print(f"\nTop {TOP} by cost alone (rated), seconds")
    if importlib.util.find_spec("ortools") is None:
        print("  ortools is not installed: no integer optimiser to compare with")
        return
    print(f"  {'':<18}{'waitwright':>11}{'optimiser':>11}{'ratio':>8}")
    for name, problem in rated.items():
        ours, ranking = timed(partial(fastest, problem, count=TOP), runs)
        theirs, found = timed(partial(optimum, problem))
        agree(costs(ranking), found)
        print(f"  {name:<18}{ours:>11.3f}{theirs:>11.2f}{theirs / ours:>8.0f}")


def optimum(problem: Problem) -> list[int]:
    """What the integer optimiser finds, its model's making included."""
    return Optimiser(problem).costs(TOP)


def beside_flat_search(rated: Mapping[str, Problem], limit: float) -> None:
    """One problem with all constraints, more and more options free, until the time is up."""
    print(f"\nThe constraint library by itself, all constraints at once, up to {limit:g} s")
    print(f"  {'':<18}{'free options':>13}{'combinations':>13}{'waitwright':>11}{'flat':>8}{'ratio':>8}")
    for name, problem in rated.items():
        last = "  none was finished"
        for free in range(6, len(problem.variables) + 1):
            part = hold(
                problem, {v: problem.variables[v].current for v in range(free, len(problem.variables))}
            )
            seconds = flat_seconds(part, limit)
            if seconds is None:
                break
            raw = int(np.prod([variable.size for variable in problem.variables[:free]]))
            ours, _ = timed(partial(fastest, part, count=TOP), 3)
            last = f"  {name:<18}{free:>13}{raw:>13.1e}{ours:>11.3f}{seconds:>8.2f}{seconds / ours:>8.0f}"
        print(last)


def flat_seconds(problem: Problem, limit: float) -> float | None:
    """Seconds of the flat search in a process of its own; None if it takes longer than *limit*."""
    context = multiprocessing.get_context("spawn")
    answers: multiprocessing.Queue[tuple[float, list[int]]] = context.Queue()
    process = context.Process(target=_flat, args=(problem, answers))
    process.start()
    try:
        seconds, found = answers.get(timeout=limit + 2)  # a process needs a moment to start
    except Exception as error:  # queue.Empty, which multiprocessing does not name
        if type(error).__name__ != "Empty":
            raise
        return None
    finally:
        process.terminate()
        process.join()
    agree(costs(fastest(problem, count=TOP)), found)
    return seconds if seconds <= limit else None


def _flat(problem: Problem, answers: multiprocessing.Queue[tuple[float, list[int]]]) -> None:
    seconds, found = timed(partial(flat_search, problem))
    answers.put((seconds, sorted(set(found))[:TOP]))


def growth() -> None:
    """More and more small groups under two options that touch everything."""
    print(f"\nGrowth with the number of options: groups of four, top {TOP}, seconds and nodes")
    heads = ("rated", "odds, risk in 4 groups", "odds, risk in all")
    print(f"  {'options':<9}{'combinations':>13}" + "".join(f"{head:>25}" for head in heads))
    for options in (10, 20, 40, 80):
        problem = synthetic(options, group=4)
        line = f"  {options:<9}{problem.raw_size:>13.1e}"
        for kind in (problem, risky(problem, 4), risky(problem, options)):
            task = partial(fastest, kind, count=TOP, odds=ODDS, budget=GROWTH_BUDGET)
            seconds, ranking = timed(task)
            nodes = str(ranking.effort.nodes) if ranking.proven else "gave up"
            line += f"{seconds:>16.3f}{nodes:>9}"
        print(line)


def risky(problem: Problem, groups: int, draws: int = 2048) -> Problem:
    """*problem* with a risk in some groups: the three cheapest ways of one table survive some draws only."""
    rng = np.random.default_rng(1)
    common = rng.standard_normal(draws)
    survivals = []
    for cost in problem.costs[::4][:groups]:
        means = cost.values.mean(axis=0)
        order = means.ravel().argsort().argsort().reshape(means.shape)
        own = 0.8 * common + 0.6 * rng.standard_normal(draws)
        margins = np.array([-1.5, 0.9, 1.6])[:, None] + 0.5 * own
        rows = np.vstack([np.ones(draws), 1 / (1 + np.exp(-6 * margins))]).astype(np.float32)
        used = np.where(order < 3, order + 1, 0).astype(np.int32)
        survivals.append(Survival(f"risk-{cost.id}", cost.scope[1:], used, rows))
    return replace(problem, survivals=tuple(survivals), weights=np.full(draws, 1 / draws))


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Speed and memory of the exact search.")
    parser.add_argument("--seconds", type=float, default=60.0, help="how long the flat search may take")
    parser.add_argument("--runs", type=int, default=5)
    wanted = parser.parse_args()
    packed_machines(wanted.runs)
    rated = {name: prepared(name).rated for name in MACHINES}
    beside_optimiser(rated, wanted.runs)
    beside_flat_search(rated, wanted.seconds)
    growth()


if __name__ == "__main__":
    main()
