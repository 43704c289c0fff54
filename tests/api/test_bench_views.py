"""What a page about one machine is made of: choices, the logbook, the files behind an answer."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest
from tests.workshop import NEW, OLD, packed

from waitwright._resources import packed_profile
from waitwright.api.controls import controls
from waitwright.api.footing import files_behind, trials_behind
from waitwright.api.logbook import logbook
from waitwright.api.new import copy_packed
from waitwright.api.next_trial import next_trial
from waitwright.api.opening import Question
from waitwright.api.record import Overtaken, Report, record, undo
from waitwright.trials.store import LogbookStore

NOW = datetime(2026, 3, 1, 21, 40, tzinfo=timezone(timedelta(hours=1)))


@pytest.fixture
def own(tmp_path: Path) -> Question:
    """A machine of one's own."""
    return Question(str(copy_packed(OLD, tmp_path / "bench.toml")))


def tried(question: Question, outcome: str = "stable", **more: object) -> int:
    """Record a trial of the profile's settings but for a faster cache; gives its number."""
    asked = Question(question.machine, sets=("cache-read=2-2-2-2",))
    view = record(asked, Report(outcome, **more), now=NOW)  # type: ignore[arg-type]
    assert view.trial is not None
    return view.trial


# ------------------------------------------------------------------------------------- choices


@pytest.mark.parametrize("name", [OLD, NEW])
def test_controls_offer_every_choice(name: str) -> None:
    """Every option has its choices in the board's order, with the profile's choice chosen."""
    machine, _ = packed(name)
    view = controls(Question(name))

    assert view.packed
    assert [option.option for option in view.options] == [option.id for option in machine.options]
    for option, known in zip(view.options, machine.options, strict=True):
        assert [choice.id for choice in option.choices] == [choice.id for choice in known.choices]
        assert option.current == option.chosen == machine.current[known.id]
        assert option.now == known.choice(machine.current[known.id]).label


def test_controls_offer_what_fits() -> None:
    """A slot offers every part that the engine would accept there, and none where a part is soldered."""
    machine, _ = packed(OLD)
    view = controls(Question(OLD, parts=("tag=sram-32kx8-15",), sets=("cache-read=2-1-1-1",)))
    slots = {slot.slot: slot for slot in view.slots}

    assert slots["cache-0"].now == "4 x static RAM 32Kx8, 20 ns"
    assert slots["tag"].chosen == "sram-32kx8-15"
    assert "386dx-40" in {part.id for part in slots["cpu"].parts}
    assert not slots["logic"].parts and slots["logic"].soldered
    assert {slot.id for slot in machine.board.slots} == set(slots)
    chosen = {option.option: option for option in view.options}["cache-read"]
    assert (chosen.current, chosen.chosen) == ("3-2-2-2", "2-1-1-1")


def test_controls_know_what_can_be_recorded() -> None:
    """Measurements, suspects, symptoms and kinds of work are those of the rulebook."""
    machine, _ = packed(OLD)
    view = controls(Question(OLD))

    assert {one.id for one in view.measurables} == set(machine.rulebook.measurements)
    assert {one.id for one in view.suspects} == set(machine.rulebook.suspects)
    assert {one.id for one in view.workloads} == set(machine.rulebook.workloads)
    assert all(one.answer == (one.unit == "") for one in view.measurables)


# ------------------------------------------------------------------------------------- logbook


def test_the_logbook_tells_each_trial(own: Question) -> None:
    """Each trial has its steps against the profile, its speed, and what was told of it."""
    tried(
        own,
        "failed",
        symptoms=("hang",),
        hours=0.5,
        scores=("36.1 points",),
        measures=("cpu-ripple=95 mV at the socket", "swap-supply=no"),
        repaired=("socket-contact",),
        note="cold",
    )
    view = logbook(own)
    (entry,) = view.entries

    assert (entry.number, entry.outcome, entry.stable, entry.hours) == (1, "failed", False, 0.5)
    assert [(step.label, step.goal_label) for step in entry.steps] == [("Cache read rhythm", "2-2-2-2")]
    assert entry.gain is not None and entry.gain > 0
    assert entry.scores == ("36.1 points",)
    assert [reading.value for reading in entry.readings] == ["95 mV, at the socket", "no"]
    assert entry.readings[0].meaning.startswith("as wanted")
    assert entry.repaired == ("damaged or dirty chip socket contact",)
    assert (entry.note, entry.time) == ("cold", "2026-03-01T21:40:00+01:00")
    assert view.last == entry and view.next_number == 2
    assert view.to_dict()["entries"][0]["changes"][0]["option"] == "cache-read"


