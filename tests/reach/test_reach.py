"""``reach``: the least risky settings that should reach a target, or the nearest and what closes the rest."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from functools import cache
from io import StringIO
from pathlib import Path

import pytest
from rich.console import Console

from tests.workshop import NEW, OLD, packed
from waitwright.api.new import copy_packed
from waitwright.api.opening import Question, find_workload
from waitwright.api.reach import LEAST_ODDS, Target, reach, target_of
from waitwright.api.record import Report, record
from waitwright.belief.outlook import outlook
from waitwright.cli.main import run
from waitwright.errors import UsageError
from waitwright.explain.figures import plain, signed_percent
from waitwright.ids import ChoiceId, OptionId
from waitwright.report.swap_views import ReachView
from waitwright.report.text.swap import show_reach
from waitwright.search.compile import compile_likely, settings_of
from waitwright.search.topk import frontier
from waitwright.workload.gain import Pricer, gain
from waitwright.workload.model import event_tables

FAR = 500.0
"""A gain in percent that no packed machine reaches with any of its spares."""


@cache
def asked(name: str, percent: float) -> ReachView:
    """Answer for a gain in percent."""
    return reach(Question(name), Target(percent, "%"))


def odds_of(view: ReachView) -> float:
    """Odds of the first result, which must be known."""
    odds = view.results[0].odds
    assert odds is not None
    return odds


# ------------------------------------------------------------------------------------ targets


@pytest.mark.parametrize(
    ("words", "target"),
    [
        ("36 points", Target(36, "points")),
        ("36", Target(36, "")),
        (" 6.5 frames a second ", Target(6.5, "frames a second")),
        ("20%", Target(20, "%")),
        ("20 %", Target(20, "%")),
        ("1/4 s", Target(0.25, "s")),
    ],
)
def test_targets_as_people_write_them(words: str, target: Target) -> None:
    """A score with or without its unit, or a gain in percent."""
    assert target_of(words) == target


@pytest.mark.parametrize("words", ["", "fast", "0", "-3 points", "nan", "1e999", "%", "0 %"])
def test_other_targets_are_refused(words: str) -> None:
    """What is no positive number is refused with an example."""
    with pytest.raises(UsageError, match="expected"):
        target_of(words)


# -------------------------------------------------------------------------------- within reach


@pytest.mark.parametrize("name", [OLD, NEW])
@pytest.mark.parametrize("percent", [1, 5, 15, 20])
def test_least_risky_settings_that_reach_a_gain(name: str, percent: int) -> None:
    """The settings do reach it, and nothing on the trade-off of speed against odds does so more safely."""
    view = asked(name, percent)
    machine, rules = packed(name)
    events = event_tables(machine, find_workload(machine.rulebook, None))
    now = Pricer(machine, events).total(machine.current)
    sight = outlook(machine, rules, hours=4.0)
    points = frontier(
        compile_likely(machine, rules, events, sight.tables, sight.cloud), least_odds=LEAST_ODDS
    ).best
    safest = max(point.odds for point in points if gain(now, point.cost) >= percent / 100)

    assert view.reached and not view.swaps
    (result,) = view.results
    settings = {OptionId(option): ChoiceId(choice) for option, choice in result.settings.items()}
    assert gain(now, Pricer(machine, events).total(settings)) == pytest.approx(result.gain, abs=1e-5)
    assert result.gain >= percent / 100
    assert result.odds == pytest.approx(safest, abs=0.002)
    assert sight.odds(settings) == pytest.approx(result.odds, abs=0.005)


@pytest.mark.parametrize("name", [OLD, NEW])
def test_results_are_explained_as_those_of_a_ranking(name: str) -> None:
    """What is tightest stands there with its odds, and why what is faster is left alone."""
    (result,) = asked(name, 15).results
    machine, rules = packed(name)
    alone = outlook(machine, rules).rule_odds(
        {OptionId(option): ChoiceId(choice) for option, choice in result.settings.items()}
    )

    assert len(result.tightest) == 3
    assert all(tight.odds == pytest.approx(alone[tight.id], abs=1e-6) for tight in result.tightest)
    assert min(alone.values()) == pytest.approx(min(tight.odds or 0 for tight in result.tightest), abs=0.001)
    assert any("would leave odds of" in reason for reason in result.reasons)


def test_more_speed_is_never_safer() -> None:
    """The odds fall, or stay, as the target rises."""
    odds = [odds_of(asked(OLD, percent)) for percent in (5, 15, 20)]

    assert odds == sorted(odds, reverse=True)


# ------------------------------------------------------------------------------- out of reach


def test_out_of_reach_tells_the_nearest_and_the_swap_that_comes_nearest() -> None:
    """Nothing reaches it: the fastest that may hold is shown, and the one exchange that brings most."""
    view = asked(OLD, FAR)

    assert not view.reached
    assert len(view.results) == 1 and len(view.swaps) == 1
    assert "does not get there either" in view.verdict
    assert view.results[0].gain < FAR / 100
    assert view.swaps[0].gain is not None and view.results[0].gain < view.swaps[0].gain < FAR / 100


def test_exchanges_that_close_the_rest() -> None:
    """Where the spares box gets there, only exchanges that reach the target are told, the best first."""
    best = asked(OLD, FAR)
    (near,), (swap,) = best.results, best.swaps
    assert swap.gain is not None
    view = asked(OLD, round(50 * (near.gain + swap.gain), 1))

    assert not view.reached and view.swaps
    assert all(one.gain is not None and one.gain >= view.needed for one in view.swaps)
    assert "would get there" in view.verdict


def test_no_spares_that_help() -> None:
    """Where no spare brings anything the answer says so."""
    view = asked(NEW, FAR)

    assert not view.reached and not view.swaps
    assert "Nothing in the spares box brings more" in view.verdict


# --------------------------------------------------------------------------------------- scores

SCORED = datetime(2026, 2, 3, 12, 0, tzinfo=timezone(timedelta(hours=1)))


@pytest.fixture
def scored(tmp_path: Path) -> Question:
    """An own copy of the packed 386 with two scores in its logbook."""
    path = tmp_path / "mill.toml"
    copy_packed(OLD, path)
    for sets, score in (((), "26.9 points"), (("cache-read=2-2-2-2",), "36.1 points")):
        record(
            Question(str(path), sets=sets or ("cache-read=3-2-2-2",)),
            Report("stable", scores=(score,)),
            now=SCORED,
        )
    return Question(str(path))


def test_a_score_in_the_unit_of_the_logbook(scored: Question) -> None:
    """With scores recorded, a score is a target; the prediction comes with its interval."""
    view = reach(scored, Target(38, "points"))

    assert view.unit == "points" and view.reached
    assert view.needed == pytest.approx(38 / 26.9 - 1, abs=0.05)
    assert view.predicted is not None
    middle, low, high = view.predicted
    assert low < middle < high
    assert middle >= 38 * 0.999
    assert reach(scored, Target(38)).unit == "points"


def test_a_score_of_another_unit_is_refused(scored: Question) -> None:
    """Without a score in that unit nothing is known of it."""
    with pytest.raises(UsageError, match="frames"):
        reach(scored, Target(8, "frames"))


def test_a_score_without_any_recorded_is_refused() -> None:
    """A packed machine keeps no scores; a gain in percent can still be asked for."""
    with pytest.raises(UsageError, match="20%"):
        reach(Question(OLD), Target(36, "points"))


def test_what_failed_in_the_logbook_counts(scored: Question) -> None:
    """A crash on record, of settings that were near the edge, lowers the odds of getting there."""
    edge = Target(58, "%")
    before = reach(scored, edge)
    settings = tuple(f"{option}={choice}" for option, choice in before.results[0].settings.items())
    failed = Report("failed", symptoms=("memory-error",), hours=0.1)
    record(Question(scored.machine, sets=settings), failed, now=SCORED)
    after = reach(scored, edge)

    assert odds_of(after) < odds_of(before)


# -------------------------------------------------------------------------------------- answers


@pytest.mark.parametrize("percent", [15, FAR])
def test_keys_of_the_contract_and_text(percent: float) -> None:
    """Target, results as in rank and a verdict; the text fits 80 columns and has the view's figures."""
    view = asked(OLD, percent)
    data = view.to_dict()
    assert {"target", "results", "verdict", "unit", "needed", "reached", "swaps", "predicted"} <= set(data)
    for result in view.results:
        told = result.to_dict()
        assert {"settings", "changes", "gain", "odds"} <= set(told)

    out = StringIO()
    show_reach(view, Console(file=out, width=80, highlight=False, color_system=None))
    flat = " ".join(out.getvalue().split())
    assert all(len(line) <= 80 for line in out.getvalue().splitlines())
    assert f"Wanted: {signed_percent(percent / 100)} over the settings now." in flat
    assert " ".join(view.verdict.split()) in flat
    assert signed_percent(view.results[0].gain) in flat


