"""Reasons for proposals: what they say is what the ledgers and the prices say."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
from tests.workshop import MACHINES, NEW, OLD, named, packed, ranked

from waitwright.belief.outlook import outlook
from waitwright.explain.figures import percent
from waitwright.explain.reasons import Block, Change, Kept, Reasoner, relative_margin
from waitwright.explain.sentences import change_sentence, kept_sentence
from waitwright.ids import Settings
from waitwright.machine import Machine
from waitwright.report.views import ChangeView, ResultView
from waitwright.rulebook.profiles import OptionDef
from waitwright.timing.margins import BudgetMargin, LimitMargin, margins
from waitwright.units import words
from waitwright.workload.gain import Pricer
from waitwright.workload.model import event_tables

SPARE = re.compile(r"Leaves (nothing to spare|[\d.]+(?: \w+)?) in '([^']+(?:'s [^']+)*)'")
SHORT = re.compile(r"Leaves '([^']+(?:'s [^']+)*)' ([\d.]+(?: \w+)?) short by data sheet")
BEFORE = re.compile(r"\(before: (nothing to spare|[\d.]+(?: (?!short)\w+)?(?: short)?)\)")
STOPPED = re.compile(
    r"(?:No further: '|Staying at ')(.+?)' would fall short by ([\d.]+(?: \w+)?) in "
    r"'([^']+(?:'s [^']+)*)'(?: \(and (\d+) more\))?\."
)
BROKEN = re.compile(r"(?:No further: '|Staying at ')(.+?)' would break a rule: (.+)\.$")


def settings_of(machine: Machine, result: ResultView) -> Settings:
    """A result's settings as the engine takes them."""
    return named(machine, **{option.replace("-", "_"): choice for option, choice in result.settings.items()})


def deciding(machine_name: str, chosen: Settings) -> dict[str, BudgetMargin | LimitMargin]:
    """Budgets and limits that decide under some settings, by title."""
    machine, rules = packed(machine_name)
    found = margins(machine, rules, chosen)
    both: list[BudgetMargin | LimitMargin] = [*found.budgets, *found.limits]
    return {m.bound.title: m for m in both if not m.bound.rule.advisory}


def told(margin: BudgetMargin | LimitMargin) -> str:
    """A margin as sentences tell it."""
    left = margin.margin
    unit = "ns" if isinstance(margin, BudgetMargin) else margin.bound.rule.unit
    assert left is not None
    if left == 0:
        return "nothing to spare"
    return words(left, unit) if left > 0 else f"{words(-left, unit)} short"


def all_changes(rated: bool) -> Iterator[tuple[str, ResultView, ChangeView]]:
    """Every change of every proposal for both machines."""
    for name in MACHINES:
        for result in ranked(name, rated).results:
            for change in result.changes:
                yield name, result, change


@pytest.mark.parametrize("rated", [True, False])
def test_shares_of_a_proposal_add_up(rated: bool) -> None:
    """The shares of all changes make up the gain, largest first, and each reason begins with its share."""
    for name in MACHINES:
        for result in ranked(name, rated).results:
            shares = [change.share for change in result.changes]
            assert sum(shares) == pytest.approx(result.gain, abs=1e-5)
            assert shares == sorted(shares, reverse=True)
            for change in result.changes:
                start = f"Buys {percent(change.share)}." if change.share > 0 else "Costs "
                assert change.reason.startswith(start) or abs(change.share) <= 0.0005


@pytest.mark.parametrize("rated", [True, False])
def test_what_a_change_leaves_is_what_the_ledger_leaves(rated: bool) -> None:
    """Every margin in a reason is that of the named budget, with the change and, as "before", without it."""
    seen = 0
    for name, result, change in all_changes(rated):
        machine, _ = packed(name)
        chosen = settings_of(machine, result)
        option = next(o for o in machine.options if o.id == change.option)
        origin: Settings = {**chosen, option.id: machine.current[option.id]}
        spare, short = SPARE.search(change.reason), SHORT.search(change.reason)
        if spare is None and short is None:
            assert "Leaves" not in change.reason
            continue
        seen += 1
        title = spare[2] if spare else short[1]  # type: ignore[index]
        now = deciding(name, chosen)[title]
        assert told(now) == (spare[1] if spare else f"{short[2]} short")  # type: ignore[index]
        before = BEFORE.search(change.reason)
        old = deciding(name, origin).get(title)
        if before is None:
            assert old is None
        else:
            assert old is not None
            assert told(old) == before[1]
            assert (now.margin or 0) < (old.margin or 0)
    assert seen > 5


