"""Suspects as bars: what no setting cures, and how likely each is by now."""

from __future__ import annotations

from collections.abc import Sequence

from waitwright.explain.figures import chance, several
from waitwright.report.pictures.canvas import WIDTH, Canvas, identifier, letters, wrapped
from waitwright.report.pictures.picture import Picture, Table
from waitwright.report.pictures.scale import Scale
from waitwright.report.trial_views import SuspectView

TITLE = "Suspects beside timing"

_LEFT, _RIGHT = 6, WIDTH - 6
_BAR = 9
_FIGURE = 66
"""Units at the right that a figure takes."""


def draw(
    suspects: Sequence[SuspectView], timing_odds: float, *, prefix: str = "", most: int | None = None
) -> Picture:
    """Bars for the *most* likely of *suspects*, which come most likely first."""
    shown = suspects[:most]
    canvas = Canvas(identifier(prefix, "suspects"))
    top = max([0.05, *(max(one.odds, one.prior) for one in shown)])
    scale = Scale(0.0, top, _LEFT, _RIGHT - _FIGURE)
    y = 0.0
    for one in shown:
        y = _row(canvas, one, scale, y)
    y = _key(canvas, y)
    alt = _told(shown, timing_odds, len(suspects))
    return canvas.picture(TITLE, alt, y, _table(suspects, timing_odds))


def _row(canvas: Canvas, one: SuspectView, scale: Scale, top: float) -> float:
    base = canvas.lines(_LEFT, top + 12, wrapped(one.title, letters(_RIGHT - _LEFT)), "label")
    y = base + 5
    end, prior = scale(one.odds), scale(one.prior)
    canvas.box(_LEFT, y, max(end - _LEFT, 1), _BAR, "usual")
    canvas.line(prior, y - 2, prior, y + _BAR + 2, "was-halo")
    canvas.line(prior, y - 2, prior, y + _BAR + 2, "was")
    canvas.text(max(end, prior) + 8, y + _BAR - 1, chance(one.odds), "label strong")
    return y + _BAR + 7


def _key(canvas: Canvas, top: float) -> float:
    y = top + 4
    canvas.box(_LEFT, y, 18, _BAR, "usual")
    canvas.text(_LEFT + 24, y + 9, "now", "note")
    canvas.line(_LEFT + 72, y - 2, _LEFT + 72, y + _BAR + 2, "was")
    canvas.text(_LEFT + 80, y + 9, "before any trial", "note")
    return y + _BAR + 6


def _told(shown: Sequence[SuspectView], timing_odds: float, count: int) -> str:
    told = f"Chance of no fault beside timing: {chance(timing_odds)}."
    if shown:
        listed = "; ".join(f"{one.title} {chance(one.odds)}, was {chance(one.prior)}" for one in shown)
        told += f" The likeliest of {several(count, 'suspect')}: {listed}."
    return told


def _table(suspects: Sequence[SuspectView], timing_odds: float) -> Table:
    rows = [(one.title, chance(one.odds), chance(one.prior)) for one in suspects]
    rows.append(("no fault beside timing", chance(timing_odds), ""))
    return Table(TITLE, ("Suspect", "Now", "Before any trial"), tuple(rows))
