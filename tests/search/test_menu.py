"""The menu of choices that trials are picked from."""

from __future__ import annotations

from datetime import UTC, datetime
from math import prod
from pathlib import Path
from shutil import copytree

import numpy as np
import pytest
from hypothesis import assume, given, settings

from waitwright.api.next_trial import next_trial
from waitwright.api.opening import Question
from waitwright.search import structure
from waitwright.search.menu import Menu
from waitwright.search.problem import Problem
from waitwright.search.structure import take_apart

from .oracle import cost_of, is_legal, odds_of
from .strategies import problems

SMALL = Path(__file__).resolve().parents[1] / "hardness" / "files"


def test_options_that_nothing_ties_together(tmp_path: Path) -> None:
    """A board so simple that no option stands above the others still gets its trial."""
    copytree(SMALL, tmp_path, dirs_exist_ok=True)
    found = next_trial(Question(str(tmp_path / "attic.toml")), now=datetime(2026, 1, 31, tzinfo=UTC))

    assert found.trial is not None
    assert "memory-rhythm" in {change.option for change in found.trial.changes}


@settings(max_examples=150)
@given(problems(most=200, roomy=True))
def test_a_pick_is_priced_as_the_combination_that_it_stands_for(problem: Problem) -> None:
    """What a priced menu adds up for a pick is the cost and the odds of its combination, which is legal.

    Second opinion: the combination alone, table by table.
    """
    assert problem.weights is not None
    with pytest.MonkeyPatch.context() as patch:  # so that variables are fixed first in small problems too
        patch.setattr(structure, "_ENOUGH", 0)
        patch.setattr(structure, "_WORTHWHILE", 1.0)
        assume(take_apart(problem).conditions)
        menu = Menu(problem, least=0.0)
        priced = menu.priced(problem)
        picks = priced.frontier(0.0)

    for pick in picks:
        values = menu.values(pick)
        lines = list(zip(priced.courses, pick[1:], strict=True))
        cost = int(priced.own_costs[pick[0]]) + sum(int(course.costs[line]) for course, line in lines)
        draws = priced.own_draws[pick[0]] * prod(
            (course.draws[line] for course, line in lines), start=np.ones(len(problem.weights))
        )
        assert is_legal(problem, values)
        assert cost == cost_of(problem, values)
        assert float(draws @ problem.weights) == pytest.approx(odds_of(problem, values), abs=1e-5)
