"""The packed rulebook, and benches over it."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from waitwright.rulebook.domain import Rulebook
from waitwright.rulebook.load import load_rulebook

from .bench import Bench, BenchMaker, Given


@pytest.fixture(scope="session")
def rulebook() -> Rulebook:
    """The packed rulebook."""
    return load_rulebook()


@pytest.fixture(scope="session")
def bench(rulebook: Rulebook) -> BenchMaker:
    """Makes a bench from parts by role and facts."""

    def make(parts: Mapping[str, str], facts: Mapping[str, Given]) -> Bench:
        return Bench.of(rulebook, parts, facts)

    return make