def test_text_with_scores(scored: Question) -> None:
    """The target, and the predicted score with its interval, stand in the owner's unit."""
    view = reach(scored, Target(38, "points"))
    out = StringIO()
    show_reach(view, Console(file=out, width=80, highlight=False, color_system=None))
    flat = " ".join(out.getvalue().split())

    assert "Wanted: 38 points" in flat
    assert view.predicted is not None
    middle, low, high = view.predicted
    assert f"{plain(middle)} points, between {plain(low)} and {plain(high)} in 9 of 10 cases" in flat


@pytest.mark.parametrize(("words", "code"), [("5%", 0), ("900%", 1), ("soon", 2)])
def test_exit_codes(words: str, code: int, capsys: pytest.CaptureFixture[str]) -> None:
    """0 within reach, 1 out of reach, 2 for what is no target."""
    assert run(["reach", NEW, words]) == code
    assert capsys.readouterr()


def test_choices_of_a_result_are_the_boards(scored: Question) -> None:
    """Settings are complete, and in the words that ``--set`` takes."""
    machine, _ = packed(OLD)
    (result,) = reach(scored, Target(15, "%")).results

    assert set(result.settings) == {option.id for option in machine.options}
    values = tuple(
        [choice.id for choice in option.choices].index(ChoiceId(result.settings[option.id]))
        for option in machine.options
    )
    assert {str(o): str(c) for o, c in settings_of(machine, values).items()} == result.settings
