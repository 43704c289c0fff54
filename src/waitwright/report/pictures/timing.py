"""The timing picture of a budget: clock edges on top, delays as a staircase, and what is left or missing."""

from __future__ import annotations

from waitwright.explain.figures import chance, measured
from waitwright.report.margin_view import BudgetView, DelayView
from waitwright.report.pictures.canvas import LETTER, LINE, WIDTH, Canvas, identifier, letters, wrapped
from waitwright.report.pictures.picture import Picture, Table
from waitwright.report.pictures.scale import Scale, ticks

_LEFT, _RIGHT = 8, WIDTH - 8
_WAVE = 14
"""Height of the clock's wave."""
_NARROWEST = 5.0
"""Units that half a clock needs to be drawn as a wave."""
_BAR = 10
_STEP = LINE + _BAR + 6
"""From one stair to the next: a line of text and its bar."""

_LAST = LINE + _BAR + 4
"""Height of the last stair, with the margin in it."""


def draw(budget: BudgetView, *, prefix: str = "") -> Picture:
    """The timing picture of *budget*, whether or not all of its figures are known."""
    canvas = Canvas(identifier(prefix, "timing", budget.id))
    longest = max(budget.available_ns or 0.0, budget.spent_ns or 0.0, 1e-9)
    drawing = _Drawing(canvas, budget, Scale(0.0, longest, _LEFT, _RIGHT))
    height = drawing.draw()
    alt = _told(budget)
    return canvas.picture(budget.title, alt, height, _table(budget))


class _Drawing:
    """One timing picture in the making, from the top down."""

    def __init__(self, canvas: Canvas, budget: BudgetView, scale: Scale) -> None:
        self._canvas = canvas
        self._budget = budget
        self._scale = scale

    def draw(self) -> float:
        """Put everything on the canvas; returns the height."""
        top = self._clock()
        floor = top + LINE + 14 + len(self._budget.delays) * _STEP + _LAST
        if self._budget.available_ns is not None:
            self._edges(_WAVE + LINE, floor)
        self._window(top)
        stairs = self._stairs(top + LINE + 14)
        return self._outcome(stairs)

    def _clock(self) -> float:
        """The clock as a wave, or as a rule where its edges would run together; returns the base line."""
        base = LINE + _WAVE + 4
        budget, scale = self._budget, self._scale
        period = budget.period_ns
        if period and (scale(period) - scale(0)) / 2 >= _NARROWEST:
            self._canvas.text(_LEFT, 12, f"{budget.clock}, period {measured(period, 'ns')}", "label")
            self._canvas.path(_wave(period, scale, base), "wave")
        else:
            named = f"{budget.clock}, period {measured(period, 'ns')}: too short to draw"
            self._canvas.text(_LEFT, 12, named if period else "time from the first edge", "label")
            self._canvas.line(scale.start, base, scale.end, base, "wave")
            for place in ticks(scale.low, scale.high, 10):
                self._canvas.line(scale(place), base - 7, scale(place), base, "wave")
        return base

    def _edges(self, top: float, bottom: float) -> None:
        """Faint lines down from the rising edges, and the line by which everything must be there."""
        period = self._budget.period_ns
        if period and (self._scale(period) - self._scale(0)) / 2 >= _NARROWEST:
            for turn in range(int(self._scale.high / period + 1e-6) + 1):
                at = self._scale(turn * period)
                self._canvas.line(at, top, at, bottom, "edge")
        until = self._scale(self._budget.available_ns or 0.0)
        self._canvas.line(until, top + 4, until, bottom, "deadline")

    def _window(self, top: float) -> None:
        """What there is: a dimension line over the whole window."""
        available = self._budget.available_ns
        if available is None:
            self._canvas.text(_LEFT, top + LINE, "time there is: unknown", "label")
            return
        y, end = top + LINE + 4, self._scale(available)
        words = f"{measured(available, 'ns')} there"
        self._canvas.line(_LEFT, y, end, y, "dimension")
        for at, inwards in ((float(_LEFT), 5), (end, -5)):
            self._canvas.path([(at + inwards, y - 3), (at, y), (at + inwards, y + 3)], "dimension")
        until = 0.0
        for line in self._budget.windows[:-1]:
            until += line.ns or 0.0
            self._canvas.line(self._scale(until), y - 3, self._scale(until), y + 3, "dimension")
        wide = letters(end - _LEFT) >= len(words) + 2
        x, anchor = ((_LEFT + end) / 2, "middle") if wide else (end + 6, "")
        self._canvas.text(x, y - 4 if wide else y + 4, words, "label strong", anchor)

    def _stairs(self, top: float) -> float:
        """One stair for each delay: its name, and a bar from where the one before ends; returns the foot."""
        start, y = 0.0, top
        for place, delay in enumerate(self._budget.delays):
            y = top + place * _STEP
            self._name(delay, start, y + 12)
            start = self._bar(delay, start, y + LINE)
        return top + len(self._budget.delays) * _STEP

    def _name(self, delay: DelayView, start: float, base: float) -> None:
        """Name and time of a delay, beginning at its bar where there is room for it."""
        shown = measured(delay.ns, "ns")
        words = wrapped(delay.name, letters(_RIGHT - _LEFT) - len(shown) - 2, 1)[0]
        length = (len(words) + len(shown) + 2) * LETTER
        x = max(float(_LEFT), min(self._scale(start), _RIGHT - length))
        self._canvas.text(x, base, f"{words}  {shown}", "label")

    def _bar(self, delay: DelayView, start: float, y: float) -> float:
        """The rated bar in outline, what it usually takes filled; returns where it ends, in ns."""
        if delay.ns is None:
            self._canvas.text(self._scale(start), y + _BAR, "?", "label strong")
            return start
        end = start + delay.ns
        left, right = self._scale(start), self._scale(end)
        usual = self._scale(start + min(delay.typical_ns or 0.0, delay.ns))
        self._canvas.box(left, y, max(right - left, 1.5), _BAR, "rated")
        if delay.typical_ns is not None:
            self._canvas.box(left, y, usual - left, _BAR, "usual")
        if start > 0:
            self._canvas.line(left, y - 6 - LINE, left, y, "riser")
        return end

    def _outcome(self, top: float) -> float:
        """The margin or the missing part, and how the bars are to be read."""
        budget = self._budget
        y = top + 2
        margin, available, spent = budget.margin_ns, budget.available_ns, budget.spent_ns
        if margin is None or available is None or spent is None:
            self._canvas.text(_LEFT, y + 12, "Margin unknown: a figure is missing", "label strong")
            return y + LINE + self._key(y + LINE + 6)
        left, right = sorted((self._scale(available), self._scale(spent)))
        words = f"{measured(abs(margin), 'ns')} {'missing' if margin < 0 else 'to spare'}"
        if margin < 0:
            self._canvas.box(left, y + LINE, max(right - left, 2), _BAR, "missing", "crayon")
        elif margin > 0:
            self._canvas.box(left, y + LINE, right - left, _BAR, "spare")
        else:
            words = "nothing to spare, nothing missing"
        length = len(words) * LETTER
        x = max(float(_LEFT), min((left + right - length) / 2, _RIGHT - length))
        self._canvas.text(x, y + 12, words, "label strong short" if margin < 0 else "label strong")
        foot = y + LINE + _BAR + 6
        return foot + self._key(foot)

    def _key(self, top: float) -> float:
        """What filled and outlined mean, with both sums; returns its height."""
        budget = self._budget
        x, y = float(_LEFT), top + 8
        self._canvas.box(x, y, 18, _BAR, "rated")
        self._canvas.text(x + 24, y + 9, f"at most {measured(budget.spent_ns, 'ns')}", "note")
        if budget.typical_ns is not None:
            self._canvas.box(x + 176, y, 18, _BAR, "usual")
            self._canvas.text(x + 200, y + 9, f"mostly {measured(budget.typical_ns, 'ns')}", "note")
        return _BAR + 14


