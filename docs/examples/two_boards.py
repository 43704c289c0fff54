"""Two machines side by side, and one evening of trials, from Python.

    python docs/examples/two_boards.py [MACHINE MACHINE]

For each machine: the fastest settings that hold by data sheet, what every change brings, and the budget
that is left tightest.  Then a copy of the first one is tried out in a temporary folder: the trial that is
worth making is asked for, reported as stable, and asked for again.
"""

from __future__ import annotations

import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from waitwright import (
    InputError,
    NextView,
    Question,
    Report,
    Wish,
    check,
    copy_packed,
    list_machines,
    next_trial,
    rank,
    record,
    why,
)

MACHINES = ["tollgate-386dx33", "tollgate-486dx2"]
EVENING = datetime(2026, 1, 31, 19, 30, tzinfo=UTC)


def compare(name: str) -> None:
    """Print what the parts of one machine allow by data sheet."""
    question = Question(name)
    now = check(question, hours=None)
    ranked = rank(question, Wish(rated=True, top=1))
    print(f"{now.title}: {now.clocks['host_mhz']:g} MHz outside, {now.clocks['core_mhz']:g} MHz inside")
    for best in ranked.results:
        print(f"  can be {100 * best.gain:.1f} % faster:")
        for change in best.changes:
            step = f"{change.origin_label} -> {change.goal_label}"
            print(f"    {change.label}: {step}, {100 * change.share:+.1f} %")
        tightest = best.tightest[0]
        print(f"  tightest then: {tightest.title} ({tightest.margin:g} {tightest.unit} left)")
        explained = why(question.at(best.settings))
        print(f"  odds of four hours without a fault: {100 * (explained.odds or 0):.0f} %")


def tell(answer: NextView) -> None:
    """Print the trial on offer."""
    if answer.trial is None:
        print(f"  {answer.advice}")
        return
    changes = ", ".join(f"{one.label}: {one.goal_label}" for one in answer.trial.changes)
    print(f"  trial {answer.trial.id}: {changes}; {100 * answer.trial.odds:.0f} % likely to pass")


def try_out(name: str, folder: Path) -> None:
    """One evening: ask, enter, report, ask again."""
    mine = Question(str(copy_packed(name, folder / "mine.toml")))
    print("One evening with the first machine:")
    tell(next_trial(mine, now=EVENING))
    kept = record(mine, Report("stable", hours=4), now=EVENING + timedelta(hours=4))
    print(f"  stable for four hours; proven now: {100 * kept.proven.gain:+.1f} %")
    tell(next_trial(mine, now=EVENING + timedelta(hours=4)))


def main(words: list[str]) -> int:
    """Compare the machines that were named, or the usual two."""
    names = words or MACHINES
    try:
        for name in names:
            compare(name)
        with TemporaryDirectory() as folder:
            try_out(names[0], Path(folder))
    except InputError as error:
        print(error, file=sys.stderr)
        print("packed machines:", ", ".join(one.name for one in list_machines()), file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
