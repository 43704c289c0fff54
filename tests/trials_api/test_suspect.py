"""What ``suspect`` and ``record`` say of readings, and what they make of them."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from waitwright.api.logbook import logbook
from waitwright.api.opening import Question
from waitwright.cli.main import run

Tell = Callable[..., str]

OLD = "tollgate-386dx33"
OPEN = "pull-up-networks=9.8,9.9,9.8,120,9.9,9.8,9.9,9.8 kohm"
CRASH = ("failed", "--symptom", "hang", "--set", "host-clock=33")


@pytest.fixture
def tell(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Tell:
    """Run a command on an own machine that has run for 100 hours, and return its text on one line."""
    monkeypatch.chdir(tmp_path)
    assert run(["new", "--from", OLD, "-o", "bench.toml"]) == 0
    capsys.readouterr()

    def told(command: str, *words: str) -> str:
        code = run([command, "bench.toml", *words])
        out, err = capsys.readouterr()
        assert code in {0, 1} and not err
        return " ".join(out.split())

    return told


def forget_proven() -> None:
    """Let the profile say nothing of how long its settings ran."""
    profile = Path("bench.toml")
    profile.write_text(re.sub(r"\[proven\][^\[]*", "", profile.read_text("utf-8")), "utf-8")


def suspected(tell: Tell) -> dict[str, Any]:
    """The answer of ``suspect``."""
    found: dict[str, Any] = json.loads(tell("suspect", "--json"))
    return found


def one(told: dict[str, Any], name: str) -> dict[str, Any]:
    """One suspect of an answer."""
    found: dict[str, Any] = next(entry for entry in told["suspects"] if entry["id"] == name)
    return found


# ---------------------------------------------------------------------------------- what is found


@pytest.mark.parametrize(
    ("reading", "name"), [(OPEN, "pull-up-network"), ("cpu-ripple=400 mV", "supply-ripple")]
)
def test_what_is_measured_as_faulty_is_suspected_whatever_ran_before(
    tell: Tell, reading: str, name: str
) -> None:
    """A crash and a faulty reading convict their cause, though the profile vouches for 100 hours."""
    tell("record", *CRASH, "--hours", "0.1", "--measure", reading)
    told = suspected(tell)

    assert told["suspects"][0]["id"] == name and one(told, name)["odds"] > 0.95
    assert one(told, name)["found"] and told["timing_odds"] < 0.05
    text = tell("suspect")
    assert "measured as faulty" in text and "What cures it:" in text
    assert f"waitwright record bench.toml --repaired {name}" in text
    assert "If it fails again after the repair, measure" in text


def test_what_is_measured_as_faulty_is_listed_at_any_odds(tell: Tell) -> None:
    """A reading a little beyond the good band lists its suspect, though it is unlikely."""
    tell("record", "--measure", "cpu-ripple=110 mV")
    ripple = one(suspected(tell), "supply-ripple")

    assert ripple["found"] and ripple["odds"] < 0.02
    assert "supply ripple at the CPU (measured as faulty;" in tell("suspect")


def test_a_mended_suspect_is_told_as_mended(tell: Tell) -> None:
    """After its repair a suspect is no longer found faulty; its history stays, and it is told why."""
    tell("record", *CRASH, "--hours", "0.1", "--measure", OPEN)
    tell("record", "--repaired", "pull-up-network")
    network = one(suspected(tell), "pull-up-network")

    assert network["mended"] and not network["found"] and network["odds"] < 0.1
    assert any(line.endswith("; that was before a repair") for line in network["evidence"])
    assert any(line.startswith("mended, entry 2:") for line in network["evidence"])
    assert any(line.endswith(", mended since") for line in network["evidence"])
    assert "open or drifted pull-up network (mended;" in tell("suspect")


# --------------------------------------------------------------------------------------- readings


def test_a_reading_is_judged_by_the_settings_that_it_was_taken_with(tell: Tell) -> None:
    """66.67 MHz over 8 is 8.33 MHz where that was set, and too much with the fixed bus clock."""
    taken = ("--measure", "isa-clock=8.33 MHz")
    divided = tell("record", *CRASH, "--set", "isa-clock=clk2-8", "--hours", "1", *taken)
    assert "ISA bus clock, measured: as set (8.333 MHz expected)" in divided
    assert not one(suspected(tell), "option-misnamed")["found"]
    between = tell("record", *taken)  # set as in the trial before
    assert "as set" in between

    wrong = tell("record", *CRASH, "--hours", "1", *taken)
    assert "faster than the setting should give" in wrong and "7.159 MHz expected" in wrong
    evidence = one(suspected(tell), "option-misnamed")["evidence"]
    assert [line.partition(", ")[0] for line in evidence if "as set" in line] == ["trial 1", "entry 2"]
    assert [line.partition(", ")[0] for line in evidence if "faster" in line] == ["trial 3"]


def test_two_readings_at_one_place_are_told_as_such(tell: Tell) -> None:
    """Of two readings at one place in one entry the last counts, and that is said; at two places both do."""
    both = ("--measure", "cpu-ripple=300 mV", "--measure", "cpu-ripple=40 mV")
    told = tell("record", *CRASH, "--hours", "1", *both)
    assert "measured twice at one place; only the last reading counts" in told
    assert "random crashes" not in told and "very good" in told
    assert not one(suspected(tell), "supply-ripple")["found"]

    places = ("--measure", "cpu-ripple=300 mV at the socket", "--measure", "cpu-ripple=40 mV at the plug")
    told = tell("record", *CRASH, "--hours", "1", *places)
    assert "peak-to-peak, at the socket: goes with random crashes" in told and "twice" not in told
    assert one(suspected(tell), "supply-ripple")["found"]


@pytest.mark.parametrize(
    ("reading", "name"),
    [
        ("supply-voltage=4.8 V", "supply-marginal"),
        ("supply-voltage=4.8 V", "wrong-jumper"),
        ("host-clock=33.8 MHz", "clock-generator"),
        ("cpu-ripple=100 mV", "supply-ripple"),
        ("pull-up-networks=10,10,14 kohm", "pull-up-network"),
        ("pull-up-networks=100,100,100 kohm", "pull-up-network"),
    ],
)
def test_a_reading_that_is_not_called_faulty_convicts_nothing(tell: Tell, reading: str, name: str) -> None:
    """At the edge of a good band, or where nothing is clear, a reading does not raise its suspects' odds."""
    forget_proven()
    tell("record", *CRASH, "--set", "cache-read=2-1-1-1", "--hours", "0.5")
    before = one(suspected(tell), name)["odds"]
    tell("record", "--measure", reading)
    after = one(suspected(tell), name)

    assert not after["found"] and after["odds"] < before + 0.03


