"""Gains, and how a gain is shared out among the changes that bring it."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from itertools import permutations
from math import factorial, isclose

import pytest
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st
from tests.workshop import MACHINES, OLD, named, packed, settings

from waitwright.ids import OptionId, Settings
from waitwright.machine import Machine
from waitwright.workload.gain import Pricer, gain
from waitwright.workload.model import event_tables

CLOSE = 1e-9


@cache
def priced(name: str, workload: str = "integer") -> Pricer:
    """A packed machine's prices for one kind of work."""
    machine, _ = packed(name)
    return Pricer(machine, event_tables(machine, machine.rulebook.workloads[workload]))


def few_changes(machine: Machine) -> st.SearchStrategy[tuple[Settings, Settings]]:
    """Two combinations that differ in at most five options."""
    few = st.sets(st.sampled_from([option.id for option in machine.options]), max_size=5)

    def mixed(drawn: tuple[Settings, Settings, set[OptionId]]) -> tuple[Settings, Settings]:
        before, other, changed = drawn
        return before, {**before, **{option: other[option] for option in changed}}

    return st.tuples(settings(machine), settings(machine), few).map(mixed)


def averaged_over_orders(pricer: Pricer, before: Settings, after: Settings) -> dict[OptionId, Fraction]:
    """Each change's share by its definition: what it saves on average over all orders of the changes."""
    changed = [option for option in before if before[option] != after[option]]
    saved = dict.fromkeys(changed, Fraction(0))
    for order in permutations(changed):
        here = dict(before)
        for option in order:
            cost = pricer.total(here)
            here[option] = after[option]
            saved[option] += cost - pricer.total(here)
    whole = pricer.total(after) * factorial(len(changed))
    return {option: value / whole for option, value in saved.items()}


def test_gain_is_speed_over_speed() -> None:
    """Half the time is twice the speed, a gain of one; more time is a loss."""
    assert gain(200, 100) == 1.0
    assert gain(100, 100) == 0.0
    assert gain(100, 125) == pytest.approx(-0.2)


@pytest.mark.parametrize("name", MACHINES)
@given(data=st.data())
@examples(max_examples=40)
def test_shares_add_up_to_the_gain(name: str, data: st.DataObject) -> None:
    """However many options are changed, their shares add up to the gain of all changes together."""
    pricer = priced(name)
    before, after = data.draw(settings(packed(name)[0])), data.draw(settings(packed(name)[0]))

    shares = pricer.shares(before, after)

    assert set(shares) == {option for option in before if before[option] != after[option]}
    whole = gain(pricer.total(before), pricer.total(after))
    assert isclose(sum(shares.values()), whole, rel_tol=CLOSE, abs_tol=CLOSE)


@pytest.mark.parametrize("name", MACHINES)
@given(data=st.data())
@examples(max_examples=15)
def test_shares_are_averages_over_all_orders(name: str, data: st.DataObject) -> None:
    """A share is what the change saves on average over every order in which the changes can be made."""
    pricer = priced(name)
    before, after = data.draw(few_changes(packed(name)[0]))

    shares, expected = pricer.shares(before, after), averaged_over_orders(pricer, before, after)

    assert shares.keys() == expected.keys()
    for option, share in shares.items():
        assert isclose(share, expected[option], rel_tol=CLOSE, abs_tol=CLOSE), option


@pytest.mark.parametrize("name", MACHINES)
@given(data=st.data())
@examples(max_examples=30)
def test_one_change_has_the_whole_gain(name: str, data: st.DataObject) -> None:
    """A single change brings the whole gain, and :meth:`Pricer.step` foresees its cost."""
    machine, pricer = packed(name)[0], priced(name)
    before = data.draw(settings(machine))
    option = data.draw(st.sampled_from(machine.options))
    after = {**before, option.id: data.draw(st.sampled_from(option.choices)).id}

    step = pricer.step(before, option.id, after[option.id])

    assert pricer.total(before) + step == pricer.total(after)
    if before != after:
        shares = pricer.shares(before, after)
        assert shares == {option.id: pytest.approx(gain(pricer.total(before), pricer.total(after)))}


def test_options_that_do_nothing_have_no_share() -> None:
    """What an automatic mode overrides, and what no work depends on, has a share of exactly zero."""
    machine, pricer = packed(OLD)[0], priced(OLD)
    before = named(machine, self_timing="on")
    after = named(machine, self_timing="on", cache_read="2-1-1-1", ras_precharge="2", posted_writes="on")

    shares = pricer.shares(before, after)

    assert shares["cache-read"] == shares["ras-precharge"] == 0.0  # type: ignore[index]
    assert shares["posted-writes"] > 0.0  # type: ignore[index]


def test_nothing_changed_has_no_shares() -> None:
    """Between equal settings there is nothing to share out."""
    machine, pricer = packed(OLD)[0], priced(OLD)

    assert pricer.shares(machine.current, machine.current) == {}


def test_a_change_for_the_worse_has_a_negative_share() -> None:
    """A change that costs speed has a negative share beside one that brings some."""
    machine, pricer = packed(OLD)[0], priced(OLD)

    shares = pricer.shares(machine.current, named(machine, host_clock="25", cache_read="2-2-2-2"))

    assert shares["host-clock"] < 0 < shares["cache-read"]  # type: ignore[index]
