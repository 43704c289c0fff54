"""The margin board: every budget and limit of a machine on a row of its own, the tightest first."""

from __future__ import annotations

from collections.abc import Sequence

from waitwright.explain.figures import chance, measured, percent, several
from waitwright.report.margin_view import BudgetView, RuleMargin, relative_margin, worst_first
from waitwright.report.pictures.canvas import WIDTH, Canvas, identifier, letters, wrapped
from waitwright.report.pictures.picture import Picture, Table
from waitwright.report.pictures.scale import Scale

_LEFT, _RIGHT = 22, WIDTH - 6
_BAR = 7
_FULL = _RIGHT - 140
"""Where a bar ends that takes all there is; behind it there is room for any figure."""
_SHORTEST = 0.25
"""The board shows a quarter of the window on the missing side, so that zero stays where it is."""
_NOUGHT = _LEFT + (_FULL - _LEFT) * _SHORTEST / (1 + _SHORTEST)


def draw(
    rules: Sequence[RuleMargin],
    *,
    prefix: str = "",
    title: str = "All margins, the tightest first",
    first: int = 0,
    most: int | None = None,
) -> Picture:
    """The board of *rules*, worst first; of these, *most* rows from the one at *first* on."""
    ordered = sorted(rules, key=worst_first)
    shown = ordered[first : None if most is None else first + most]
    canvas = Canvas(identifier(prefix, "board"))
    y = _head(canvas)
    for rule in shown:
        y = _row(canvas, rule, y)
    alt = _told(rules, shown)
    return canvas.picture(title, alt, y, _table(title, shown))


def _head(canvas: Canvas) -> float:
    canvas.text(_NOUGHT - 6, 12, "missing", "note", "end")
    canvas.text(_NOUGHT + 6, 12, "to spare, share of what there is", "note")
    return 22.0


def _row(canvas: Canvas, rule: RuleMargin, top: float) -> float:
    """A sign for the verdict, the title, the bar with its figure; returns where the next row begins."""
    _sign(canvas, rule, 10, top + 9)
    value = _margin(rule)
    look = "label strong short" if rule.rated == "falls short" else "label"
    base = canvas.lines(_LEFT, top + 12, wrapped(rule.title, letters(_RIGHT - _LEFT)), "label")
    y = base + 5
    share = relative_margin(rule)
    canvas.line(_NOUGHT, y - 3, _NOUGHT, y + _BAR + 3, "deadline")
    if share is None:
        canvas.text(_NOUGHT + 6, y + _BAR, value, "label")
    elif share < 0:
        left = Scale(-_SHORTEST, 0, _LEFT, _NOUGHT)(share)
        canvas.box(left, y, _NOUGHT - left, _BAR, "missing", "crayon")
        canvas.text(_NOUGHT + 6, y + _BAR, value, look)
    else:
        right = Scale(0, 1, _NOUGHT, _FULL)(share)
        canvas.box(_NOUGHT, y, right - _NOUGHT, _BAR, "usual")
        canvas.text(right + 6, y + _BAR + 1, value, look)
    return y + _BAR + 7


def _sign(canvas: Canvas, rule: RuleMargin, x: float, y: float) -> None:
    """Cross: falls short; half disc: tight; ring: holds; question mark: unchecked."""
    if rule.rated == "unchecked":
        canvas.text(x, y + 4, "?", "label strong", "middle")
    elif rule.rated == "falls short":
        canvas.path([(x - 4, y - 4), (x + 4, y + 4)], "cross")
        canvas.path([(x - 4, y + 4), (x + 4, y - 4)], "cross")
    elif rule.rated == "tight":
        canvas.circle(x, y, 4.5, "ring")
        canvas.circle(x, y, 2, "dot")
    else:
        canvas.circle(x, y, 4.5, "ring")


def _margin(rule: RuleMargin) -> str:
    """The margin in words."""
    unit, margin = ("ns", rule.margin_ns) if isinstance(rule, BudgetView) else (rule.unit, rule.margin)
    if margin is None:
        return "unchecked: a figure is missing"
    if margin == 0:
        return "nothing to spare"
    shown = measured(abs(margin), unit)
    return f"{shown} missing" if margin < 0 else f"{shown} to spare"


def _told(rules: Sequence[RuleMargin], shown: Sequence[RuleMargin]) -> str:
    counts = [
        f"{count} {verdict}"
        for verdict, count in (
            (verdict, sum(rule.rated == verdict for rule in rules))
            for verdict in ("falls short", "tight", "holds", "unchecked")
        )
        if count
    ]
    told = f"Margins of {several(len(rules), 'rule')}: {', '.join(counts) or 'none'}."
    if shown:
        told += (
            f" The tightest of the {several(len(shown), 'row')} here: {shown[0].title}, {_margin(shown[0])}."
        )
    return told


def _table(title: str, rules: Sequence[RuleMargin]) -> Table:
    rows = tuple((rule.title, rule.rated, _margin(rule), _share(rule), chance(rule.odds)) for rule in rules)
    return Table(title, ("Rule", "By data sheet", "Margin", "Share of what there is", "Odds"), rows)


def _share(rule: RuleMargin) -> str:
    share = relative_margin(rule)
    return "" if share is None else percent(share)
