"""Nothing is written before its meaning is known, and whatever stands in a logbook, its owner gets it out."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from waitwright.api import record as recording
from waitwright.api.lessons import lessons
from waitwright.api.opening import Question
from waitwright.api.record import Report, record, undo
from waitwright.api.trial_room import TrialRoom
from waitwright.errors import InputError, UsageError
from waitwright.trials.logbook import add, call_off, offer
from waitwright.trials.store import LogbookStore

from .conftest import Answer, Say

NOW = datetime(2026, 2, 3, 12, 0, tzinfo=UTC)
ASKED = Question("bench.toml", sets=("host-clock=33",))
BOOK = Path("bench.logbook.toml")


def store() -> LogbookStore:
    """The logbook of the machine in this folder."""
    return LogbookStore.beside(Path("bench.toml"))


@pytest.mark.usefixtures("say")
def test_an_answer_that_fails_leaves_no_trial(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the answer cannot be made, for whatever reason, the logbook stays as it was."""

    def broken(room: TrialRoom) -> tuple[str, ...]:
        raise ArithmeticError("math domain error")

    monkeypatch.setattr(recording, "lessons", broken)
    with pytest.raises(ArithmeticError):
        record(ASKED, Report("stable"), now=NOW)
    assert not BOOK.exists()


@pytest.mark.usefixtures("say")
def test_an_undo_needs_no_belief(monkeypatch: pytest.MonkeyPatch) -> None:
    """The last entry is withdrawn even where nothing can be concluded from the logbook; that is said."""
    record(ASKED, Report("stable"), now=NOW)

    def refused(*_: Any, **__: Any) -> TrialRoom:
        raise InputError("the rules are damaged")

    monkeypatch.setattr(recording, "enter", refused)
    with pytest.raises(UsageError, match="trial 1 is withdrawn; what follows cannot be told: the rules are"):
        undo(Question("bench.toml"))
    assert store().read().trials[0].withdrawn


@pytest.mark.usefixtures("say")
def test_an_undo_of_what_is_not_there() -> None:
    """A name that is no machine is told as such, and leaves no file behind."""
    with pytest.raises(UsageError, match=r"nowhere\.toml: no such file"):
        undo(Question("nowhere.toml"))
    assert not list(Path().glob("nowhere*"))


@pytest.mark.usefixtures("say")
def test_two_at_once_are_both_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where another one records while the answer is worked out, it is worked out anew on top of that."""
    original, calls = lessons, []

    def overtaken(room: TrialRoom) -> tuple[str, ...]:
        calls.append(room.logbook.next_number)
        if len(calls) == 1:
            settings = room.logbook.trials[-1].settings
            store().change(
                lambda book: add(book, time=NOW, settings=settings, outcome="stable", note="other")
            )
        return original(room)

    monkeypatch.setattr(recording, "lessons", overtaken)
    view = record(ASKED, Report("stable", note="mine"), now=NOW)

    assert view.trial == 2 and calls == [2, 3]
    assert [trial.note for trial in store().read().trials] == ["other", "mine"]


def test_an_offer_that_no_longer_fits_is_not_recorded(answer: Answer, say: Say) -> None:
    """An offer of options that the board has no more is refused in one line, and told by other commands."""
    answer("next")
    BOOK.write_text(BOOK.read_text("utf-8").replace('posted-writes = "', 'posting = "'), "utf-8")
    code, out, err = say("record", "bench.toml", "stable")

    assert code == 2 and not out and len(err.strip().splitlines()) == 1
    assert "the trial on offer no longer fits the board: the machine has no option 'posting'" in err
    assert "[[trial]]" not in BOOK.read_text("utf-8")
    assert any("on offer: the machine has no option" in line for line in answer("suspect")["warnings"])
    assert answer("next")["warnings"] == []  # it is replaced by a new one
    assert answer("record", "stable")["trial"] == 1


def test_an_offer_goes_where_measuring_comes_first(answer: Answer, say: Say) -> None:
    """Once the answer is to measure, a trial offered before is off, and 'record stable' means nothing."""
    answer("next")
    for _ in range(2):
        answer("record", "failed", "--set", "host-clock=33", "--symptom", "reboot", "--hours", "0.3")
    answer("record", "--measure", "cpu-ripple=400 mV")
    assert "[offer]" in BOOK.read_text("utf-8")
    assert answer("next")["verdict"] == "measure"

    assert "[offer]" not in BOOK.read_text("utf-8")
    code, _, err = say("record", "bench.toml", "stable")
    assert code == 2 and "no trial is on offer" in err
    book = store().read()
    assert call_off(offer(book, time=NOW, settings={}, mode="jump")) == book


def test_what_does_not_count_is_told_everywhere(answer: Answer, say: Say) -> None:
    """Trials of renamed options, and what the rules do not know, are told by next, suspect and record."""
    answer("record", "stable", "--set", "host-clock=33")
    answer("record", "--repaired", "supply-ripple")
    text = BOOK.read_text("utf-8")
    text = text.replace('machine = "bench"', 'machine = "attic"').replace('"supply-ripple"', '"gremlin"')
    BOOK.write_text(text.replace("posted-writes", "posting"), "utf-8")
    lines = (
        "trial 1: the machine has no option 'posting'; kept as it is, but not counted",
        "entry 2: no suspect is called 'gremlin'; kept as it is, but not counted",
        "the logbook says that it is of 'attic'; it is read as this machine's",
    )

    for command in ("next", "suspect"):
        found = answer(command)["warnings"]
        assert all(line in found for line in lines)
        shown = " ".join(say(command, "bench.toml")[1].split())
        assert shown.count("Note: ") == len(found) == 4
        assert all(line in shown for line in lines)
    assert all(line in answer("record", "--note", "x")["warnings"] for line in lines)
