"""The trade-off of speed against odds as a plot in text: one line for each step of the frontier."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from waitwright.explain.figures import chance, signed_percent
from waitwright.report.views import ResultView

_WIDTH = 40
_MOST_LINES = 16


def curve_lines(points: Sequence[ResultView]) -> Iterator[str]:
    """One line a point, safest first: odds, gain, and the gain as a bar to one scale.

    Points that lie so close that two lines would look the same are shown once; JSON has all of them.
    """
    shown = _thinned([point for point in reversed(points) if point.odds is not None])
    if not shown:
        return
    most = max(1e-9, *(point.gain for point in shown))
    least = min(0.0, *(point.gain for point in shown))
    yield f"{'odds':>8}  {'speed':>8}"
    for point in shown:
        bar = round(_WIDTH * (point.gain - least) / (most - least))
        yield f"{chance(point.odds):>8}  {signed_percent(point.gain):>8}  {'#' * bar}"


def _thinned(points: Sequence[ResultView]) -> list[ResultView]:
    """Points that differ from the one before in what a line shows, the largest steps if there are many."""
    kept: list[ResultView] = []
    for point in points:
        if not kept or round(1000 * point.gain) != round(1000 * kept[-1].gain):
            kept.append(point)
    while len(kept) > _MOST_LINES:
        steps = [later.gain - earlier.gain for earlier, later in pairwise(kept)]
        # The first and the last point stay: they are the ends of what can be had.
        inner = min(range(1, len(kept) - 1), key=lambda place: (steps[place - 1] + steps[place], place))
        del kept[inner]
    return kept
