"""What a picture shows is what the view says: every figure, every length."""

from __future__ import annotations

from itertools import accumulate, pairwise
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests import gallery
from tests.pictures.reading import SVG, drawn, figures, shapes, words

from waitwright.explain.figures import chance, measured, plain, signed_percent
from waitwright.report.margin_view import BudgetView, relative_margin, worst_first
from waitwright.report.picture_views import MarkView
from waitwright.report.pictures import board, shares, story, suspects, timing, tradeoff
from waitwright.report.pictures.scale import Scale, ticks
from waitwright.report.views import ResultView

PAPER = (8.0, 352.0)
"""From where to where a timing picture's time runs."""

KNOWN = [one for one in gallery.BUDGETS if one.margin_ns is not None]
TIMES = st.integers(1, 90_000).map(lambda ps: ps / 100)


def times(budget: BudgetView) -> list[float]:
    """What the delays take."""
    return [line.ns or 0.0 for line in budget.delays]


@pytest.mark.parametrize("budget", KNOWN, ids=lambda one: one.id)
def test_stairs_are_to_scale(budget: BudgetView) -> None:
    """Each delay's bar begins where the one before ends, and is as long as its time."""
    longest = max(budget.available_ns or 0, budget.spent_ns or 0)
    unit = (PAPER[1] - PAPER[0]) / longest
    bars = list(shapes(timing.draw(budget), "rect", "rated"))[:-1]  # the last is the key's

    begins = [0.0, *accumulate(times(budget))][:-1]
    assert [bar["x"] for bar in bars] == pytest.approx([PAPER[0] + unit * t for t in begins], abs=0.06)
    assert [bar["width"] for bar in bars] == pytest.approx(
        [max(unit * time, 1.5) for time in times(budget)], abs=0.06
    )


@pytest.mark.parametrize("budget", KNOWN, ids=lambda one: one.id)
def test_margin_is_to_scale_and_told(budget: BudgetView) -> None:
    """The margin is drawn between what is needed and what is there, hatched and named where it is missing."""
    picture = timing.draw(budget)
    margin = budget.margin_ns or 0.0
    unit = (PAPER[1] - PAPER[0]) / max(budget.available_ns or 0, budget.spent_ns or 0)
    look, state = ("missing", "missing") if margin < 0 else ("spare", "to spare")
    [bar] = shapes(picture, "rect", look)

    assert bar["width"] == pytest.approx(unit * abs(margin), abs=0.06)
    assert f"{measured(abs(margin), 'ns')} {state}" in words(picture)
    assert not list(shapes(picture, "rect", "spare" if margin < 0 else "missing"))


@pytest.mark.parametrize("budget", gallery.BUDGETS, ids=lambda one: one.id)
def test_timing_words_are_of_the_ledger(budget: BudgetView) -> None:
    """No figure stands in a timing picture, or in its table, that is not one of its view."""
    picture = timing.draw(budget)
    own = [budget.available_ns, budget.spent_ns, budget.typical_ns, budget.period_ns, *times(budget)]
    own += [line.ns for line in budget.windows] + [line.typical_ns for line in budget.delays]
    own += [None if budget.margin_ns is None else abs(budget.margin_ns), budget.margin_ns]
    names = [line.name for line in (*budget.delays, *budget.windows)]
    allowed = figures([measured(value, "ns") for value in own] + [chance(budget.odds)] + names)

    assert figures(words(picture)) <= allowed
    assert figures([cell for row in picture.table.rows for cell in row]) <= allowed
    assert {measured(line.ns, "ns") for line in budget.delays} <= {row[2] for row in picture.table.rows}


def test_wave_has_the_period_of_the_clock() -> None:
    """The clock's rising edges are one period apart, beginning with the window."""
    budget = gallery.BUDGETS[1]
    [line] = [one for one in drawn(timing.draw(budget)).iter(f"{SVG}polyline") if one.get("class") == "wave"]
    points = [tuple(map(float, point.split(","))) for point in (line.get("points") or "").split()]
    rising = [one[0] for one, two in pairwise(points) if one[0] == two[0] and two[1] < one[1]]
    longest = max(budget.available_ns or 0, budget.spent_ns or 0)
    unit = (PAPER[1] - PAPER[0]) / longest

    assert rising == pytest.approx(
        [PAPER[0] + unit * 30 * turn for turn in range(ceil(longest / 30))], abs=0.1
    )


