"""The story of the trials: what each was to bring, and how it went."""

from __future__ import annotations

from collections.abc import Sequence

from waitwright.explain.figures import plain, several, signed_percent
from waitwright.report.logbook_view import EntryView
from waitwright.report.pictures.canvas import LETTER, WIDTH, Canvas, identifier
from waitwright.report.pictures.picture import Picture, Table
from waitwright.report.pictures.scale import Scale, ticks

TITLE = "Gain over the trials"

_ROW = 21
_NUMBER = 26
"""Units at the left for the number of a trial."""
_WORDS = 120
"""Units at the right for how it went."""


def draw(trials: Sequence[EntryView], *, prefix: str = "", most: int | None = None) -> Picture:
    """One row for each of *trials* that is one and counts, the oldest on top; of many, the last *most*.

    The heavy line runs along the fastest settings that had passed by then.
    """
    counted = [trial for trial in trials if trial.is_trial and not trial.withdrawn]
    shown = counted[-most:] if most is not None else counted
    canvas = Canvas(identifier(prefix, "story"))
    gains = [trial.gain for trial in counted if trial.gain is not None]
    scale = Scale(min([0.0, *gains]), max([0.01, *gains]), _NUMBER + 8, WIDTH - _WORDS - 12)
    foot = 24.0 + len(shown) * _ROW
    _axis(canvas, scale, foot)
    _track(canvas, shown, _best_before(counted, shown), scale)
    for place, trial in enumerate(shown):
        _row(canvas, trial, scale, 24.0 + place * _ROW + _ROW / 2)
    alt = _told(counted, shown)
    return canvas.picture(TITLE, alt, foot + 4, _table(shown))


def _best_before(counted: Sequence[EntryView], shown: Sequence[EntryView]) -> float:
    """The best gain proven before the first trial shown."""
    earlier = counted[: len(counted) - len(shown)]
    return max((trial.gain or 0.0 for trial in earlier if trial.stable), default=0.0)


def _axis(canvas: Canvas, scale: Scale, foot: float) -> None:
    for gain in ticks(scale.low, scale.high, 4):
        at = scale(gain)
        canvas.line(at, 20, at, foot, "rule")
        canvas.text(at, 12, f"{100 * gain:+.3g} %" if gain else "0", "note", "middle")


def _track(canvas: Canvas, shown: Sequence[EntryView], best: float, scale: Scale) -> None:
    """The line of what is proven, stepping where a faster trial passed."""
    points = [(scale(best), 20.0)]
    for place, trial in enumerate(shown):
        middle = 24.0 + place * _ROW + _ROW / 2
        if trial.stable and trial.gain is not None and trial.gain > best:
            points += [(scale(best), middle), (scale(trial.gain), middle)]
            best = trial.gain
    points.append((scale(best), 24.0 + len(shown) * _ROW))
    canvas.path(points, "track")


def _row(canvas: Canvas, trial: EntryView, scale: Scale, y: float) -> None:
    canvas.text(_NUMBER - 4, y + 4, str(trial.number), "note", "end")
    if trial.gain is not None:
        x = scale(trial.gain)
        if trial.stable:
            canvas.circle(x, y, 5, "dot")
        else:
            canvas.path([(x - 5, y - 5), (x + 5, y + 5)], "cross")
            canvas.path([(x - 5, y + 5), (x + 5, y - 5)], "cross")
    look = "label" if trial.stable else "label strong short"
    canvas.text(WIDTH - _WORDS, y + 4, _went(trial, int(_WORDS / LETTER)), look)


def _went(trial: EntryView, room: int) -> str:
    """``+12.3 % stable``, or how it failed as far as there is room."""
    gain = "" if trial.gain is None else signed_percent(trial.gain)
    if trial.stable:
        return f"{gain} stable".strip()
    words = f"{gain} {trial.symptoms[0]}".strip() if trial.symptoms else ""
    return words if words and len(words) <= room else f"{gain} failed".strip()


def _told(counted: Sequence[EntryView], shown: Sequence[EntryView]) -> str:
    if not counted:
        return "No trial has been recorded."
    failed = sum(not trial.stable for trial in counted)
    told = f"{several(len(counted), 'trial')}, of which {failed} failed."
    if len(shown) < len(counted):
        told += f" Shown are the last {len(shown)}."
    passed = [trial for trial in counted if trial.stable and trial.gain is not None]
    if passed:
        best = max(passed, key=lambda trial: trial.gain or 0.0)
        told += f" The fastest that passed is trial {best.number} with {signed_percent(best.gain or 0.0)}."
    return told


def _table(trials: Sequence[EntryView]) -> Table:
    rows = tuple(
        (
            str(trial.number),
            "unknown" if trial.gain is None else signed_percent(trial.gain),
            trial.outcome,
            ", ".join(trial.symptoms),
            "" if trial.hours is None else f"{plain(trial.hours)} h",
        )
        for trial in trials
    )
    return Table(TITLE, ("Trial", "Gain", "Outcome", "Looked like", "Ran"), rows)
