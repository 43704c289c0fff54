"""What is measured, mended or noted between trials."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.trials.logbooks import NOON
from waitwright.api.logbook import logbook
from waitwright.api.opening import Question
from waitwright.api.sheet import sheet
from waitwright.report.html.sheet import render_sheet

from .conftest import Answer, Say

BOOK = Path("bench.logbook.toml")
FAILED = ("failed", "--set", "host-clock=33", "--symptom", "reboot", "--hours", "0.4")
RIPPLE = ("--measure", "cpu-ripple=300 mV")


def odds(answer: Answer) -> dict[str, float]:
    """How likely each suspect is."""
    return {one["id"]: one["odds"] for one in answer("suspect")["suspects"]}


def test_a_reading_needs_no_trial(answer: Answer) -> None:
    """A reading by itself is an entry, no trial: nothing is tried by it, and nothing proven."""
    found = answer("record", *RIPPLE)

    assert (found["trial"], found["entry"], found["outcome"]) == (None, 1, "noted")
    assert any("crashes" in line for line in found["lessons"])
    text = BOOK.read_text("utf-8")
    assert "[[aside]]" in text and "[[trial]]" not in text and "settings" not in text
    assert odds(answer)["supply-ripple"] > 0.1
    assert not found["proven"]["stable"]


def test_a_reading_after_a_failure_is_about_it(answer: Answer) -> None:
    """It says what it would have said if it had been told with the failure."""
    answer("record", *FAILED, *RIPPLE)
    together = odds(answer)
    answer("record", "--undo")
    answer("record", *FAILED)
    answer("record", *RIPPLE)

    assert odds(answer) == together
    assert together["supply-ripple"] > 0.9


def test_a_reading_is_judged_by_the_settings_of_the_trial_before(answer: Answer) -> None:
    """A clock that is right for the trial before is right; for other settings it is told which."""
    answer("record", "failed", "--set", "host-clock=40", "--symptom", "hang", "--hours", "0.1")
    answer("record", "--measure", "host-clock=40 MHz")
    right = odds(answer)["clock-generator"]
    answer("record", "--undo")
    answer("record", "--measure", "host-clock=40 MHz", "--set", "host-clock=33")
    assert "[aside.settings]" in BOOK.read_text("utf-8")

    assert odds(answer)["clock-generator"] > 2 * right


def test_a_repair_by_itself_opens_what_failed(answer: Answer) -> None:
    """After a repair the failures before it stay explained, and say that their cause was mended since."""
    answer("record", *FAILED)
    answer("record", *RIPPLE)
    waiting = answer("next")
    assert waiting["verdict"] == "measure" and "mended" not in waiting["lessons"][0]
    found = answer("record", "--repaired", "supply-ripple", "--note", "new capacitors")

    assert found["trial"] is None and found["outcome"] == "noted"
    assert "supply ripple at the CPU" in found["lessons"][0] and "%), mended since" in found["lessons"][0]
    assert odds(answer)["supply-ripple"] < 0.1
    assert answer("next")["verdict"] == "trial"


def test_an_undo_takes_back_what_was_noted(answer: Answer) -> None:
    """The last entry is withdrawn by marking it, trial or not; then the one before it."""
    answer("record", *FAILED)
    before = odds(answer)
    answer("record", *RIPPLE)
    undone = answer("record", "--undo")

    assert (undone["trial"], undone["entry"], undone["outcome"]) == (None, 2, "withdrawn")
    assert BOOK.read_text("utf-8").count("withdrawn = true") == 1
    assert odds(answer) == before
    assert answer("record", "--undo")["trial"] == 1


def test_what_is_noted_leaves_the_offer_open(answer: Answer) -> None:
    """A reading answers no offer: the trial that was offered is the one that is recorded next."""
    offered = answer("next")["trial"]["settings"]
    answer("record", "--measure", "cpu-ripple=45 mV")

    assert answer("record", "stable")["trial"] == 2
    assert answer("next")["proven"]["settings"] == offered


def test_every_reader_of_the_logbook_copes(answer: Answer, say: Say) -> None:
    """Sheet, story and logbook show what came between trials as what it is."""
    answer("record", *RIPPLE, "--note", "before any trial")
    first = logbook(Question("bench.toml"))
    assert first.last is not None and not first.last.is_trial and first.trials == ()
    assert "before any trial" in render_sheet(sheet(Question("bench.toml"), now=NOON, mode="jump"))

    answer("record", *FAILED)
    answer("record", "--repaired", "supply-ripple")
    view = logbook(Question("bench.toml"))
    assert [entry.name for entry in view.entries] == ["entry 1", "trial 2", "entry 3"]
    assert [entry.number for entry in view.trials] == [2]
    assert view.entries[0].readings[0].meaning and view.entries[2].repaired
    assert json.loads(json.dumps(view.to_dict()))["entries"][0]["outcome"] == "noted"
    page = render_sheet(sheet(Question("bench.toml"), now=NOON, mode="jump"))
    assert "before any trial" in page and "1 trial, of which 1 failed" in page
    for command in ("check", "rank", "why", "swap", "reach"):
        words = ("1%",) if command == "reach" else ()
        assert say(command, "bench.toml", *words)[0] in {0, 1, 2}


@pytest.mark.parametrize(
    ("words", "line"),
    [
        ((), "expected stable or failed after the machine, or what there is to note"),
        (("--hours", "3", "--note", "x"), "--hours tells of a trial"),
        (("--symptom", "hang", *RIPPLE), "--symptom tells of a trial"),
        (("--score", "36 points", *RIPPLE), "--score tells of a trial"),
        (("--repaired", "luck"), "no such suspect"),
        (("--note", "n" * 100_000), "--note: expected at most 600 signs, found 100000"),
        (("stable", "--set", "host-clock=33", "--note", "n" * 601), "at most 600 signs, found 601"),
        (("stable", "--set", "host-clock=33", "--hours", "1e-9"), "less than a minute"),
        (
            ("stable", "--set", "host-clock=33", "--score", "3 points", "--workload", "foo"),
            "no such workload",
        ),
        (("stable", "--set", "host-clock=33", "--part", "tag=sram-32kx8-15"), "record takes no --part"),
        (("--undo", "--note", "x"), "--undo takes no --note"),
        (("--undo", "--set", "host-clock=33", *RIPPLE), "--undo takes no --measure and --set"),
    ],
)
def test_what_makes_no_entry(say: Say, words: tuple[str, ...], line: str) -> None:
    """What cannot be recorded is refused in one line, and nothing is written."""
    code, out, err = say("record", "bench.toml", *words)

    assert code == 2 and not out
    assert line in err and len(err.strip().splitlines()) == 1
    assert not BOOK.exists()


def test_a_minute_is_enough(answer: Answer) -> None:
    """The shortest run that may be called stable is a minute."""
    told: dict[str, Any] = answer("record", "stable", "--set", "host-clock=33", "--hours", "0.0167")
    assert told["outcome"] == "stable"


def test_settings_that_failed_and_passed_get_a_word(answer: Answer) -> None:
    """A long run after a failure of the same settings is told, with its hours, until something is mended."""
    answer("record", *FAILED)
    answer("record", "stable", "--set", "host-clock=33", "--hours", "40")
    found = answer("record", "stable", "--set", "host-clock=33", "--hours", "60")
    [told] = [line for line in found["lessons"] if "failed before" in line]

    assert "(reboot)" in told and "100 hours since" in told
    assert not found["proven"]["stable"]
    answer("record", "--undo")
    answer("record", "--undo")
    answer("record", "--repaired", "supply-ripple")
    mended = answer("record", "stable", "--set", "host-clock=33", "--hours", "100")
    assert not any("failed before" in line for line in mended["lessons"])
