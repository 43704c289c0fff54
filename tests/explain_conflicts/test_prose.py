"""The prose outside proofs: reasons, tolls, exchanges, verdicts of ``reach``, ledgers, texts of rules."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from io import StringIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console

from tests.explain_conflicts.test_remedies import view_of
from tests.workshop import packed
from tests.workshop import settings as any_settings
from waitwright._resources import packed_names
from waitwright.api.judging import judge
from waitwright.api.opening import Bench
from waitwright.explain.figures import chance, percent, several, signed_percent
from waitwright.explain.reasons import Block, Change, Kept, MarginOf, Reasoner
from waitwright.explain.sentences import change_sentence, kept_sentence, reach_sentence
from waitwright.explain.telling import Teller
from waitwright.explain.toll import Toll
from waitwright.ids import Settings
from waitwright.machine import Machine
from waitwright.report.ledger import Footnotes, ledger_lines
from waitwright.report.swap_views import ExchangeView, PairsView, SwapsView, SwapView
from waitwright.report.text.swap import show_swaps
from waitwright.rulebook.domain import Budget, Limit, LogicRule
from waitwright.rulebook.load import load_rulebook
from waitwright.timing.margins import BudgetMargin, margins
from waitwright.units import words
from waitwright.workload.gain import Pricer
from waitwright.workload.model import event_tables

MACHINES = packed_names("machines")
"""Every packed machine: each has its own board, labels and parts."""

UNITS = "ns|us|ms|s|MHz|MB|KB|V|mV|A|loads?|clocks?|changes?|%|percent|bits?"
NUMBER = re.compile(rf"(?<![\w.'/-])(\d+(?:\.\d+)?) ({UNITS})(?=[ ,;:.)]|$)")
BADLY_COUNTED = re.compile(
    r"(?<![\d.,+-])1 "
    r"(ns are|(loads|clocks|changes|bits|pairs|hours|conflicts|reasons)\b|more were|more bring )"
)


def well_formed(sentence: str) -> bool:
    """One sentence or more: a capital or a quotation first, one full stop last, nothing empty or doubled."""
    return (
        (sentence[0].isupper() or sentence[0].isdigit() or sentence[0] in "'+-")
        and sentence.endswith(".")
        and not sentence.endswith("..")
        and not re.search(r"  |''|\(\)| [.,;:]|None|nan|inf ", sentence)
        and not BADLY_COUNTED.search(sentence)
    )


@cache
def pricer_of(name: str) -> Pricer:
    """Prices the default work on a packed machine."""
    machine, _ = packed(name)
    return Pricer(machine, event_tables(machine, machine.rulebook.workloads["integer"]))


@st.composite
def proposals(draw: st.DrawFn) -> tuple[str, Settings]:
    """Any packed machine with up to five options at another choice."""
    name = draw(st.sampled_from(MACHINES))
    machine, _ = packed(name)
    other = draw(any_settings(machine))
    ids = [option.id for option in machine.options]
    changed = draw(st.lists(st.sampled_from(ids), min_size=1, max_size=5))
    return name, machine.settings_with({option: other[option] for option in changed})


# ------------------------------------------------------------------------------------ reasons


def told_of(change: Change) -> set[str]:
    """Every figure that the sentence about a change may hold."""
    shown = {percent(abs(change.share))}
    if change.tightest is not None:
        shown |= {*of_margin(change.tightest, change.tightest.margin), chance(change.odds)}
        shown |= set(of_margin(change.tightest, change.before))
    return shown | of_block(change.block)


def of_margin(rule: MarginOf, margin: object) -> Iterator[str]:
    """A margin in words, whichever its sign."""
    if margin is not None:
        unit = "ns" if isinstance(rule, BudgetMargin) else rule.bound.rule.unit
        yield words(abs(margin), unit)  # type: ignore[arg-type]


def of_block(block: Block | None) -> set[str]:
    """Every figure that is told of a choice not taken."""
    if block is None:
        return set()
    shown = {chance(block.odds), chance(block.weakest)}
    return shown.union(*(of_margin(one, one.margin) for one in block.margins))


def unquoted(machine: Machine, sentence: str) -> str:
    """A sentence without titles of rules and labels of choices, which have figures of their own."""
    rules = packed(machine.name)[1]
    quoted = [f"'{bound.title}'" for bound in rules.deciding] + [bound.title for bound in rules.logic]
    for title in quoted:
        sentence = sentence.replace(title, "*")
    for option in machine.options:
        sentence = sentence.replace(f"{option.label} stays", "* stays")
        for choice in option.choices:
            sentence = sentence.replace(f"'{choice.label}'", "*")
    return sentence


@given(proposals(), st.sampled_from([None, 0.9, 0.99]))
@settings(max_examples=25)
def test_reasons_tell_figures_of_the_ledger(proposal: tuple[str, Settings], wanted: float | None) -> None:
    """Each number in a reason is a share, an odds or a margin that the engine has; each sentence is whole."""
    name, chosen = proposal
    machine, rules = packed(name)
    view = None if wanted is None else view_of(name)
    reasoner = Reasoner(machine, rules, pricer_of(name), view, wanted or 0.0)
    found = margins(machine, rules, chosen)
    every: list[MarginOf] = [*found.budgets, *found.limits]
    now = {one.bound.id: one.margin for one in every}
    told: list[tuple[str, set[str]]] = []
    for change in reasoner.changes(chosen):
        told.append((change_sentence(change), told_of(change)))
        if change.tightest is not None:
            assert change.tightest.margin == now[change.tightest.bound.id]
    told += [(kept_sentence(kept), of_kept(kept)) for kept in reasoner.kept(chosen)]
    for sentence, figures in told:
        bare = unquoted(machine, sentence)

        assert well_formed(sentence)
        assert {" ".join(pair) for pair in NUMBER.findall(bare)} <= {one.lstrip("<> ") for one in figures}


def of_kept(kept: Kept) -> set[str]:
    """Every figure that the sentence about an option left alone may hold."""
    return of_block(kept.block)


# -------------------------------------------------------------------------------------- tolls


@given(st.floats(0, 1), st.floats(0, 1), st.sampled_from(MACHINES))
def test_tolls_tell_their_two_figures(odds: float, share: float, name: str) -> None:
    """What a rule takes is told with its odds and its share."""
    sentence = Teller(packed(name)[0]).toll(Toll("a.rule", odds, share), "Some rule")

    assert well_formed(sentence)
    assert f"odds of {chance(odds)}: {percent(share)} of" in sentence


# ------------------------------------------------------------------------------------ ledgers


@given(proposals())
@settings(max_examples=40)
def test_ledgers_have_every_figure_and_every_source(proposal: tuple[str, Settings]) -> None:
    """Each mark in a ledger has its source, each source a mark, and sums are those of the lines."""
    name, chosen = proposal
    machine, rules = packed(name)
    judged = judge(Bench(machine, rules, chosen), seed=0, hours=None)
    notes = Footnotes()
    lines = [
        line
        for rule in judged.rules
        if rule.rated in {"falls short", "tight"}
        for line in ledger_lines(rule, notes)
    ]
    marks = {int(mark) for line in lines for mark in re.findall(r"\[(\d+)\]$", line)}

    assert marks == set(range(1, len(notes.sources) + 1))
    assert all(notes.sources) and len(set(notes.sources)) == len(notes.sources)
    assert not any(BADLY_COUNTED.search(line) or "None" in line for line in lines)
    teller = Teller(machine)
    assert all(well_formed(teller.verdict(one, chosen)) for one in judged.margins.short)


# ------------------------------------------------------------------------------ swap and reach

VERDICTS = st.sampled_from(["faster", "changes nothing", "slower", "nothing holds"])


@st.composite
def swaps(draw: st.DrawFn) -> SwapView:
    """One exchange, of whatever use."""
    verdict = draw(VERDICTS)
    extra = {"faster": 0.002 + draw(st.floats(0, 3)), "slower": -0.002 - draw(st.floats(0, 0.9))}.get(
        verdict, 0
    )
    none = verdict == "nothing holds"
    exchange = ExchangeView("tag", "tag chip socket", "a-20", "RAM, 20 ns", "a-15", "RAM, 15 ns", 1)
    opens = tuple(f"Option {place}: slow -> fast" for place in range(draw(st.integers(0, 3))))
    return SwapView(
        (exchange,), None if none else 0.1, None if none else extra, None if none else 0.95,
        opens if verdict == "faster" else (), verdict,
    )  # fmt: skip


@given(st.lists(swaps(), min_size=1, max_size=4), st.tuples(*[st.integers(0, 3)] * 3))
def test_exchanges_are_told_with_their_figures(found: list[SwapView], counts: tuple[int, int, int]) -> None:
    """Gains stand there as they are, counts agree with their nouns, and a part of no use is said to be."""
    view = SwapsView("mill", "A mill", "integer", 0.9, "spares", 0.1, tuple(found), PairsView(*counts), ())
    out = StringIO()
    show_swaps(view, Console(file=out, width=80, highlight=False, color_system=None))
    flat = " ".join(out.getvalue().split())

    assert not BADLY_COUNTED.search(flat) and "None" not in flat
    for one in found:
        if one.verdict == "faster":
            assert f"{signed_percent(one.extra or 0)} more, {signed_percent(one.gain or 0)} over" in flat
            assert not one.opens or f"best settings then, {several(len(one.opens), 'change')}:" in flat
    assert ("Would change nothing" in flat) == any(one.verdict == "changes nothing" for one in found)
    assert ("Would make it worse" in flat) == any(one.verdict in {"slower", "nothing holds"} for one in found)


@given(
    st.booleans(),
    st.one_of(st.none(), st.floats(-0.9, 9)),
    st.lists(st.floats(0.002, 9), max_size=2),
    st.floats(0.01, 9),
)
def test_verdicts_of_reach(reached: bool, fastest: float | None, closing: list[float], needed: float) -> None:
    """Each verdict is a whole sentence, tells the fastest gain where it is out of reach, and no other."""
    closing.sort(reverse=True)
    reached = reached and fastest is not None
    sentence = reach_sentence(reached, fastest, closing, needed, 0.9)

    assert well_formed(sentence)
    if fastest is not None and not reached:
        assert signed_percent(fastest) in sentence
        assert ("would get there" in sentence) == bool(closing and closing[0] >= needed)
        assert ("These exchanges" in sentence) == (len(closing) > 1 and closing[0] >= needed)


# ------------------------------------------------------------------------------- texts of rules


def test_texts_of_rules_read_well() -> None:
    """Titles are no sentences, advice is; neither is empty, doubled or badly counted."""
    book = load_rulebook()
    rules: list[Budget | Limit | LogicRule] = [*book.budgets.values(), *book.limits.values()]
    for rule in (*rules, *book.logic.values()):
        assert rule.title[0].isupper() and not rule.title.endswith(".") and "  " not in rule.title
        assert not rule.advice or well_formed(rule.advice), rule.id
    for part in book.parts.values():
        assert part.title and "  " not in part.title and not part.title.endswith(".")


@pytest.mark.parametrize("name", MACHINES)
def test_labels_of_boards_are_well_counted(name: str) -> None:
    """No label says "1 clocks", and none is empty."""
    machine, _ = packed(name)
    for option in machine.options:
        for text in (option.label, *(choice.label for choice in option.choices)):
            assert text and text == " ".join(text.split())
            assert not BADLY_COUNTED.search(text)