def _wave(period: float, scale: Scale, base: float) -> list[tuple[float, float]]:
    """The clock from its first rising edge on."""
    points, time = [(scale.start, base)], 0.0
    high = False
    while time < scale.high - 1e-9:
        high = not high
        level = base - _WAVE if high else base
        ahead = min(time + period / 2, scale.high)
        points += [(scale(time), level), (scale(ahead), level)]
        time = ahead
    return points


def _told(budget: BudgetView) -> str:
    """The picture in sentences."""
    there = measured(budget.available_ns, "ns")
    delays = "; ".join(f"{line.name} {measured(line.ns, 'ns')}" for line in budget.delays)
    told = f"There are {there}; one after another take time: {delays or 'nothing'}."
    if budget.margin_ns is None:
        return f"{told} The margin is unknown, because a figure is missing."
    state = "are missing" if budget.margin_ns < 0 else "are left over"
    spent, margin = measured(budget.spent_ns, "ns"), measured(abs(budget.margin_ns), "ns")
    told += f" By data sheet they take {spent} at most, so that {margin} {state}."
    if budget.typical_ns is not None:
        told += f" Mostly they take {measured(budget.typical_ns, 'ns')}."
    return told


def _table(budget: BudgetView) -> Table:
    rows = [
        *((line.name, "there", measured(line.ns, "ns"), "") for line in budget.windows),
        *((line.name, "needed", measured(line.ns, "ns"), _usual(line.typical_ns)) for line in budget.delays),
        ("All that is there", "", measured(budget.available_ns, "ns"), ""),
        ("All that is needed", "", measured(budget.spent_ns, "ns"), _usual(budget.typical_ns)),
        ("Margin", "", measured(budget.margin_ns, "ns"), ""),
        ("Odds that it lasts", "", chance(budget.odds), ""),
    ]
    return Table(budget.title, ("Time", "", "By data sheet", "Mostly"), tuple(rows))


def _usual(time: float | None) -> str:
    return "" if time is None else measured(time, "ns")
