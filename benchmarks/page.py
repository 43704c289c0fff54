"""How quickly the page answers, beside the api alone, and whether it grows.

    python benchmarks/page.py [--runs N] [--changes N] [--machine MACHINE]

Serves a machine (by default the packed one with the most rules) as ``waitwright page`` does, in a process
of its own.  Asks each page once, so that its answer is there, then N times, and prints the median with its
ratio to the time that the api takes for the same answer.  Then asks N what-ifs, one changed choice after
another, each for the first time, and prints the median, the ratio to ``why``, and the memory of the server
along the way.  This is a report: it fails only if a page does.
"""

from __future__ import annotations

import argparse
import itertools
import json
import random
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

import httpx

from waitwright._resources import packed_names
from waitwright.api.check import check
from waitwright.api.controls import controls
from waitwright.api.logbook import logbook
from waitwright.api.next_trial import next_trial
from waitwright.api.opening import Question
from waitwright.api.rank import Wish, rank
from waitwright.api.suspect import suspect
from waitwright.api.why import why

GOAL_MS = 150
"""What half of all views should stay below, after the first."""


def largest() -> str:
    """The packed machine with the most rules."""
    return max(packed_names("machines"), key=lambda name: len(check(Question(name), hours=None).rules))


def views(question: Question, rule: str) -> dict[str, Callable[[], object]]:
    """Address of each page, and the api's part of it."""
    now = datetime.now().astimezone()
    return {
        "/": lambda: (check(question), logbook(question)),
        "/trial": lambda: next_trial(question, now=now, keep=False),
        "/margins": lambda: check(question),
        f"/margin?rule={rule}": lambda: check(question),
        "/why": lambda: (why(question), controls(question)),
        "/fastest": lambda: rank(question, Wish(curve=True)),
        "/suspects": lambda: (suspect(question), logbook(question)),
        "/logbook": lambda: logbook(question),
    }


def milliseconds(work: Callable[[], object]) -> float:
    """Wall time of one call."""
    started = time.perf_counter()
    work()
    return 1000 * (time.perf_counter() - started)


def memory_mb(process: int) -> float | None:
    """What the process holds in memory; None where the system does not tell."""
    try:
        status = Path(f"/proc/{process}/status").read_text("utf-8")
    except OSError:
        return None
    return next(int(line.split()[1]) / 1024 for line in status.splitlines() if line.startswith("VmRSS"))


def changes(question: Question, count: int) -> Iterator[dict[str, list[str]]]:
    """Combinations, each with some choices of the one before changed; none comes twice."""
    here = controls(question)
    chance = random.Random(1)  # noqa: S311 -- no secret
    seen: set[tuple[tuple[str, str], ...]] = set()
    chosen = {option.option: option.current for option in here.options}
    while len(seen) < count:
        option = chance.choice(here.options)
        chosen[option.option] = chance.choice(option.choices).id
        if len(seen) % 5 == 0:  # back to what stands, or all would be far off
            chosen = {one.option: one.current for one in here.options}
            chosen[option.option] = chance.choice(option.choices).id
            other = chance.choice(here.options)
            chosen[other.option] = chance.choice(other.choices).id
        key = tuple(sorted(chosen.items()))
        if key not in seen:
            seen.add(key)
            yield {"set": [f"{name}={choice}" for name, choice in chosen.items()], "wait": ["1"]}


def tell_views(client: httpx.Client, question: Question, runs: int) -> None:
    """Each page after the first time."""
    rule = next(rule.id for rule in check(question, hours=None).budgets)
    print(f"{'page':<44}{'ms':>7}{'api ms':>9}{'ratio':>8}{'goal':>7}   median of {runs}")
    for path, work in views(question, rule).items():

        def ask(path: str = path) -> None:
            client.get(path, params=dict(httpx.URL(path).params) | {"wait": "1"}).raise_for_status()

        ask()
        page = statistics.median(milliseconds(ask) for _ in range(runs))
        alone = statistics.median(milliseconds(work) for _ in range(3))
        print(f"{path:<44}{page:>7.1f}{alone:>9.1f}{page / alone:>8.2f}{GOAL_MS:>7}")


def tell_changes(client: httpx.Client, question: Question, count: int, process: int) -> None:
    """One what-if after another, and the memory along the way."""
    times, ratios = [], []
    for number, given in enumerate(itertools.islice(changes(question, count), count), start=1):
        times.append(milliseconds(lambda given=given: client.get("/why", params=given).raise_for_status()))  # type: ignore[misc]
        if number % 10 == 0:
            asked = Question(question.machine, sets=tuple(given["set"]))
            ratios.append(times[-1] / milliseconds(lambda asked=asked: why(asked)))  # type: ignore[misc]
        if number == 1 or number % max(1, count // 5) == 0:
            held = memory_mb(process)
            shown = "unknown" if held is None else f"{held:.0f} MB"
            print(f"what-if {number:>4}: median {statistics.median(times):.0f} ms, server holds {shown}")
    print(f"ratio to the api: {statistics.median(ratios):.2f}")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="How quickly the page answers, and whether it grows.")
    parser.add_argument("--runs", type=int, default=15)
    parser.add_argument("--changes", type=int, default=200)
    parser.add_argument("--machine", default=None)
    wanted = parser.parse_args()
    question = Question(wanted.machine or largest())
    server = subprocess.Popen(
        [sys.executable, "-m", "waitwright", "page", question.machine, "--json"],
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        url = json.loads(server.stdout.readline() if server.stdout else "")["url"]
        print(f"{question.machine}: {len(check(question, hours=None).rules)} rules")
        with httpx.Client(base_url=url, timeout=120, follow_redirects=True) as client:
            for _ in range(100):
                try:
                    client.get("/bench.css")
                    break
                except httpx.TransportError:
                    time.sleep(0.1)
            tell_views(client, question, wanted.runs)
            tell_changes(client, question, wanted.changes, server.pid)
    finally:
        server.terminate()
        server.wait(20)


if __name__ == "__main__":
    main()