def choice_labelled(option: OptionDef, label: str) -> str:
    """The id of the choice with that label."""
    (found,) = [choice.id for choice in option.choices if choice.label == label]
    return found


def sentences(rated: bool) -> Iterator[tuple[str, ResultView, OptionDef, str]]:
    """Every sentence of every proposal with the option that it is about."""
    for name, result, change in all_changes(rated):
        yield name, result, next(o for o in packed(name)[0].options if o.id == change.option), change.reason
    for name in MACHINES:
        for result in ranked(name, rated).results:
            for reason in result.reasons:
                option = next(
                    o for o in packed(name)[0].options if reason.startswith(f"{o.label} stays at '")
                )
                yield name, result, option, reason


def test_what_stands_in_the_way_really_does() -> None:
    """Each choice that a reason calls too fast falls short by the named figure in the named rule.

    The number of further rules is right as well.
    """
    seen = 0
    for name, result, option, reason in sentences(rated=True):
        stopped = STOPPED.search(reason)
        if stopped is None:
            continue
        seen += 1
        machine, rules = packed(name)
        label, figure, title, more = stopped.groups()
        wish: Settings = {**settings_of(machine, result), option.id: choice_labelled(option, label)}  # type: ignore[dict-item]
        found = margins(machine, rules, wish)
        failing: list[BudgetMargin | LimitMargin] = [
            m for m in found.short if option.id in m.bound.scope and not m.bound.rule.advisory
        ]
        (named_rule,) = [m for m in failing if m.bound.title == title]
        unit = "ns" if isinstance(named_rule, BudgetMargin) else named_rule.bound.rule.unit
        assert figure == words(-(named_rule.margin or 0), unit)
        assert len(failing) == 1 + int(more or 0)
    assert seen > 4


def test_rules_that_are_named_as_broken_are_broken() -> None:
    """A reason that names a logic rule names one that the choice breaks."""
    seen = 0
    for name, result, option, reason in sentences(rated=True):
        broken = BROKEN.search(reason)
        if broken is None:
            continue
        seen += 1
        machine, rules = packed(name)
        choice = choice_labelled(option, broken[1])
        wish: Settings = {**settings_of(machine, result), option.id: choice}  # type: ignore[dict-item]
        titles = [one.bound.title for one in margins(machine, rules, wish).broken if one.known]
        assert broken[2] in titles
    assert seen


def test_odds_in_reasons_are_those_of_the_outlook() -> None:
    """Where odds decide, what is too risky is told with the odds of the whole and of its weakest rule."""
    machine, rules = packed(NEW)
    (first, *_) = ranked(NEW, rated=False).results
    reason = next(text for text in first.reasons if text.startswith("Host clock stays"))

    assert re.search(r"'40 MHz' would leave odds of \d+ %: '.+' is .+ short by data sheet", reason)
    assert (
        outlook(machine, rules).odds(
            {**settings_of(machine, first), machine.setters["host_clock"]: "40"}  # type: ignore[dict-item]
        )
        < 0.9
    )


def test_nothing_is_said_of_options_that_could_not_be_faster() -> None:
    """An option is told as left alone only if a faster choice of it exists; slower ones need no reason."""
    for name in MACHINES:
        machine, rules = packed(name)
        pricer = Pricer(machine, event_tables(machine, machine.rulebook.workloads["integer"]))
        for result in ranked(name).results:
            chosen = settings_of(machine, result)
            for kept in Reasoner(machine, rules, pricer).kept(chosen):
                assert chosen[kept.option.id] == machine.current[kept.option.id]
                assert pricer.step(chosen, kept.option.id, kept.block.choice.id) < 0
                assert kept.block.extra > 0