def test_fast_clocks_become_a_rule() -> None:
    """A clock whose edges would run together is no wave, and one that is not known is not named."""
    fast = gallery.budget("fast", 9000.0, (100.0,))

    assert "host clock, period 30 ns: too short to draw" in words(timing.draw(fast))
    assert "time from the first edge" in words(timing.draw(gallery.BUDGETS[3]))


@given(st.lists(TIMES, max_size=9), TIMES)
def test_any_budget_can_be_drawn(needs: list[float], has: float) -> None:
    """Whatever the times, no bar leaves the paper and every delay has its bar."""
    picture = timing.draw(gallery.budget("any", has, tuple(needs)))
    bars = list(shapes(picture, "rect", "rated"))[:-1]

    assert len(bars) == len(needs)
    assert all(bar["x"] >= PAPER[0] and bar["x"] + bar["width"] <= PAPER[1] + 1.6 for bar in bars)


def test_board_has_a_row_for_every_rule_tightest_first() -> None:
    """The board shows all rules in the order of their margin, each with its margin in words."""
    rules = gallery.RULES
    picture = board.draw(rules)
    ordered = sorted(rules, key=worst_first)
    titles = [line for line in words(picture) if line in {rule.title for rule in rules}]

    assert titles == [rule.title for rule in ordered]
    assert [row[0] for row in picture.table.rows] == titles
    assert [row[1] for row in picture.table.rows] == [rule.rated for rule in ordered]
    assert {"4.5 ns missing", "44.375 us missing", "nothing to spare"} <= {
        line.replace("44.38", "44.375") for line in words(picture)
    }


def test_board_bars_are_shares_of_what_there_is() -> None:
    """A bar to the right is as long as the share to spare, a hatched one to the left as the share missing."""
    rules = [rule for rule in gallery.RULES if relative_margin(rule) is not None]
    picture = board.draw(rules)
    ordered = [relative_margin(rule) or 0.0 for rule in sorted(rules, key=worst_first)]
    spare = [bar["width"] for bar in shapes(picture, "rect", "usual")]
    missing = [bar["width"] for bar in shapes(picture, "rect", "missing")]

    assert spare == pytest.approx([153.6 * share for share in ordered if share >= 0], abs=0.06)
    assert missing == pytest.approx(
        [38.4 * min(-share, 0.25) / 0.25 for share in ordered if share < 0], abs=0.06
    )


def test_board_can_be_cut_without_loss() -> None:
    """The first rows and the rest together are the whole board."""
    rules = gallery.RULES
    first, rest = board.draw(rules, most=3), board.draw(rules, first=3, prefix="rest")

    assert first.table.rows + rest.table.rows == board.draw(rules).table.rows
    assert first.id != rest.id


def test_suspects_are_to_scale() -> None:
    """Bars of suspects are as long as their odds, with a mark where each began, and all are in the table."""
    picture = suspects.draw(gallery.SUSPECTS.suspects, gallery.SUSPECTS.timing_odds, most=2)
    bars = [bar["width"] for bar in shapes(picture, "rect", "usual")][:-1]
    marks = [line["x1"] for line in shapes(picture, "line", "was")][:-1]
    unit = (360 - 6 - 66 - 6) / 0.22

    assert bars == pytest.approx([unit * 0.22, unit * 0.01], abs=0.06)
    assert marks == pytest.approx([6 + unit * 0.04, 6 + unit * 0.03], abs=0.06)
    assert picture.table.rows == (
        ("supply ripple at the CPU", "22 %", "4.0 %"),
        ("dirty contact of a module", "1.0 %", "3.0 %"),
        ("overheating", "< 0.1 %", "2.0 %"),
        ("no fault beside timing", "76 %", ""),
    )


def test_shares_are_to_scale() -> None:
    """Bars before and after are as long as their times; slight events are one row, and whole in the table."""
    picture = shares.draw(gallery.SHARES)
    before = [bar["width"] for bar in shapes(picture, "rect", "before")][:-1]
    after = [bar["width"] for bar in shapes(picture, "rect", "usual")][:-1]
    room = 360 - 6 - 84 - 6

    assert before == pytest.approx(
        [room, room, room * 92.4 / 180, room * 33 / 180, room * 0.9 / 180], abs=0.4
    )
    assert after[0] == pytest.approx(room * 231.85 / 306.3, abs=0.06)
    assert "everything else" in words(picture)
    assert [row[0] for row in picture.table.rows] == [event.title for event in gallery.SHARES.events] + [
        "All"
    ]
    assert {f"{plain(event.after_us)} us" for event in gallery.SHARES.events} <= {
        row[3] for row in picture.table.rows
    }