def test_the_logbook_tells_what_is_on_offer(own: Question) -> None:
    """An offer shows with its kind until its outcome is recorded; a look that keeps nothing leaves none."""
    next_trial(own, now=NOW, keep=False)
    assert logbook(own).offer is None
    view = next_trial(own, now=NOW, mode="single")
    assert view.trial is not None
    assert (logbook(own).offer, logbook(own).mode) == (1, "single")

    record(own, Report("stable"), now=NOW)
    assert logbook(own).offer is None


def test_trials_of_another_board_are_told_as_such(own: Question) -> None:
    """A trial whose options the machine no longer has stands in the book without steps or speed."""
    tried(own)
    store = LogbookStore.beside(Path(own.machine))
    text = store.path.read_text("utf-8").replace("cache-read = ", "cache-rhythm = ")
    store.path.write_text(text, "utf-8")
    view = logbook(own)

    assert (view.entries[0].fits, view.entries[0].gain, view.entries[0].steps) == (False, None, ())
    assert any("cache-rhythm" in line for line in view.warnings)


# ------------------------------------------------------------------------------ two who record


def test_a_record_for_another_number_is_refused(own: Question) -> None:
    """Who records trial 1 after somebody else has done so is told, and nothing is written twice."""
    assert tried(own, number=1) == 1

    with pytest.raises(Overtaken, match="entry 2 is the one to record now, not 1"):
        tried(own, number=1)
    assert len(logbook(own).entries) == 1
    assert tried(own, number=2) == 2


def test_an_undo_of_another_trial_is_refused(own: Question) -> None:
    """Who takes back a trial that is not the last any more is told, and nothing is withdrawn."""
    tried(own)
    tried(own)

    with pytest.raises(Overtaken, match="entry 2 is the one to withdraw now, not 1"):
        undo(own, number=1)
    assert undo(own, number=2).trial == 2
    assert undo(own).trial == 1, "the one withdrawn now, not the last one that is"
    assert [entry.withdrawn for entry in logbook(own).entries] == [True, True]


# --------------------------------------------------------------------------------------- files


def test_files_behind_an_answer(own: Question, tmp_path: Path) -> None:
    """Profile, logbook, a board of one's own and one's rules are behind an answer; packed data are not."""
    profile = Path(own.machine)
    board = packed_profile("boards", "harrow-h346")
    assert board is not None
    assert set(files_behind(own)) == {profile, LogbookStore.beside(profile).path}
    assert files_behind(Question(OLD)) == ()

    (tmp_path / "mine.toml").write_text(board.read_text("utf-8"), "utf-8")
    profile.write_text(profile.read_text("utf-8").replace('"harrow-h346"', '"mine.toml"'), "utf-8")
    rules = tmp_path / "rules"
    rules.mkdir()
    (rules / "own.toml").write_text("", "utf-8")
    found = set(files_behind(Question(own.machine, rules=rules)))
    assert {tmp_path / "mine.toml", rules / "own.toml"} < found


@pytest.mark.parametrize("spoil", [lambda path: path.unlink(), lambda path: path.write_text("= =", "utf-8")])
def test_files_behind_a_broken_profile(own: Question, spoil: Callable[[Path], object]) -> None:
    """A profile that is gone or garbled is named all the same: when it is mended, that must be seen."""
    spoil(Path(own.machine))

    assert Path(own.machine) in files_behind(own)
    assert files_behind(Question(own.machine, rules=Path("nosuch")))


def test_trials_behind_an_answer(own: Question) -> None:
    """An offer is no trial; a record is one, and so is its withdrawal."""
    stamps = [trials_behind(own.machine)]
    next_trial(own, now=NOW)
    assert trials_behind(own.machine) == stamps[0]
    tried(own)
    stamps.append(trials_behind(own.machine))
    undo(own)
    stamps.append(trials_behind(own.machine))

    assert len(set(stamps)) == 3
