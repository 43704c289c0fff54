"""Remedies tried out: every one cures, and nothing gentler was passed over."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.workshop import MACHINES, NEW, OLD, named, packed
from tests.workshop import settings as any_settings
from waitwright.belief.outlook import Outlook, outlook
from waitwright.explain.exchange import Exchanger
from waitwright.explain.members import TIERS, Choice, PartGroup, Tier, part_groups
from waitwright.explain.remedies import CLOCKS, MOST_PAIRS, Healer
from waitwright.explain.remedy import Remedy, gentleness
from waitwright.expr import evaluate
from waitwright.ids import ChoiceId, OptionId, Settings
from waitwright.machine import FactTable, Machine, build_machine
from waitwright.timing.bind import BoundRules, bind
from waitwright.timing.margins import margins
from waitwright.workload.gain import Pricer, gain
from waitwright.workload.model import event_tables

PRICERS: dict[int, tuple[Machine, Pricer]] = {}
"""By the identity of the machine, which is kept beside its pricer so that it stays what it is."""


@cache
def view_of(name: str) -> Outlook:
    """The outlook of a packed machine."""
    return outlook(*packed(name))


def price(machine: Machine, chosen: Settings) -> int:
    """Time of 1000 instructions of compiled code, in picoseconds."""
    if id(machine) not in PRICERS:
        work = machine.rulebook.workloads["integer"]
        PRICERS[id(machine)] = (machine, Pricer(machine, event_tables(machine, work)))
    return PRICERS[id(machine)][1].total(chosen)


def healer(name: str, asked: Settings, wanted: float = 0.9) -> Healer:
    """Finds remedies on a packed machine."""
    machine, rules = packed(name)
    return Healer(machine, rules, asked, view_of(name), wanted=wanted, price=price)


def judged(machine: Machine, rules: BoundRules, chosen: Settings, view: Outlook | None) -> tuple[float, bool]:
    """Odds (0 where a logic rule is broken) and whether data-sheet limits are kept."""
    found = margins(machine, rules, chosen)
    view = view or outlook(machine, rules, only=chosen)
    return 0.0 if any(one.known for one in found.broken) else view.odds(chosen), found.stands


def after(name: str, asked: Settings, remedy: Remedy) -> tuple[Machine, BoundRules, Settings]:
    """What the remedy makes of the machine and its settings."""
    machine, rules = packed(name)
    chosen = dict(asked)
    parts: dict[str, str] = {}
    for change in remedy.changes:
        if isinstance(change, PartGroup):
            parts.update({str(slot): str(change.part.id) for slot in change.slots})
        else:
            chosen[change.option.id] = change.choice
    if parts:
        machine = build_machine(machine.name, machine.profile, machine.board, machine.rulebook, parts)
        rules = bind(machine)
    return machine, rules, chosen


@st.composite
def wishes(draw: st.DrawFn, *, away: int = 3) -> tuple[str, Settings]:
    """A packed machine with up to *away* options at another choice."""
    name = draw(st.sampled_from(MACHINES))
    machine, _ = packed(name)
    other = draw(any_settings(machine))
    changed = draw(st.lists(st.sampled_from([o.id for o in machine.options]), min_size=1, max_size=away))
    return name, machine.settings_with({option: other[option] for option in changed})


levels = st.sampled_from([0.5, 0.9, 0.99])


@given(wishes(), levels)
@settings(max_examples=20)
def test_every_remedy_cures(wish: tuple[str, Settings], wanted: float) -> None:
    """Done and judged anew, it reaches what it is for; its odds, its price and its verdict are right."""
    name, asked = wish
    mend = healer(name, asked, wanted)
    before = price(packed(name)[0], asked)
    for remedy in mend.remedies():
        machine, rules, chosen = after(name, asked, remedy)
        odds, stands = judged(machine, rules, chosen, None)

        assert odds == pytest.approx(remedy.odds, abs=2e-4)
        assert stands == remedy.stands
        assert remedy.stands if mend.aim == "rated" else remedy.odds >= wanted
        assert remedy.gain == gain(before, price(machine, chosen))
        assert len({*chosen.items()} - {*asked.items()}) + bool(machine != packed(name)[0]) == len(
            remedy.changes
        )


@given(wishes(), levels)
@settings(max_examples=15)
def test_no_single_choice_is_passed_over(wish: tuple[str, Settings], wanted: float) -> None:
    """Whatever single choice cures, the remedies hold one of the same option, as easy to do, not slower."""
    name, asked = wish
    machine, rules = packed(name)
    mend = healer(name, asked, wanted)
    assume(mend.aim is not None)
    found = mend.remedies()
    singles = {
        (remedy.changes[0].option.id, remedy.tier): remedy
        for remedy in found
        if len(remedy.changes) == 1 and isinstance(remedy.changes[0], Choice)
    }
    for option, choice in other_choices(machine, asked):
        chosen = {**asked, option: choice}
        odds, stands = judged(machine, rules, chosen, view_of(name))
        if stands if mend.aim == "rated" else odds >= wanted:
            kept = singles.pop((option, tier_of(machine, asked, chosen, option)), None)
            known = [one for one in found if one.words.startswith(f"{option}=")]
            assert kept or known
            best = max(one.gain for one in known)
            assert best >= gain(price(machine, asked), price(machine, chosen)) or kept
    assert not singles
    pairs = [remedy for remedy in found if len(remedy.changes) == 2]
    alone = [remedy for remedy in found if len(remedy.changes) == 1 and remedy.tier != "cpu"]
    assert len(pairs) <= MOST_PAIRS
    assert not pairs or {remedy.tier for remedy in alone} <= {"mode", "clock"}
    assert all(pair.gain > remedy.gain for pair in pairs for remedy in alone)


def other_choices(machine: Machine, asked: Settings) -> list[tuple[OptionId, ChoiceId]]:
    """Every single change of *asked*."""
    return [
        (option.id, choice.id)
        for option in machine.options
        for choice in option.choices
        if choice.id != asked[option.id]
    ]


def modes_on(machine: Machine, chosen: Settings) -> set[int]:
    """Modes that are on in which the board chooses by itself."""
    facts = FactTable(machine, chosen)
    return {i for i, mode in enumerate(machine.board.automatics) if evaluate(mode.when, facts) is True}


def tier_of(machine: Machine, before: Settings, now: Settings, option: OptionId) -> Tier:
    """How hard a change is to do, told from the clocks before and after it."""
    if modes_on(machine, now) - modes_on(machine, before):
        return "mode"
    clocks: list[Mapping[str, object]] = [
        {clock: FactTable(machine, chosen)(clock) for clock in CLOCKS} for chosen in (before, now)
    ]
    for clock in CLOCKS:
        was, is_now = clocks[0][clock], clocks[1][clock]
        if was is not None and is_now is not None and is_now < was:  # type: ignore[operator]
            return "clock"
    return "setting" if machine.option(option).kind == "setup" else "jumper"


@given(wishes(), levels)
@settings(max_examples=20)
def test_smallest_grade_that_cures_is_told(wish: tuple[str, Settings], wanted: float) -> None:
    """No part of the same family that improves the failing rules less would have done."""
    name, asked = wish
    mend = healer(name, asked, wanted)
    exchanger = Exchanger(packed(name)[0])
    for remedy in mend.remedies():
        change = remedy.changes[0]
        if isinstance(change, PartGroup):
            if len(remedy.changes) == 2:
                continue
            group = next(g for g in part_groups(packed(name)[0]) if g.slots == change.slots)
            for part in mend._improving(group):
                if part.id == change.part.id:
                    break
                machine, rules = exchanger.built({group: part.id})
                odds, stands = judged(machine, rules, asked, None)
                assert not stands if mend.aim == "rated" else odds < wanted


@given(wishes(), levels)
@settings(max_examples=20)
def test_gentle_remedies_come_first(wish: tuple[str, Settings], wanted: float) -> None:
    """One change comes before two, and what is easily done before what is not."""
    name, asked = wish
    found = healer(name, asked, wanted).remedies()

    assert list(found) == sorted(found, key=gentleness)
    ranks = [(len(remedy.changes), TIERS.index(remedy.tier)) for remedy in found]
    assert ranks == sorted(ranks)


def test_nothing_wrong_needs_no_remedy() -> None:
    """Settings with good odds within all limits get none."""
    mend = healer(OLD, packed(OLD)[0].settings_with({}))

    assert mend.aim is None
    assert mend.remedies() == ()


def test_two_choices_are_told_where_no_single_one_serves() -> None:
    """Hidden refresh beside a sound card, and a bus clock the cards do not bear: both must be changed."""
    asked = named(packed(OLD)[0], refresh_hidden="on", isa_clock="clk2-4")

    found = healer(OLD, asked).remedies()

    assert found
    assert all(len(remedy.changes) == 2 for remedy in found)
    assert all("refresh-hidden=off" in remedy.words for remedy in found)
    assert found[0].tier == "clock"


TWO_SLOW = {"tag": "sram-32kx8-35", "simm-0": "fpm-150", "simm-1": "fpm-150"}
"""Parts of which one alone spoils a fast cache, the other fast memory."""


def mended(parts: Mapping[str, str], **sets: str) -> tuple[Machine, tuple[Remedy, ...]]:
    """The packed 386 machine with *parts*, and what cures it with *sets*."""
    machine = packed(OLD)[0]
    slow = build_machine(machine.name, machine.profile, machine.board, machine.rulebook, parts)
    rules = bind(slow)
    found = Healer(slow, rules, named(slow, **sets), outlook(slow, rules), wanted=0.9, price=price)
    return slow, found.remedies()


def test_two_parts_are_told_where_only_a_slower_clock_serves() -> None:
    """Tag and modules are both too slow: the pair of better ones is told, and it cures."""
    sets = {"cache_read": "2-2-2-2", "ras_precharge": "2"}
    slow, found = mended(TWO_SLOW, **sets)
    pairs = [remedy for remedy in found if all(isinstance(change, PartGroup) for change in remedy.changes)]

    assert {remedy.tier for remedy in found if len(remedy.changes) == 1} == {"clock"}
    assert [remedy.words for remedy in pairs] == ["part:tag=sram-32kx8-25 part:simm-0+simm-1=fpm-80"]
    parts = {"tag": "sram-32kx8-25", "simm-0": "fpm-80", "simm-1": "fpm-80"}
    rebuilt = build_machine(slow.name, slow.profile, slow.board, slow.rulebook, parts)
    assert judged(rebuilt, bind(rebuilt), named(slow, **sets), None)[0] == pytest.approx(pairs[0].odds)
    for grade in ("tag", "simm"):
        worse = {slot: TWO_SLOW[slot] if slot.startswith(grade) else part for slot, part in parts.items()}
        other = build_machine(slow.name, slow.profile, slow.board, slow.rulebook, worse)
        assert judged(other, bind(other), named(slow, **sets), None)[0] < 0.9


def test_a_part_with_a_choice_is_told_where_both_are_needed() -> None:
    """One of the two faults may be cured by a part and the other by a setting, told together."""
    found = mended(TWO_SLOW, cache_read="2-2-2-2", ras_precharge="2")[1]
    mixed = [
        remedy
        for remedy in found
        if [type(change) for change in remedy.changes] == [Choice, PartGroup] and remedy.tier == "chip"
    ]

    assert mixed
    assert all(remedy.odds >= 0.9 for remedy in mixed)


def test_pairs_with_parts_are_those_of_brute_force() -> None:
    """Of all tags with all modules, the first pair that cures is told: smallest grades, by the ladder."""
    sets = {"cache_read": "2-2-2-2", "ras_precharge": "2"}
    slow = mended(TWO_SLOW)[0]
    cures = set()
    for tag in ("25", "20", "15", "12"):
        for modules in ("120", "100", "80", "70", "60"):
            parts = {"tag": f"sram-32kx8-{tag}", "simm-0": f"fpm-{modules}", "simm-1": f"fpm-{modules}"}
            machine = build_machine(slow.name, slow.profile, slow.board, slow.rulebook, parts)
            if judged(machine, bind(machine), named(slow, **sets), None)[0] >= 0.9:
                cures.add((tag, modules))

    assert ("25", "80") in cures
    assert not {("25", "120"), ("25", "100")} & cures


def test_a_cpu_is_not_told_where_something_gentler_serves() -> None:
    """A tag chip that is too slow asks for a better one or one more clock, not for another CPU."""
    asked = named(packed(OLD)[0], cache_read="2-1-1-1")
    tiers = [remedy.tier for remedy in healer(OLD, asked).remedies()]

    assert "chip" in tiers and tiers[0] == "setting"
    assert "cpu" not in tiers
    assert tiers.index("mode") > tiers.index("setting")


def test_a_cpu_is_told_where_only_a_slower_clock_would_serve() -> None:
    """A CPU above its rating is cured by its clock or by another CPU."""
    tiers = [remedy.tier for remedy in mended({"cpu": "386dx-20"})[1]]

    assert tiers == ["clock", "cpu"]


def test_slower_memory_asks_for_a_faster_grade() -> None:
    """With 150 ns modules at 33 MHz the smallest better grade that reaches the odds is named."""
    words = [remedy.words for remedy in mended({"simm-0": "fpm-150"})[1] if remedy.tier == "chip"]

    assert words == ["part:simm-0=fpm-120"]


def test_a_choice_that_is_out_of_reach_has_no_remedy_but_another_choice() -> None:
    """50 MHz on the 486 board is cured by no part and by no other option, only by a slower clock."""
    found = healer(NEW, named(packed(NEW)[0], host_clock="50")).remedies()

    assert [remedy.tier for remedy in found] == ["clock"]
    assert found[0].words.startswith("host-clock=")
