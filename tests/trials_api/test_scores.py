"""Scores in ``record`` and ``rank``: claims with their intervals, and speeds by the owner's own runs."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from scipy import stats

from waitwright.api.opening import Question
from waitwright.api.scoring import own_calibration
from waitwright.api.shares import shares
from waitwright.api.trial_room import enter
from waitwright.cli.main import run
from waitwright.workload.gain import Pricer, gain
from waitwright.workload.model import event_tables

Tell = Callable[..., tuple[int, str]]
SLOW, MIDDLE, QUICK = "isa-clock=clk2-8", "isa-clock=clk2-6", "isa-clock=clk2-5"


@pytest.fixture
def tell(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Tell:
    """Run a command line in a folder that holds ``bench.toml``."""
    monkeypatch.chdir(tmp_path)
    assert run(["new", "--from", "tollgate-386dx33", "-o", "bench.toml"]) == 0
    capsys.readouterr()

    def told(*words: str) -> tuple[int, str]:
        code = run([*words])
        out, err = capsys.readouterr()
        assert not err
        return code, out

    return told


def recorded(tell: Tell, settings: str, score: str, work: str = "game-3d") -> dict[str, Any]:
    """The JSON answer to a stable trial with a score."""
    words = ("record", "bench.toml", "stable", "--set", settings, "--score", score, "--workload", work)
    found: dict[str, Any] = json.loads(tell(*words, "--json")[1])
    return found


def test_a_first_score_claims_nothing(tell: Tell) -> None:
    """With nothing to compare there is no claim and no calibration."""
    found = recorded(tell, SLOW, "5.8 frames/s")
    assert found["claims"] == [] and found["calibration"] is None


def test_a_gain_is_told_with_its_interval(tell: Tell) -> None:
    """Runs of 5.8 and 6.6 differ by 13.8 %, within the t interval of the usual noise of 1 %.

    Second opinion: scipy's t distribution, three degrees of freedom.
    """
    recorded(tell, SLOW, "5.8 frames/s")
    [claim] = recorded(tell, MIDDLE, "6.6 frames/s")["claims"]
    assert claim["against"] == 1 and claim["verdict"] == "faster"
    assert claim["gain"] == pytest.approx(6.6 / 5.8 - 1, abs=1e-6)
    reach = stats.t.ppf(0.95, 3) * 0.01 * 2**0.5
    assert (1 + claim["high"]) / (1 + claim["gain"]) == pytest.approx(2.718281828**reach, abs=2e-3)
    assert claim["low"] < claim["gain"] < claim["high"]


def test_what_the_noise_may_be_is_no_real_difference(tell: Tell) -> None:
    """Two scores within what runs stray are told to make no real difference, in text as well."""
    recorded(tell, SLOW, "5.80 frames/s")
    [claim] = recorded(tell, MIDDLE, "5.85 frames/s")["claims"]
    assert claim["verdict"] == "no real difference" and claim["low"] < 0 < claim["high"]
    words = ("record", "bench.toml", "stable", "--set", QUICK, "--score", "5.84 frames/s")
    text = " ".join(tell(*words, "--workload", "game-3d")[1].split())
    assert "no real difference" in text


def test_less_time_is_a_gain(tell: Tell) -> None:
    """In a unit of time the smaller score is the faster one."""
    recorded(tell, SLOW, "40 s")
    [claim] = recorded(tell, MIDDLE, "30 s")["claims"]
    assert claim["verdict"] == "faster" and claim["gain"] == pytest.approx(1 / 3, abs=1e-6)


def test_only_scores_of_one_kind_are_compared(tell: Tell) -> None:
    """Another unit or another kind of work is no reference."""
    recorded(tell, SLOW, "5.8 frames/s")
    assert recorded(tell, MIDDLE, "41 points")["claims"] == []
    assert recorded(tell, QUICK, "6 frames/s", "desktop")["claims"] == []


def test_repeated_runs_tell_the_noise(tell: Tell) -> None:
    """Runs of the same settings claim nothing against each other; they widen or narrow the others' claims."""
    recorded(tell, SLOW, "5.8 frames/s")
    calm = recorded(tell, MIDDLE, "6.6 frames/s")["claims"][0]
    rough = recorded(tell, MIDDLE, "7.4 frames/s")["claims"]
    assert [claim["against"] for claim in rough] == [1]
    assert rough[0]["runs"] == [1, 2] and rough[0]["noise"] > 3 * calm["noise"]