def test_the_logbook_shows_a_network_as_it_was_told(tell: Tell) -> None:
    """Off-scale elements and the printed value come back as they were typed."""
    tell("record", "--measure", "pull-up-networks=9.8,OL,2000 kohm of 10 kohm by the CPU")
    [entry] = logbook(Question("bench.toml")).entries

    assert [taken.value for taken in entry.readings] == ["9.8, OL, 2000 kohm of 10 kohm, by the CPU"]


# ------------------------------------------------------------------------------------- what is asked


def test_bands_are_told_in_the_unit_of_the_meter(tell: Tell) -> None:
    """What is expected and where bands end is told in megahertz and volts, at the settings last tried."""
    tell("record", "failed", "--symptom", "hang", "--set", "host-clock=25", "--hours", "1")
    told = suspected(tell)
    clock = one(told, "clock-generator")["test"]
    assert clock["expected"] == "25 MHz expected"
    assert clock["bands"][0].startswith("up to 24.62 MHz: slower")
    assert clock["bands"][1].startswith("up to 25.37 MHz: as chosen")
    assert clock["record"] == "waitwright record bench.toml --measure 'host-clock=VALUE MHz'"
    network = one(told, "pull-up-network")["test"]
    assert network["expected"] == "" and "what the sound ones read" in network["bands"][0]
    assert "of 10 kohm" in network["record"]
    tell("record", "--measure", "cpu-ripple=40 mV")
    text = tell("suspect")
    assert "Measure next: supply voltage" in text
    assert "5 V expected" in text and "up to 4.75 V" in text and "times the expected" not in text


def test_nothing_is_due_on_a_sound_machine(tell: Tell) -> None:
    """Where nothing failed and all suspects are unlikely, nothing is to be measured now."""
    told = suspected(tell)
    assert not told["due"] and not told["failed"] and told["hints"] == []
    text = tell("suspect")
    assert "Measure next" not in text and "Nothing needs to be measured now" in text
    assert re.search(r"Chance that nothing beside timing is at fault: 9\d\.\d %\.", text)


def test_an_exchange_that_would_tell_is_asked_for(tell: Tell) -> None:
    """Common practice: faster cache chips that change nothing speak against timing; a no is asked for.

    Source: common practice, no source.
    """
    bold = ("failed", "--symptom", "memory-error", "--set", "cache-read=2-1-1-1", "--set", "cache-write=2")
    tell("record", *bold, "--hours", "0.1")
    [hint] = [hint for hint in suspected(tell)["hints"] if "swap-cache-chip" in hint]
    assert hint.endswith("waitwright record bench.toml --measure swap-cache-chip=no")
    assert "A no speaks against timing" in tell("suspect")

    before = suspected(tell)["timing_odds"]
    tell("record", "--measure", "swap-cache-chip=no")
    after = suspected(tell)
    assert not any("swap-cache-chip" in hint for hint in after["hints"])
    assert after["timing_odds"] < before
