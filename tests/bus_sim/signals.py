"""Signals of a bus in an event-driven simulation: clock edges, delays, and what a receiver saw.

Nothing here adds up a budget.  Parts are processes that wait for a signal and let another one follow after
their delay; receivers note when they looked.  Whether a signal had stood long enough is read off the notes.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Mapping
from fractions import Fraction
from math import lcm
from typing import Any, TypeAlias

import simpy

Steps: TypeAlias = Generator[simpy.Event, Any, None]
Facts: TypeAlias = Callable[[str], object]


class Sheet:
    """Times of one machine as whole ticks: data-sheet values, and half periods of its clocks."""

    def __init__(self, facts: Facts, names: Mapping[str, Fraction]) -> None:
        self._facts = facts
        scale = lcm(*(time.denominator for time in names.values()))
        self._scale = scale
        self._known = {name: int(time * scale) for name, time in names.items()}

    def __call__(self, name: str) -> int:
        """A time in ticks.

        Raises:
            KeyError: if the machine does not know it.
        """
        if name not in self._known:
            value = self._facts(name)
            if not isinstance(value, int | Fraction) or isinstance(value, bool):
                raise KeyError(name)
            ticks = Fraction(value) * self._scale
            assert ticks.denominator == 1, f"{name} is not a whole number of ticks"
            self._known[name] = int(ticks)
        return self._known[name]


class Signal:
    """A line that changes once in a run: others may wait for it."""

    def __init__(self, env: simpy.Environment) -> None:
        self._env = env
        self.changed = env.event()
        self.since: int | None = None

    def change(self) -> None:
        """Change now."""
        self.since = int(self._env.now)
        self.changed.succeed()


class Scene:
    """One bus access: signals, the parts between them, and receivers.

    Attributes:
        verdicts: What each receiver saw, by its name; filled in by :meth:`play`.
    """

    def __init__(self) -> None:
        self.env = simpy.Environment()
        self._looks: list[tuple[str, Signal, Signal, int]] = []
        self._widths: list[tuple[str, Signal, Signal, int]] = []

    def clock(self, half: int, halves: int, start: int = 0) -> list[Signal]:
        """Edges of a clock with half period *half*: number 0 at *start*, odd ones are falling."""
        edges = [Signal(self.env) for _ in range(halves + 1)]

        def ticking() -> Steps:
            yield self.env.timeout(start)
            for place, edge in enumerate(edges):
                if place:
                    yield self.env.timeout(half)
                edge.change()

        self.env.process(ticking())
        return edges

    def after(self, delay: int, *sources: Signal) -> Signal:
        """What a part puts out *delay* after the last of its inputs."""
        out = Signal(self.env)

        def part() -> Steps:
            yield self.env.all_of([source.changed for source in sources])
            yield self.env.timeout(delay)
            out.change()

        self.env.process(part())
        return out

    def look(self, name: str, line: Signal, when: Signal, setup: int) -> None:
        """A receiver takes *line* at *when*, and needs it to have stood for *setup*."""
        self._looks.append((name, line, when, setup))

    def measure(self, name: str, begin: Signal, end: Signal, least: int) -> None:
        """A part needs *least* between two changes."""
        self._widths.append((name, begin, end, least))

    def play(self) -> dict[str, bool]:
        """Let time run; receiver or part to whether it was content.  A name may be used several times."""
        self.env.run()
        found: dict[str, bool] = {}
        for name, first, second, least in (*self._looks, *self._widths):
            assert second.since is not None, f"{name}: never looked"
            content = first.since is not None and second.since - first.since >= least
            found[name] = found.get(name, True) and content
        return found
