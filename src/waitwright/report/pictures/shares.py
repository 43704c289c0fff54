"""Where the time goes: each event's part of a unit of work, before and after a change of settings."""

from __future__ import annotations

from waitwright.explain.figures import percent, plain, signed_percent
from waitwright.report.picture_views import EventShareView, SharesView
from waitwright.report.pictures.canvas import WIDTH, Canvas, identifier, letters, wrapped
from waitwright.report.pictures.picture import Picture, Table
from waitwright.report.pictures.scale import Scale

TITLE = "Where the time goes"

_LEFT, _RIGHT = 6, WIDTH - 6
_BAR, _GAP = 8, 5
_FIGURE = 84
"""Units at the right that a figure takes."""
_SLIGHT = 0.005
"""Share of the time before, below which an event has no row of its own."""


def draw(view: SharesView, *, prefix: str = "", most: int = 12) -> Picture:
    """Two bars for all the work, then two for each of the *most* events that take a noticeable share."""
    canvas = Canvas(identifier(prefix, "shares"))
    whole = max(view.before_us, view.after_us, 1e-9)
    rows = _rows(view, most)
    y = _pair(canvas, f"All: {view.title}", (view.before_us, view.after_us), whole, 0.0, strong=True)
    canvas.line(_LEFT, y - 3, _RIGHT, y - 3, "rule")
    longest = max([1e-9, *(max(row.before_us, row.after_us) for row in rows)])
    y += 6
    for row in rows:
        y = _pair(canvas, row.title, (row.before_us, row.after_us), longest, y)
    y = _key(canvas, y)
    alt = _told(view, rows)
    return canvas.picture(TITLE, alt, y, _table(view))


def _rows(view: SharesView, most: int) -> list[EventShareView]:
    """Events worth a row, and the rest in one."""
    least = _SLIGHT * max(view.before_us, view.after_us)
    rows = [event for event in view.events if max(event.before_us, event.after_us) >= least][:most]
    rest = [event for event in view.events if event not in rows]
    if rest:
        before, after = sum(one.before_us for one in rest), sum(one.after_us for one in rest)
        rows.append(EventShareView("rest", "everything else", round(before, 3), round(after, 3)))
    return rows


def _pair(
    canvas: Canvas,
    title: str,
    times: tuple[float, float],
    longest: float,
    top: float,
    *,
    strong: bool = False,
) -> float:
    """A title over the bar before and the bar after, with their figures; returns where the next begins."""
    scale = Scale(0.0, longest, _LEFT, _RIGHT - _FIGURE)
    look = "label strong" if strong else "label"
    base = canvas.lines(_LEFT, top + 12, wrapped(title, letters(_RIGHT - _LEFT)), look)
    y = base + 5
    for time, bar, hatch in zip(times, ("before", "usual"), ("pencil", ""), strict=True):
        end = scale(time)
        canvas.box(_LEFT, y, max(end - _LEFT, 1), _BAR, bar, hatch)
        canvas.text(end + 6, y + _BAR, f"{plain(time, 1)} us", "note" if hatch else look)
        y += _BAR + _GAP
    return y + 5


def _key(canvas: Canvas, top: float) -> float:
    y = top + 2
    canvas.box(_LEFT, y, 18, _BAR, "before", "pencil")
    canvas.text(_LEFT + 24, y + 9, "before", "note")
    canvas.box(_LEFT + 92, y, 18, _BAR, "usual")
    canvas.text(_LEFT + 116, y + 9, "after; us in 1000 instructions", "note")
    return y + _BAR + 6


def _told(view: SharesView, rows: list[EventShareView]) -> str:
    told = (
        f"1000 instructions of '{view.title}' take {plain(view.before_us, 1)} us before and "
        f"{plain(view.after_us, 1)} us after, {signed_percent(view.gain)} in speed."
    )
    if rows:
        parts = "; ".join(f"{row.title} {plain(row.before_us, 1)}, {plain(row.after_us, 1)}" for row in rows)
        told += f" Before and after, in us: {parts}."
    return told


def _table(view: SharesView) -> Table:
    rows = [
        (
            event.title,
            f"{plain(event.before_us)} us",
            _part(event.before_us, view.before_us),
            f"{plain(event.after_us)} us",
            _part(event.after_us, view.after_us),
        )
        for event in view.events
    ]
    rows.append(("All", f"{plain(view.before_us)} us", "", f"{plain(view.after_us)} us", ""))
    headers = ("Event", "Before", "Share before", "After", "Share after")
    return Table(f"Time for 1000 instructions of '{view.title}'", headers, tuple(rows))


def _part(time: float, whole: float) -> str:
    return percent(time / whole) if whole else ""
