"""Logbooks beside packed machines: whole, in the tool's own words, and told as the tool would have led."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from waitwright._resources import packed_logbook, packed_names, packed_profile
from waitwright.api.opening import Question, logbook_of, open_machine
from waitwright.api.record import Report, record
from waitwright.api.suspect import suspect
from waitwright.errors import UsageError
from waitwright.report.trial_views import SuspectsView
from waitwright.rulebook.load import load_rulebook
from waitwright.trials.logbook import Logbook, Trial, warnings
from waitwright.trials.logfile import dump_logbook
from waitwright.trials.measuring import vocabulary
from waitwright.trials.store import LogbookStore

LOGBOOKS = tuple(name for name in packed_names("machines") if packed_logbook(name) is not None)
FOUND = {
    "lampworks-5x86": ("supply-ripple", "cpu-ripple"),
    "cooperage-486sx25": ("pull-up-network", "pull-up-networks"),
}
"""Machines whose fault was found: the cause, and the measurement that showed it."""


def replayed(name: str, trials: tuple[Trial, ...], folder: Path) -> SuspectsView:
    """What the tool says of a copy of the machine whose logbook holds *trials* only."""
    path = folder / f"{name}-{len(trials)}.toml"
    packed = packed_profile("machines", name)
    assert packed is not None
    path.write_text(packed.read_text("utf-8"), "utf-8")
    LogbookStore.beside(path).change(lambda book: replace(book, entries=trials))
    return suspect(Question(str(path)))


def until_measured(name: str) -> tuple[Trial, ...]:
    """The trials up to the one with the telling measurement."""
    _, measurement = FOUND[name]
    trials = logbook_of(name).trials
    place = next(
        place
        for place, trial in enumerate(trials)
        if trial.outcome == "failed" and measurement in {reading.name for reading in trial.readings}
    )
    return trials[: place + 1]


def test_success_and_two_faults_are_packed() -> None:
    """There are at least three logbooks: two with a fault found and repaired, and one without any."""
    repaired = {name for name in LOGBOOKS if logbook_of(name).repairs()}

    assert len(LOGBOOKS) >= 3
    assert set(FOUND) <= repaired
    assert set(LOGBOOKS) - repaired


def test_logbooks_lie_beside_machines() -> None:
    """A machine without a logbook has none, and no logbook is taken for a machine."""
    assert packed_logbook("nosuch") is None
    assert packed_logbook("") is None
    assert not [name for name in packed_names("machines") if "logbook" in name]
    assert packed_profile("machines", f"{LOGBOOKS[0]}.logbook") is None
    bare = next(name for name in packed_names("machines") if name not in LOGBOOKS)
    assert logbook_of(bare) == Logbook(bare)


@pytest.mark.parametrize("name", LOGBOOKS)
def test_a_packed_logbook_is_written_as_the_tool_writes(name: str) -> None:
    """The file is byte for byte what the program writes for its content."""
    packed = packed_logbook(name)
    assert packed is not None

    assert packed.read_text("utf-8") == dump_logbook(logbook_of(name))


@pytest.mark.parametrize("name", LOGBOOKS)
def test_a_packed_logbook_fits_its_machine(name: str) -> None:
    """Each trial names a choice of every option, readings and repairs are known, and times go forward."""
    machine, book = open_machine(name, load_rulebook()), logbook_of(name)
    measurable = vocabulary(machine)

    assert book.machine == name
    assert warnings(book, machine.options) == ()
    assert [trial.number for trial in book.trials] == list(range(1, len(book.trials) + 1))
    assert all(one.time < other.time for one, other in pairwise(book.trials))
    for trial in book.trials:
        assert trial.note
        assert set(trial.repaired) <= set(machine.rulebook.suspects)
        assert all(reading.name in measurable for reading in trial.readings)


@pytest.mark.parametrize("name", LOGBOOKS)
def test_a_packed_logbook_is_complete(name: str) -> None:
    """It has a whole stable soak at settings other than those of the start, and no offer is left open."""
    book, start = logbook_of(name), open_machine(name, load_rulebook()).current
    soaked = [
        trial.settings
        for trial in book.trials
        if trial.outcome == "stable" and trial.hours is not None and trial.hours >= 4
    ]

    assert any(settings != start for settings in soaked)
    assert book.offer is not None
    assert book.pending is None


@pytest.mark.parametrize("name", LOGBOOKS)
def test_every_command_sees_the_logbook_and_none_writes_to_it(name: str) -> None:
    """The packed machine knows its trials; a record of one more is refused, and asks for a copy."""
    machine = open_machine(name, load_rulebook())

    assert len(machine.profile.history.trials) == len(logbook_of(name).standing)
    with pytest.raises(UsageError, match=f"new --from {name}"):
        record(Question(name), Report("stable"), now=logbook_of(name).trials[-1].time)


@pytest.mark.parametrize("name", FOUND)
def test_the_tool_led_to_the_measurement_and_the_measurement_to_the_cause(name: str, tmp_path: Path) -> None:
    """Replayed, the failures make the tool ask for what was measured, and the reading names the cause."""
    cause, measurement = FOUND[name]
    measured = until_measured(name)
    before, after = replayed(name, measured[:-1], tmp_path), replayed(name, measured, tmp_path)

    assert before.next_test is not None
    assert before.next_test.id == measurement
    assert before.timing_odds < 0.05
    assert before.suspects[0].id == cause
    assert after.suspects[0].id == cause
    assert after.suspects[0].odds > 0.9
    assert after.suspects[0].odds > 10 * after.suspects[1].odds


@pytest.mark.parametrize("name", FOUND)
def test_suspicion_grows_with_failures_and_goes_with_the_repair(name: str, tmp_path: Path) -> None:
    """Each failure speaks for the cause and against timing; repaired and stable, nothing is suspected."""
    cause, _ = FOUND[name]
    for count in range(1, len(until_measured(name))):
        view = replayed(name, logbook_of(name).trials[:count], tmp_path)
        found = next(one for one in view.suspects if one.id == cause)
        assert view.timing_odds < 0.1
        assert found.odds > 2 * found.prior

    end = suspect(Question(name))
    assert end.timing_odds > 0.95
    assert all(one.odds < 0.05 for one in end.suspects)
