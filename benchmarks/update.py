"""How long belief takes to take in a full logbook.

    python benchmarks/update.py [--trials N] [--machine MACHINE]

Makes up N trials of a packed machine (bold and cautious ones, passed and failed, every fifth with a
reading), then times belief from nothing to all of them.  Goal: 40 trials in less than 2 s on an idle
two-core machine of the year 2020 or later.  A report: it fails only if belief does.
"""

from __future__ import annotations

import argparse
import time
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from random import Random

from waitwright.api.opening import Question, put_on_bench
from waitwright.trials.ground import Ground
from waitwright.trials.logbook import Logbook, Reading, add
from waitwright.trials.shortlist import Shortlist
from waitwright.trials.standing import standing


def made_up(machine: str, trials: int) -> float:
    """Seconds of belief in so many made-up trials of *machine*."""
    bench = put_on_bench(Question(machine))
    near = Shortlist(Ground(bench.machine, bench.rules), (), hours=4.0).near(bench.machine.current)
    random = Random(3)  # noqa: S311 - a benchmark keeps no secret
    start = datetime(2000, 1, 1, tzinfo=UTC)
    logbook = Logbook(machine)
    for number in range(trials):
        failed = random.random() < 0.3
        ripple = Reading("cpu-ripple", (Fraction(random.randint(30, 120), 1000),), "mV", str(number))
        logbook = add(
            logbook,
            time=start + timedelta(hours=number),
            settings=random.choice(near),
            outcome="failed" if failed else "stable",
            symptoms=("hang",) if failed else (),
            hours=1 if failed else 4,
            readings=(ripple,) if number % 5 == 4 else (),
        )
    started = time.perf_counter()
    standing(Ground(bench.machine, bench.rules), logbook, hours=4.0)
    return time.perf_counter() - started


def main() -> None:
    """Print the time for each machine asked for."""
    parser = argparse.ArgumentParser(description="How long belief takes to take in a full logbook.")
    parser.add_argument("--trials", type=int, default=40)
    parser.add_argument("--machine", action="append")
    asked = parser.parse_args()
    for machine in asked.machine or ("tollgate-386dx33", "tollgate-486dx2"):
        print(f"{machine}: {asked.trials} trials in {made_up(machine, asked.trials):.2f} s (goal 2 s for 40)")


if __name__ == "__main__":
    main()