def test_three_combinations_make_the_owner_s_scores_the_measure(tell: Tell) -> None:
    """From three measured combinations on, the work is refined by the scores, and rank says so."""
    words = ("rank", "bench.toml", "--workload", "game-3d", "--top", "1", "--json")
    recorded(tell, SLOW, "5.0 frames/s")
    two = recorded(tell, MIDDLE, "6.2 frames/s")
    before = json.loads(tell(*words)[1])
    three = recorded(tell, QUICK, "7.0 frames/s")
    after = json.loads(tell(*words)[1])
    assert two["calibration"] is None and three["calibration"]["runs"] == 3
    assert len(three["calibration"]["fits"]) == 3
    rates = {rate["event"]: rate for rate in three["calibration"]["rates"]}
    assert rates["display-bytes"]["factor"] > 1.3 and rates["display-bytes"]["learned"] > 0.2
    assert (before["own_scores"], after["own_scores"]) == (0, 3)
    # The program hangs on the display more than the named work does: a faster bus is worth more.
    assert after["results"][0]["gain"] != before["results"][0]["gain"]
    assert json.loads(tell("rank", "bench.toml", "--top", "1", "--json")[1])["own_scores"] == 0


def test_next_prices_by_the_owner_s_scores(tell: Tell) -> None:
    """The gain of the trial on offer is what the calibration by the scores predicts of it."""
    for settings, score in ((SLOW, "5.0 frames/s"), (MIDDLE, "6.2 frames/s"), (QUICK, "7.0 frames/s")):
        recorded(tell, settings, score)
    trial = json.loads(tell("next", "bench.toml", "--workload", "game-3d", "--json")[1])["trial"]
    room = enter(Question("bench.toml"), hours=4.0, workload="game-3d")
    calibration = own_calibration(room.logbook, room.machine, room.workload)
    assert calibration is not None
    current = room.machine.current
    predicted = calibration.gain(current, room.machine.settings_with(trial["settings"])).median
    named = Pricer(room.machine, event_tables(room.machine, room.workload))
    unrefined = gain(named.total(current), named.total(trial["settings"]))
    assert trial["gain"] == pytest.approx(predicted, abs=1e-4)
    assert trial["gain"] != pytest.approx(unrefined, rel=0.1)


def test_every_answer_prices_by_the_owner_s_scores(tell: Tell) -> None:
    """What settings bring by ``rank`` is what ``why``, ``swap``, ``reach`` and the shares of time say."""
    for settings, score in ((SLOW, "5.0 frames/s"), (MIDDLE, "6.2 frames/s"), (QUICK, "7.0 frames/s")):
        recorded(tell, settings, score)
    work = ("--workload", "game-3d", "--json")
    [best] = json.loads(tell("rank", "bench.toml", "--top", "1", *work)[1])["results"]
    sets = [word for option, choice in best["settings"].items() for word in ("--set", f"{option}={choice}")]
    why = json.loads(tell("why", "bench.toml", *sets, *work)[1])
    swaps = json.loads(tell("swap", "bench.toml", *work)[1])
    percent = f"{100 * best['gain'] - 0.01:.2f}%"
    [reach] = json.loads(tell("reach", "bench.toml", percent, *work)[1])["results"]
    share = shares(Question("bench.toml", sets=tuple(sets[1::2])), workload="game-3d")
    room = enter(Question("bench.toml"), hours=4.0, workload="game-3d")
    machine, named = room.machine, Pricer(room.machine, event_tables(room.machine, room.workload))
    unrefined = gain(named.total(machine.current), named.total(machine.settings_with(best["settings"])))

    assert best["gain"] != pytest.approx(unrefined, rel=0.02)
    assert why["gain"] == pytest.approx(best["gain"], abs=1e-6)
    assert swaps["best_gain"] == pytest.approx(best["gain"], abs=1e-6)
    assert best["gain"] - 0.002 <= reach["gain"] <= best["gain"] + 1e-6
    assert share.gain == pytest.approx(best["gain"], abs=1e-6)
    assert sum(event.after_us for event in share.events) == pytest.approx(share.after_us, rel=1e-4)


def test_readings_say_what_would_help(tell: Tell) -> None:
    """Too much ripple is told with what capacitors would leave of it; an open element by its place.

    Source: common practice, no source: 1000 uF halves the ripple of 300 mV; an open element reads far higher.
    """
    words = ("record", "bench.toml", "failed", "--set", SLOW, "--symptom", "hang", "--measure")
    found = json.loads(tell(*words, "cpu-ripple=300 mV", "--json")[1])["lessons"]
    [sentence] = [one for one in found if "near the CPU leaves" in one]
    assert "47 %" in sentence and "some 142 mV" in sentence
    calm = json.loads(tell(*words, "cpu-ripple=60 mV", "--json")[1])["lessons"]
    assert not any("near the CPU leaves" in one for one in calm)
    found = json.loads(tell(*words, "pull-up-networks=10,9.9,1000,10.1 kohm", "--json")[1])["lessons"]
    assert "At fault in the order told: 3 of 4." in found
