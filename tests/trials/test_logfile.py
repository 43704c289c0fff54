"""The logbook as text: written, read back, and refused with its line."""

from __future__ import annotations

import difflib
import tomllib
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import example, given

from waitwright.errors import FileProblems
from waitwright.ids import PartId, SlotId
from waitwright.rulebook.profiles import FitDef
from waitwright.trials.logbook import ANSWER, Logbook, Offer, Reading, Score, add, add_aside
from waitwright.trials.logfile import dump_logbook, load_logbook
from waitwright.units import to_base

from .logbooks import NOON, choices, logbooks, with_trials

TEXT = """\
# Trials of this machine, in the order in which they were recorded.
# Entries may be mended by hand; comments are not kept.
schema = 1
machine = "bench"

[offer]
number = 1
time = 2026-02-03T12:00:00+01:00
mode = "jump"
reason = "two at once"

[offer.settings]
clock = "40"
read = "2"

[[trial]]
number = 1
time = 2026-02-03T12:00:00+01:00
outcome = "failed"
symptoms = ["hang", "memory-error"]
hours = 0.25
note = \"""
warm \\"day\\"
fan off\"""
withdrawn = true

[trial.settings]
clock = "40"
read = "2"

[[trial.score]]
value = 36.1
unit = "points"
workload = "integer"

[[trial.reading]]
name = "ripple"
value = 120
unit = "mV"
where = "at the socket"

[[trial.reading]]
name = "network"
value = [9.8, "100/3", 104]
unit = "kohm"

[[trial.reading]]
name = "warm-start"
value = true
unit = "flag"
"""


def sample() -> Logbook:
    """What TEXT tells."""
    settings = choices(clock="40", read="2")
    logbook = add(
        Logbook("bench", offer=Offer(1, NOON, settings, "jump", "two at once")),
        time=NOON,
        settings=settings,
        outcome="failed",
        symptoms=("hang", "memory-error"),
        hours=Fraction(1, 4),
        scores=[Score(Fraction("36.1"), "points", "integer")],
        readings=[
            Reading("ripple", (Fraction(120, 1000),), "mV", "at the socket"),
            Reading("network", (9800, Fraction(100_000, 3), 104_000), "kohm"),
            Reading("warm-start", (1,), ANSWER),
        ],
        note='warm "day"\nfan off',
    )
    return replace(logbook, entries=(replace(logbook.trials[0], withdrawn=True),))


def test_the_file_is_plain() -> None:
    """A logbook is written for people: a table for each trial, its settings below it, units as typed."""
    assert dump_logbook(sample()) == TEXT


def test_the_file_is_read() -> None:
    """Numbers arrive exact and in base units, times with their offset."""
    assert load_logbook(TEXT, "x.toml") == sample()


@given(logbooks())
@example(with_trials('"""', "\\", "'''", "\x00\x1f\x7f\x85\u2028", "\ufeff", "\n\n", " \\\n ", "a\tb", "🖥"))
def test_round_trip(logbook: Logbook) -> None:
    """Whatever a logbook holds, with any signs in its notes, is read back as the same."""
    text = dump_logbook(logbook)

    assert load_logbook(text, "x.toml") == logbook
    assert load_logbook(text.replace("\n", "\r\n"), "x.toml") == logbook
    assert dump_logbook(load_logbook(text, "x.toml")) == text


BETWEEN = """
[[aside]]
number = 2
time = 2026-02-03T12:00:00+01:00
repaired = ["supply-ripple"]
note = "new capacitors"

[aside.settings]
clock = "33"

[[aside.reading]]
name = "ripple"
value = 60
unit = "mV"
"""


def test_what_came_between_trials_stands_between_them() -> None:
    """A reading or a repair by itself is a table of its own, in the order of the numbers."""
    logbook = add_aside(
        with_trials("a"),
        time=NOON,
        settings=choices(clock="33"),
        readings=[Reading("ripple", (Fraction(60, 1000),), "mV")],
        repaired=["supply-ripple"],
        note="new capacitors",
    )
    logbook = add(logbook, time=NOON, settings=choices(clock="33"), outcome="stable")
    text = dump_logbook(logbook)

    before, after = text.split(BETWEEN)
    assert "number = 1" in before and "number = 3" in after
    assert load_logbook(text, "x.toml") == logbook
    assert load_logbook(before + after + BETWEEN, "x.toml") == logbook  # the numbers tell, whoever mends it


