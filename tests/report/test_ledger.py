"""Ledgers as text: to scale, with a letter for each delay, and true at the edge."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from waitwright.report.ledger import BAR, Footnotes, drawing, ledger_lines, letter
from waitwright.report.margin_view import BudgetView, DelayView, LimitView

TIMES = st.integers(0, 500_000).map(lambda ps: ps / 1000)


def budget(windows: list[float | None], delays: list[float | None], **more: object) -> BudgetView:
    """A budget of some times in nanoseconds."""
    has = None if None in windows else sum(time or 0 for time in windows)
    needs = None if None in delays else sum(time or 0 for time in delays)
    margin = None if has is None or needs is None else has - needs
    view = BudgetView(
        id="x.y",
        title="a path",
        room="l2",
        available_ns=has,
        spent_ns=needs,
        margin_ns=margin,
        rated="unchecked" if margin is None else "falls short" if margin < 0 else "holds",
        odds=None,
        windows=tuple(DelayView(f"window {i}", "", time, "sheet A") for i, time in enumerate(windows)),
        delays=tuple(DelayView(f"delay {i}", "cpu", time, f"sheet {i % 2}") for i, time in enumerate(delays)),
        symptoms=("hang", "reboot"),
        advice="Slow down.",
        source="sheet A",
        advisory=False,
    )
    return replace(view, **more)  # type: ignore[arg-type]


def limit(**more: object) -> LimitView:
    """A clock limit."""
    view = LimitView(
        id="x.z",
        title="a clock",
        room="cpu",
        value=40.0,
        limit=33.33,
        unit="MHz",
        margin=-6.67,
        rated="falls short",
        odds=0.4,
        sense="at most",
        symptoms=("hang",),
        advice="",
        source="sheet B",
        advisory=False,
    )
    return replace(view, **more)  # type: ignore[arg-type]


def bars(view: BudgetView) -> tuple[str, str]:
    """The insides of the two bars."""
    has, needs = drawing(view)
    return has.split("|")[1], needs.split("|")[1]


@given(st.lists(TIMES, min_size=1, max_size=3), st.lists(TIMES, min_size=1, max_size=8))
def test_drawings_are_to_scale(windows: list[float], delays: list[float]) -> None:
    """Both bars have one width; each part is as long as its share of the longer side, to a column.

    Missing time shows whenever there is any, and so does spare time.
    """
    view = budget([*windows], [*delays])
    has_ns, needs_ns = sum(windows), sum(delays)
    if max(has_ns, needs_ns) == 0:
        assert list(drawing(view)) == []
        return
    has, needs = bars(view)
    scale = BAR / max(has_ns, needs_ns)

    assert len(has) == len(needs) == BAR
    assert has == "=" * has.count("=") + "!" * has.count("!")
    assert abs(has.count("=") - has_ns * scale) <= 1
    assert ("!" in has) == (has_ns < needs_ns)
    assert ("." in needs) == (needs_ns < has_ns)
    letters = needs.rstrip(".")
    assert list(letters) == sorted(letters)
    for place, delay in enumerate(delays):
        assert abs(letters.count(letter(place)) - delay * scale) <= 1.5


def test_a_hair_is_still_drawn() -> None:
    """Time missing or to spare that is thinner than a column takes one; at zero there is neither."""
    assert bars(budget([100.0], [99.9])) == ("=" * BAR, "a" * (BAR - 1) + ".")
    assert bars(budget([99.9], [100.0])) == ("=" * (BAR - 1) + "!", "a" * BAR)
    assert bars(budget([100.0], [100.0])) == ("=" * BAR, "a" * BAR)


def test_a_ledger_from_top_to_bottom() -> None:
    """A budget that falls short shows what it has, each delay with letter and source, and what is missing."""
    view = budget([40.0, 20.0], [15.0, 6.5, 43.0], odds=0.97)
    notes = Footnotes()

    assert list(ledger_lines(view, notes)) == [
        "has         40 ns  window 0 [1]",
        "            20 ns  window 1 [1]",
        "needs a     15 ns  delay 0 [2]",
        "      b    6.5 ns  delay 1 [3]",
        "      c     43 ns  delay 2 [2]",
        "           4.5 ns  missing",
        "has   |===============================================!!!| 60 ns",
        "needs |aaaaaaaaaaaabbbbbccccccccccccccccccccccccccccccccc| 64.5 ns",
        "odds that it lasts all the same: 97.0 %",
        "looks like: hang, reboot",
        "what helps: Slow down.",
    ]
    assert notes.sources == ["sheet A", "sheet 0", "sheet 1"]


def test_time_to_spare() -> None:
    """A budget that holds shows what is left, and says nothing of symptoms."""
    lines = list(ledger_lines(budget([60.0], [50.0], odds=0.995), Footnotes()))

    assert "            10 ns  to spare" in lines
    assert "odds that it lasts: 99.5 %" in lines
    assert not any(line.startswith("looks like") for line in lines)


@pytest.mark.parametrize("side", ["windows", "delays"])
def test_a_missing_figure(side: str) -> None:
    """Where a figure is missing its line says so, the margin is unknown, and nothing is drawn."""
    view = budget([None], [3.0]) if side == "windows" else budget([60.0], [None, 3.0])
    lines = list(ledger_lines(view, Footnotes()))

    assert any("unknown" in line.split("  ")[-2] for line in lines[:3])
    assert "margin unknown: a figure is missing" in lines
    assert not any("|" in line for line in lines)


@pytest.mark.parametrize(
    ("view", "line"),
    [
        (limit(), "is 40 MHz, rated at most 33.33 MHz [1]"),
        (limit(value=4.5, limit=4.75, unit="V", sense="at least"), "is 4.5 V, rated at least 4.75 V [1]"),
        (limit(value=2.0, limit=1.0, unit="loads"), "is 2 loads, rated at most 1 load [1]"),
        (limit(value=2.0, limit=1.0, unit="count"), "is 2, rated at most 1 [1]"),
        (limit(limit=None, margin=None, rated="unchecked"), "is 40 MHz, rated at most unknown [1]"),
    ],
)
def test_limits_in_one_line(view: LimitView, line: str) -> None:
    """A limit says what is and what is rated, in its own unit."""
    assert next(iter(ledger_lines(view, Footnotes()))) == line


def test_footnotes_are_told_once() -> None:
    """A source keeps its number however often it is named."""
    notes = Footnotes()

    assert [notes.mark(source) for source in ("a", "b", "a")] == ["[1]", "[2]", "[1]"]
    assert notes.sources == ["a", "b"]


def test_more_delays_than_letters() -> None:
    """Past z the letters begin again."""
    assert [letter(place) for place in (0, 25, 26)] == ["a", "z", "a"]
