"""Trials belong to the parts that they ran on."""

from __future__ import annotations

from pathlib import Path

import pytest

from waitwright.api.logbook import logbook
from waitwright.api.opening import Question

from .conftest import Answer, Say

BOOK = Path("bench.logbook.toml")
BOLD = ("--set", "cache-read=2-1-1-1", "--set", "cache-write=2")
CACHE = ("cache-0", "cache-1", "tag")


def exchange(say: Say, part: str, *slots: str) -> None:
    """Put *part* into *slots* of the profile."""
    words = [word for slot in slots for word in ("--part", f"{slot}={part}")]
    assert say("new", "--edit", "bench.toml", *words)[0] == 0


def bold_odds(answer: Answer) -> float:
    """Odds of the bold settings."""
    return float(answer("check", *BOLD)["odds"])


def test_the_parts_are_noted(answer: Answer) -> None:
    """Every trial says what was fitted, in the places whose parts can be exchanged."""
    answer("record", "stable", *BOLD)
    text = BOOK.read_text("utf-8")

    table = text[text.index("[trial.parts]") :]
    assert 'cpu = "386dx-33"' in table
    assert 'cache-0 = { part = "sram-32kx8-20", count = 4 }' in table


def test_a_failure_is_not_charged_to_new_chips(answer: Answer, say: Say) -> None:
    """What failed with the old cache chips is open again with faster ones, and its odds are theirs."""
    before = bold_odds(answer)
    for _ in range(2):
        answer("record", "failed", *BOLD, "--symptom", "memory-error", "--hours", "0.1")
    failed = bold_odds(answer)
    exchange(say, "sram-32kx8-12", *CACHE)
    fresh = bold_odds(answer)

    assert failed < before
    assert fresh > 0.98 > failed
    assert any("It ran on other parts than these." in line for line in answer("suspect")["lessons"])
    shown = logbook(Question("bench.toml")).entries[0].parts
    assert shown == dict.fromkeys(CACHE, ("sram-32kx8-20",))


def test_old_chips_come_back_with_what_is_known_of_them(answer: Answer, say: Say) -> None:
    """What was learnt of a part holds for it as a what-if, and once it is back."""
    exchange(say, "sram-32kx8-25", *CACHE)
    unknown = bold_odds(answer)
    answer("record", "stable", *BOLD, "--hours", "200")
    known = bold_odds(answer)
    exchange(say, "sram-32kx8-12", *CACHE)
    what_if = [word for slot in CACHE for word in ("--part", f"{slot}=sram-32kx8-25")]

    assert unknown < 0.5 and known > 0.9
    assert answer("check", *BOLD, *what_if)["odds"] == pytest.approx(known, abs=0.05)
    exchange(say, "sram-32kx8-25", *CACHE)
    assert bold_odds(answer) == known


def test_a_trial_tells_of_the_parts_that_stayed(answer: Answer, say: Say) -> None:
    """A long run with other memory still speaks for the cache chips that were in it."""
    exchange(say, "sram-32kx8-25", *CACHE)
    answer("record", "stable", *BOLD, "--hours", "200")
    exchange(say, "fpm-60", "simm-0", "simm-1")
    known = bold_odds(answer)
    answer("record", "--undo")

    assert bold_odds(answer) < 0.5 and known > 0.9


def test_what_passed_on_other_parts_is_not_proven(answer: Answer, say: Say) -> None:
    """Settings that passed with the old chips are not proven for new ones, in the profile or as a what-if."""
    answer("next")
    proven = answer("record", "stable", "--hours", "200")["proven"]
    assert proven["gain"] > 0 and proven["stable"]
    tag = ("--part", "tag=sram-32kx8-25")
    assert answer("next", *tag)["proven"]["gain"] == 0

    exchange(say, "sram-32kx8-15", *CACHE)
    assert answer("next")["proven"]["gain"] == 0


def test_no_offer_is_kept_for_parts_that_are_not_fitted(answer: Answer, say: Say) -> None:
    """A trial of a what-if is not noted: an offer for the machine as it is stays on offer."""
    assert answer("next", "--part", "tag=sram-32kx8-15")["offer_kept"] is False
    assert not BOOK.exists()
    code, out, _ = say("next", "bench.toml", "--part", "tag=sram-32kx8-15")
    shown = " ".join(out.split())
    assert code == 0 and "Nothing is written down for parts that are not fitted." in shown
    assert "waitwright new --edit bench.toml --part SLOT=PART" in shown

    answer("next")
    before = BOOK.read_bytes()
    answer("next", "--part", "tag=sram-32kx8-15")
    assert BOOK.read_bytes() == before


def test_files_without_parts_mean_those_of_the_profile(answer: Answer, say: Say) -> None:
    """A logbook from before parts were noted says what it always said."""
    answer("record", "stable", *BOLD, "--hours", "200")
    told = bold_odds(answer)
    text = BOOK.read_text("utf-8")
    BOOK.write_text(text[: text.index("[trial.parts]")], "utf-8")

    assert bold_odds(answer) == told
    exchange(say, "sram-32kx8-15", *CACHE)
    assert answer("record", "--note", "swapped")["warnings"] == []


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ('cpu = "386dx-33"', 'cpu = "386dx-34"', "trial 1: no part is called '386dx-34'"),
        ('cpu = "386dx-33"', 'cpu = "fpm-70"', "trial 1: slot 'cpu': "),
        ('cpu = "386dx-33"\n', "", "trial 1: slot 'cpu' was empty: without a CPU nothing runs"),
        ('tag = "', 'tog = "', "trial 1: the board has no slot 'tog'"),
        ("count = 4 }", "count = 9 }", "trial 1: slot 'cache-0' takes 4 at most"),
    ],
)
def test_parts_that_cannot_have_been_there_are_told(answer: Answer, old: str, new: str, line: str) -> None:
    """A trial on parts that the board cannot take is told and left out, whatever was mended by hand."""
    before = bold_odds(answer)
    answer("record", "stable", *BOLD, "--hours", "200")
    BOOK.write_text(BOOK.read_text("utf-8").replace(old, new), "utf-8")

    found = answer("suspect")["warnings"]
    assert found[0].startswith(line) and found[0].endswith("; kept as it is, but not counted")
    assert bold_odds(answer) == before
