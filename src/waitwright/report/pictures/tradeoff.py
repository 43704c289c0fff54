"""Speed against odds: the fastest settings for each risk, with what is set, proven and proposed."""

from __future__ import annotations

from collections.abc import Sequence
from math import log10

from waitwright.explain.figures import chance, plain, signed_percent
from waitwright.report.picture_views import MarkKind, MarkView
from waitwright.report.pictures.canvas import WIDTH, Canvas, identifier
from waitwright.report.pictures.picture import Picture, Table
from waitwright.report.pictures.scale import Scale, ticks
from waitwright.report.views import ResultView

TITLE = "Speed against odds"

_LEFT, _RIGHT = 58, WIDTH - 16
_TOP, _FOOT = 12, 172
_SAFEST = 1e-4
"""Chance of failing beyond which no difference is drawn: the odds are no finer."""
_RISKS = ((0.5, "50 %"), (0.1, "90 %"), (0.01, "99 %"), (0.001, "99.9 %"), (_SAFEST, "surer"))
_WORDS: dict[MarkKind, str] = {
    "now": "set now",
    "proven": "proven",
    "proposed": "next trial",
    "asked": "asked for",
}


def draw(
    curve: Sequence[ResultView],
    marks: Sequence[MarkView] = (),
    *,
    prefix: str = "",
    hours: float | None = None,
) -> Picture:
    """The trade-off as steps: to the left more risk, upwards more speed, for a soak test of *hours*."""
    canvas = Canvas(identifier(prefix, "tradeoff"))
    points = sorted(
        ((point.odds, point.gain) for point in curve if point.odds is not None), key=lambda pair: pair
    )
    marked = [mark for mark in marks if mark.odds is not None]
    gains = [0.0, *(gain for _, gain in points), *(mark.gain for mark in marked)]
    high, low = max(gains), min(gains)
    room = max(high - low, 0.01)
    up = Scale(low - 0.04 * room, high + 0.08 * room, _FOOT, _TOP)
    _axes(canvas, up, hours)
    if points:
        canvas.path(_steps(points, up), "track")
        for odds, gain in points:
            canvas.circle(_across(odds), up(gain), 2.6, "dot")
    for mark in marked:
        _mark(canvas, mark.kind, _across(mark.odds), up(mark.gain))
    height = _key(canvas, marked)
    alt = _told(points, marked)
    return canvas.picture(TITLE, alt, height, _table(points, marked))


def _across(odds: float | None) -> float:
    """Place of *odds*: as far to the right for each tenth of the risk."""
    risk = min(max(1 - (odds or 0.0), _SAFEST), 1.0)
    return Scale(0.0, -log10(_SAFEST), _LEFT, _RIGHT)(-log10(risk))


def _axes(canvas: Canvas, up: Scale, hours: float | None) -> None:
    for gain in ticks(up.low, up.high, 5):
        canvas.line(_LEFT, up(gain), _RIGHT, up(gain), "rule")
        canvas.text(_LEFT - 6, up(gain) + 4, f"{100 * gain:+.3g} %" if gain else "0 %", "note", "end")
    for risk, words in _RISKS:
        at = _across(1 - risk)
        canvas.line(at, _FOOT, at, _FOOT + 5, "axis")
        canvas.text(min(at, WIDTH - 2), _FOOT + 18, words, "note", "end" if risk == _SAFEST else "middle")
    canvas.line(_LEFT, _FOOT, _RIGHT, _FOOT, "axis")
    soak = "the soak test" if hours is None else f"a soak of {plain(hours)} h"
    canvas.text(_LEFT, _FOOT + 36, f"odds of {soak}, by timing alone", "note")


def _steps(points: Sequence[tuple[float, float]], up: Scale) -> list[tuple[float, float]]:
    """The frontier as a falling edge for each point; between two, the surer one can be had."""
    line = [(float(_LEFT), up(points[0][1]))]
    for place, (odds, gain) in enumerate(points):
        line.append((_across(odds), up(gain)))
        if place + 1 < len(points):
            line.append((_across(odds), up(points[place + 1][1])))
    return line


def _mark(canvas: Canvas, kind: MarkKind, x: float, y: float) -> None:
    """Ring: set now; square: proven; crayon diamond: the settings to enter."""
    if kind == "now":
        canvas.circle(x, y, 6, "ring")
    elif kind == "proven":
        canvas.box(x - 5, y - 5, 10, 10, "proven")
    else:
        canvas.path([(x, y - 8), (x + 7, y), (x, y + 8), (x - 7, y)], "prize", closed=True)


def _key(canvas: Canvas, marks: Sequence[MarkView]) -> float:
    y = _FOOT + 58.0
    for mark in marks:
        _mark(canvas, mark.kind, 14, y - 4)
        canvas.text(30, y, f"{_WORDS[mark.kind]}", "label strong")
        canvas.text(200, y, signed_percent(mark.gain), "label", "end")
        canvas.text(214, y, f"odds {chance(mark.odds)}", "label")
        y += 20
    return y - 8


def _told(points: Sequence[tuple[float, float]], marks: Sequence[MarkView]) -> str:
    told = []
    if points:
        (risky, fast), (sure, slow) = points[0], points[-1]
        told.append(
            f"The fastest settings gain {signed_percent(fast)} with odds of {chance(risky)}, "
            f"the surest {signed_percent(slow)} with odds of {chance(sure)}."
        )
    told += [
        f"{_WORDS[mark.kind].capitalize()}: {signed_percent(mark.gain)}, odds {chance(mark.odds)}."
        for mark in marks
    ]
    return " ".join(told) or "There is nothing to choose from."


def _table(points: Sequence[tuple[float, float]], marks: Sequence[MarkView]) -> Table:
    rows = [(_WORDS[mark.kind], signed_percent(mark.gain), chance(mark.odds)) for mark in marks]
    rows += [("can be had", signed_percent(gain), chance(odds)) for odds, gain in reversed(points)]
    return Table(TITLE, ("Settings", "Gain", "Odds"), tuple(rows))