@pytest.mark.parametrize("rated", [True, False])
def test_tightest_are_nearest_to_failing(rated: bool) -> None:
    """Listed under a proposal are rules with the least odds, or the least share of time or rating left."""
    for name in MACHINES:
        machine, rules = packed(name)
        alone = None if rated else outlook(machine, rules)
        for result in ranked(name, rated).results:
            chosen = settings_of(machine, result)
            odds = {} if alone is None else alone.rule_odds(chosen)
            known = [m for m in deciding(name, chosen).values() if m.margin is not None]
            danger = sorted(
                (min(odds.get(m.bound.id, 1.0), 0.999), relative_margin(m), m.bound.id) for m in known
            )
            assert [tight.id for tight in result.tightest] == [name for _, _, name in danger[:3]]


def test_whatever_a_change_endangers_is_named() -> None:
    """Where a change alone brings a budget or limit under odds of 0.99, its reason names one as bad."""
    seen = 0
    for name, result, change in all_changes(rated=False):
        machine, rules = packed(name)
        chosen = settings_of(machine, result)
        option = next(o for o in machine.options if o.id == change.option)
        origin: Settings = {**chosen, option.id: machine.current[option.id]}
        view = outlook(machine, rules)
        now, before = view.rule_odds(chosen), view.rule_odds(origin)
        worst = min((odds for rule, odds in now.items() if before[rule] - odds > 0.005), default=1.0)
        if worst < 0.99:
            seen += 1
            titles = {rule.id: rule.title for rule in rules.deciding}
            assert any(titles[rule] in change.reason for rule, odds in now.items() if odds <= worst + 1e-9)
    assert seen > 0


# --------------------------------------------------------------------- rarely needed wordings


def some_change(**more: object) -> Change:
    """A change of the cache rhythm on the packed 386 machine."""
    machine, _ = packed(OLD)
    option = machine.option(machine.setters["l2_read_first_clocks"])
    change = Change(option, option.choices[0], option.choices[2], 0.1, None, None, None)
    return replace(change, **more)  # type: ignore[arg-type]


def some_block(**more: object) -> Block:
    """A choice that nothing stands in the way of yet."""
    machine, _ = packed(OLD)
    option = machine.option(machine.setters["l2_read_first_clocks"])
    return replace(Block(option.choices[3], 0.1, (), ()), **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("share", "sentence"),
    [
        (0.1, "Buys 10 %."),
        (0.0004, "No speed of its own; it is safer, or makes room for the rest."),
        (-0.02, "Costs 2.0 %, which makes room for the rest."),
    ],
)
def test_what_a_change_brings(share: float, sentence: str) -> None:
    """A change buys speed, costs some, or only makes room."""
    assert change_sentence(some_change(share=share)) == sentence


def test_margins_in_words() -> None:
    """A budget is left with time to spare, with nothing, or short; ample ones are not worth a word."""
    machine, rules = packed(OLD)
    found = margins(machine, rules, machine.current).budgets
    margin = next(m for m in found if m.bound.id == "l2.read.first.data")
    assert margin.spent is not None

    def sentence(available: int, before: int | None = None, odds: float | None = None) -> str:
        changed = replace(margin, available=(margin.spent or 0) + available)
        return change_sentence(some_change(tightest=changed, before=before, odds=odds))

    title = margin.bound.title
    assert sentence(2500, 40_000) == f"Buys 10 %. Leaves 2.5 ns in '{title}' (before: 40 ns)."
    assert sentence(0, -500) == f"Buys 10 %. Leaves nothing to spare in '{title}' (before: 0.5 ns short)."
    assert sentence(-1000, 0) == (
        f"Buys 10 %. Leaves '{title}' 1 ns short by data sheet (before: nothing to spare)."
    )
    assert (
        sentence(-1000, None, 0.97) == f"Buys 10 %. Leaves '{title}' 1 ns short by data sheet, odds 97.0 %."
    )
    assert sentence(10 * int(margin.spent)) == "Buys 10 %."


def test_odds_without_a_rule_to_blame() -> None:
    """Odds that no single rule explains are told all the same."""
    kept = Kept(some_change().option, some_change().origin, some_block(odds=0.4))

    assert kept_sentence(kept).endswith("No further: '2-1-1-1' would leave odds of 40 %.")


def test_going_back_is_told_as_staying() -> None:
    """Where the next faster choice is the one set now, the sentence speaks of staying."""
    change = some_change()
    block = some_block(choice=change.origin, odds=0.4)

    assert "Staying at '3-2-2-2' would leave odds of 40 %." in change_sentence(replace(change, block=block))
