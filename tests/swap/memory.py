"""A memory for the best settings of machines: the same search, its answers kept for the next test."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from waitwright.explain import swaps
from waitwright.explain.swaps import Hints, Reach, Wanted, best_of
from waitwright.machine import Machine

_KNOWN: dict[object, Reach | None] = {}


def _remembering(machine: Machine, wanted: Wanted, hints: Hints | None = None) -> Reach | None:
    fitted = tuple((item.slot, item.part.id, item.count, item.fresh) for item in machine.fitted)
    costs = tuple(table.values.tobytes() for table in wanted.prices(machine))
    asked = (costs, wanted.odds, wanted.hours, wanted.seed)
    told = repr(machine.profile.history)
    key = (machine.name, fitted, tuple(machine.current.items()), asked, told)
    if key not in _KNOWN:
        _KNOWN[key] = best_of(machine, wanted, hints)
    return _KNOWN[key]


@contextmanager
def remembered() -> Iterator[None]:
    """Let exchanges be judged with the memory."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(swaps, "best_of", _remembering)
        yield