def test_story_tells_every_trial_by_shape_and_word() -> None:
    """Trials that passed are dots, failed ones crosses with a word; withdrawn ones are left out."""
    picture = story.draw(gallery.ENTRIES)
    counted = [entry for entry in gallery.ENTRIES if not entry.withdrawn]
    known = [entry for entry in counted if entry.gain is not None]
    dots = [dot["cx"] for dot in shapes(picture, "circle", "dot")]

    assert len(dots) == sum(entry.stable for entry in known)
    assert len(list(drawn(picture).iter(f"{SVG}polyline"))) == 1 + 2 * sum(
        not entry.stable for entry in known
    )
    for entry in known:
        assert any(line.startswith(signed_percent(entry.gain or 0.0)) for line in words(picture))
    assert [row[0] for row in picture.table.rows] == [str(entry.number) for entry in counted]
    across = Scale(0.0, 0.45, 34.0, 228.0)
    assert dots == pytest.approx([across(entry.gain or 0.0) for entry in known if entry.stable], abs=0.06)


def test_story_can_show_the_last_trials() -> None:
    """Of many trials the last are shown, and the line begins at what was proven before them."""
    picture = story.draw(gallery.ENTRIES, most=2)

    assert [row[0] for row in picture.table.rows] == ["5", "6"]
    assert "Shown are the last 2" in picture.alt
    [line] = [one for one in drawn(picture).iter(f"{SVG}polyline") if one.get("class") == "track"]
    first = float((line.get("points") or "").split(",")[0])
    assert first == pytest.approx(Scale(0.0, 0.45, 34.0, 228.0)(0.33), abs=0.06)


def test_tradeoff_falls_to_the_right() -> None:
    """The surer the settings, the farther right and the lower; marks stand where they belong."""
    picture = tradeoff.draw(gallery.CURVE, gallery.MARKS, hours=4.0)
    dots = [(dot["cx"], dot["cy"]) for dot in shapes(picture, "circle", "dot")]

    assert dots == sorted(dots)
    assert all(one[1] < two[1] for one, two in pairwise(dots))
    assert picture.table.rows[:3] == (
        ("set now", "+0.0 %", "> 99.9 %"),
        ("proven", "+33.0 %", "99.5 %"),
        ("next trial", "+36.0 %", "99.2 %"),
    )
    assert [row[1:] for row in picture.table.rows[3:]] == [
        (signed_percent(point.gain), chance(point.odds)) for point in reversed(gallery.CURVE)
    ]
    assert "odds of a soak of 4 h, by timing alone" in words(picture)


@given(
    st.lists(st.tuples(st.floats(-0.5, 2.0), st.floats(0.0, 1.0)), max_size=20),
    st.floats(-0.5, 2.0),
    st.one_of(st.none(), st.floats(0.0, 1.0)),
)
def test_any_tradeoff_stays_on_the_paper(
    found: list[tuple[float, float]], gain: float, odds: float | None
) -> None:
    """Whatever gains and odds, everything is drawn inside the axes."""
    curve = [ResultView({}, (), gain, odds, (), ()) for gain, odds in found]
    picture = tradeoff.draw(curve, [MarkView("now", gain, odds)])

    for dot in (*shapes(picture, "circle", "dot"), *shapes(picture, "circle", "ring")):
        assert 14.0 <= dot["cx"] <= 344.0
        assert dot["cy"] <= picture.height


@given(st.floats(-1000, 1000), st.floats(0.001, 1000), st.integers(2, 12))
def test_ticks_are_round_and_few(low: float, span: float, most: int) -> None:
    """Ticks lie inside, evenly apart, and are no more than asked for and one."""
    found = ticks(low, low + span, most)
    steps = [two - one for one, two in pairwise(found)]

    assert len(found) <= most + 1
    assert all(low - span * 1e-6 <= tick <= low + span * (1 + 1e-6) for tick in found)
    assert steps == pytest.approx([steps[0]] * len(steps)) if steps else True