def test_parts_stand_with_their_trial() -> None:
    """One part is its name, several are tables with count, size and refresh class as in a profile."""
    parts = {
        SlotId("cpu"): (FitDef(PartId("fast-cpu")),),
        SlotId("bank"): (
            FitDef(PartId("fpm-70"), 2, to_base(1, "MB"), PartId("normal")),
            FitDef(PartId("fpm-60"), 1, to_base(Fraction(1, 4), "MB")),
        ),
    }
    logbook = add(Logbook("x"), time=NOON, settings=choices(clock="33"), outcome="stable", parts=parts)
    text = dump_logbook(logbook)

    assert """
[trial.parts]
cpu = "fast-cpu"
bank = [{ part = "fpm-70", count = 2, size_mb = 1, refresh = "normal" }, { part = "fpm-60", size_mb = 0.25 }]
""" in text  # fmt: skip
    assert load_logbook(text, "x.toml") == logbook
    with pytest.raises(FileProblems, match=r"trial\[0\].parts.bank.count: expected at least 1, found 0"):
        load_logbook(text.replace("count = 2", "count = 0"), "x.toml")


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ("number = 2", "number = 1", "aside[0].number: trial 1 has that number (give every entry its own)"),
        ('repaired = ["supply-ripple"]\nnote = "new capacitors"\n', "",
         "aside[0]: expected a reading, a repair or a note"),
        ("note =", 'outcome = "stable"\nnote =', 'aside[0].outcome: unknown key "outcome"'),
        ("clock =", "Clock =", "aside[0].settings.Clock: "),
    ],
)  # fmt: skip
def test_faults_of_what_came_between_are_told(old: str, new: str, problem: str) -> None:
    """An entry that says nothing, takes the number of a trial or holds what only trials have is told."""
    between = BETWEEN[: BETWEEN.index("\n[[aside.reading")]
    text = dump_logbook(with_trials("a")) + between.replace(old, new)

    with pytest.raises(FileProblems) as caught:
        load_logbook(text, "x.toml")

    assert problem in str(caught.value.problems[0])


def test_a_new_trial_adds_lines_only() -> None:
    """Two versions of a logbook differ by the lines of the new trial and no others."""
    before, after = (dump_logbook(with_trials(*notes)).splitlines() for notes in ("ab", "abc"))

    changed = [line for line in difflib.ndiff(before, after) if line[0] in "-?"]
    assert changed == []
    assert after[: len(before)] == before


def test_times_are_dates_to_other_readers() -> None:
    """Any TOML reader sees a date with its offset, not a text."""
    assert tomllib.loads(TEXT)["trial"][0]["time"] == NOON


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ("schema = 1", "schema = 2", "3: schema: layout 2 is newer than this program, which knows 1 "
         "(use the newer program)"),
        ("schema = 1", "schema = 0", "3: schema: expected 1, found 0"),
        ('machine = "bench"\n', "", 'missing key "machine" (add machine = "...")'),
        ('mode = "jump"', 'mode = "both"', '9: offer.mode: expected "single" or "jump", found "both"'),
        ("12:00:00+01:00\noutcome", "12:00:00\noutcome", "18: trial[0].time: expected a time with its offset "
         "from UTC, such as 2026-01-31T18:30:00+01:00, found 2026-02-03 12:00:00"),
        ('"hang"', '"hung"', '20: trial[0].symptoms[0]: expected "no-start", "hang", "reboot", '
         '"memory-error", "display-artefact", "disk-error", "sound-fault" or "port-error", found "hung"'),
        ('"failed"', '"stable"', "20: trial[0].symptoms: a stable trial shows no symptoms"),
        ("hours = 0.25", "hours = -1", "21: trial[0].hours: expected at least 0, found -1"),
        ("hours = 0.25", "hour = 1", "21: trial[0].hour: unknown key \"hour\" (did you mean 'hours'?)"),
        ("fan off", "x" * 601, "22: trial[0].note: expected a text of at most 600 characters"),
        ('clock = "40"\nread = "2"\n\n[[trial.s', "[[trial.s",
         "27: trial[0].settings: expected at least 1 of them, found 0"),
        ("36.1", "0", "32: trial[0].score[0].value: expected more than 0, found 0"),
        ('"mV"', '"mW"', '39: trial[0].reading[0].unit: unknown unit "mW"'),
        ('"mV"', '"text"', '39: trial[0].reading[0].unit: expected a unit of numbers, or flag, found "text"'),
        ("value = 120", "value = 12000000000",
         "38: trial[0].reading[0].value: 12000000000 mV is above 1000000000 mV"),
        ("value = 120", "value = true",
         '38: trial[0].reading[0].value: expected a number such as 12, 12.5 or "100/3", found true'),
        ("value = true", "value = 1", "49: trial[0].reading[2].value: expected true or false, found 1"),
        ("104]", '"many"]', '44: trial[0].reading[1].value: expected a number such as 12, 12.5 or "100/3", '
         'found "many"'),
        ('[9.8, "100/3", 104]', "[]", "44: trial[0].reading[1].value: expected one number, or a list of at "
         "most 64"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_with_its_line(old: str, new: str, problem: str) -> None:
    """A damaged entry is told with file, line and key, and with what was expected there."""
    assert TEXT.count(old) == 1

    with pytest.raises(FileProblems) as caught:
        load_logbook(TEXT.replace(old, new), "x.toml")

    separator = " " if problem.startswith("missing") else ""
    assert [str(found) for found in caught.value.problems] == [f"x.toml:{separator}{problem}"]


def test_numbers_of_trials_go_up() -> None:
    """A number that does not come after the one before it is told, so that no number names two trials."""
    text = dump_logbook(with_trials("a", "b")).replace("number = 2", "number = 1")

    with pytest.raises(FileProblems, match=r"x.toml:\d+: trial\[1\].number: expected more than 1"):
        load_logbook(text, "x.toml")


def test_all_problems_come_together() -> None:
    """One reading tells everything that is wrong, in order of lines."""
    text = TEXT.replace('"jump"', '"both"').replace('"hang"', '"hung"').replace("120", '"much"')

    with pytest.raises(FileProblems) as caught:
        load_logbook(text, "x.toml")

    assert [problem.line for problem in caught.value.problems] == [9, 20, 38]
