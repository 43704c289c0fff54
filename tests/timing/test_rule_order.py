"""Where a rule stands does not matter; whose rule it is does."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest
from tests.workshop import MACHINES, OLD

from waitwright.api.check import check
from waitwright.api.opening import Question, open_machine
from waitwright.api.rank import Wish, rank
from waitwright.rulebook.domain import Rulebook
from waitwright.rulebook.load import Source, build_rulebook, load_rulebook, packed_sources
from waitwright.timing.bind import bind
from waitwright.timing.margins import BudgetMargin, LimitMargin, margins


@pytest.fixture(scope="module")
def shuffled() -> Rulebook:
    """The packed rules, read in another order: files renamed so that they sort otherwise, and mixed up."""
    chance = random.Random(7)
    sources = [
        source
        if "words/" in source.name
        else Source(f"{source.name.rpartition('/')[0]}/{chance.random()}.toml", source.content)
        for source in packed_sources()
    ]
    chance.shuffle(sources)
    return build_rulebook(sources)


def test_the_order_is_another_one(shuffled: Rulebook) -> None:
    """The shuffled rulebook holds the same rules and parts in another order."""
    book = load_rulebook()

    assert list(shuffled.budgets) != list(book.budgets)
    assert dict(shuffled.budgets) == dict(book.budgets)
    assert dict(shuffled.parts) == dict(book.parts)


@pytest.mark.parametrize("name", MACHINES)
def test_file_order_changes_no_verdict(name: str, shuffled: Rulebook) -> None:
    """Every budget and limit has the same figures and verdict, whatever the order of the files."""
    found = []
    for book in (load_rulebook(), shuffled):
        machine = open_machine(name, book)
        all_margins = margins(machine, bind(machine), machine.current)
        rules: list[BudgetMargin | LimitMargin] = [*all_margins.budgets, *all_margins.limits]
        found.append({one.bound.id: (one.margin, one.verdict) for one in rules})

    assert found[0] == found[1]
    assert len(found[0]) > 60


@pytest.mark.parametrize("rated", [True, False])
def test_file_order_changes_no_ranking(
    rated: bool, shuffled: Rulebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same combinations come out in the same order with the same gains."""
    wish = Wish(rated=rated, top=4)
    answers: list[list[Any]] = []
    for book in (load_rulebook(), shuffled):
        monkeypatch.setattr("waitwright.api.opening.load_rulebook", lambda _extra, book=book: book)
        results = rank(Question(OLD), wish).results
        answers.append([(dict(result.settings), result.gain) for result in results])

    assert answers[0] == answers[1]
    assert len(answers[0]) == 4


OWN_BUDGET = """
[[budget]]
id = "l2.read.first.data"
title = "Cache read, first word, with the owner's long wires"
room = "l2"
when = "l2_active"
available = [{ name = "clocks for the first word", time = "l2_read_first_clocks * host_period" }]
spend = [{ name = "long wires", time = "ns(200)" }]
symptoms = ["hang"]
advice = "Shorten the wires."
source = "measured by the owner"
basis = "practice"
"""


def test_own_rules_change_the_verdict(tmp_path: Path) -> None:
    """A rule of the user's own replaces the packed one of its id: the verdict is that of the new rule."""
    (tmp_path / "mine.toml").write_text(OWN_BUDGET, "utf-8")

    packed_view, own_view = check(Question(OLD)), check(Question(OLD, rules=tmp_path))

    (before,) = [budget for budget in packed_view.budgets if budget.id == "l2.read.first.data"]
    (after,) = [budget for budget in own_view.budgets if budget.id == "l2.read.first.data"]
    assert (before.rated, packed_view.stands) == ("holds", True)
    assert (after.rated, after.margin_ns, own_view.stands) == ("falls short", -110.0, False)
    assert after.source == "measured by the owner"
    assert len(packed_view.budgets) == len(own_view.budgets)
