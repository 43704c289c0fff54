"""Options, parameters and automatic modes of a machine."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.workshop import MACHINES, OLD, named, packed, rebuilt, settings, with_automatic

from waitwright.errors import UsageError
from waitwright.ids import ParameterName
from waitwright.machine import FactTable, Machine, parse_settings
from waitwright.machine.machine import OWN_PREFIX
from waitwright.rulebook.profiles import Automatic, BoardProfile
from waitwright.units import to_base


def value(machine: Machine, name: str, **changes: str) -> object:
    """The value of a fact under the current settings with changes."""
    return FactTable(machine, named(machine, **changes))(name)


def own_timing(machine: Machine) -> Automatic:
    """The packed board's mode that an option switches."""
    return next(mode for mode in machine.board.automatics if "automatic_timing" in mode.when.names)


# ------------------------------------------------------------------------------- parameters


def test_a_choice_sets_its_parameters() -> None:
    """A parameter that an option sets has the value of the choice."""
    machine, _ = packed(OLD)

    assert value(machine, "host_clock", host_clock="33") == Fraction(1, 30_000)
    assert value(machine, "host_clock", host_clock="40") == Fraction(1, 25_000)
    assert value(machine, "isa_recovery8_clocks", isa_rest="2-4") == 4


def test_what_the_board_fixes_stays() -> None:
    """A parameter that the board sets one way only has that value, whatever the rulebook's default is."""
    machine, _ = packed(OLD)

    assert machine.board.fixed
    for name, fixed in machine.board.fixed.items():
        assert value(machine, name) == fixed


def test_default_where_nobody_sets_it() -> None:
    """A parameter that neither option nor board sets has the rulebook's default, if there is one."""

    def bare(board: BoardProfile) -> BoardProfile:
        fixed = {name: v for name, v in board.fixed.items() if name not in {"dma_waits", "dram_edo_mode"}}
        return replace(board, fixed=fixed)

    machine = rebuilt(board=bare)
    defaults = machine.rulebook.parameters

    for name in ("dma_waits", "dram_edo_mode"):
        default = defaults[name].default
        expected = None if default is None else FactTable(machine, machine.current).value(default)
        assert value(machine, name) == expected


# --------------------------------------------------------------------------- automatic modes


@pytest.mark.parametrize("name", MACHINES)
def test_mode_takes_its_parameters_over(name: str) -> None:
    """With the mode on, each of its parameters has the mode's value, and what the option sets stays known."""
    machine, _ = packed(name)
    facts = FactTable(machine, named(machine, self_timing="on"))
    mode = own_timing(machine)

    for parameter, text in mode.sets.items():
        assert facts(parameter) == facts.value(text)
        option = machine.option(machine.setters[parameter])
        assert facts(f"{OWN_PREFIX}{parameter}") == option.choice(machine.current[option.id]).sets[parameter]


def test_mode_over_a_fixed_parameter() -> None:
    """A mode may also override what the board otherwise fixes."""
    machine = rebuilt(board=lambda board: with_automatic(board, "automatic_timing", dma_waits="3"))

    assert value(machine, "dma_waits", self_timing="off") == machine.board.fixed[ParameterName("dma_waits")]
    assert value(machine, "dma_waits", self_timing="on") == 3


def test_mode_over_a_default() -> None:
    """A mode may also override a parameter that otherwise has its default."""

    def board(board: BoardProfile) -> BoardProfile:
        fixed = {name: v for name, v in board.fixed.items() if name != "dram_edo_mode"}
        return with_automatic(replace(board, fixed=fixed), "automatic_timing", dram_edo_mode="true")

    machine = rebuilt(board=board)

    assert value(machine, "dram_edo_mode", self_timing="off") is False
    assert value(machine, "dram_edo_mode", self_timing="on") is True


def test_later_mode_goes_before_an_earlier_one() -> None:
    """Where two modes set one parameter, the later one has it; with both off the option has it again."""
    machine = rebuilt(
        board=lambda board: with_automatic(
            board, "l2_write_back", l2_write_clocks="5 if isa_zero_wait else 4"
        )
    )
    seen = {
        (timing, use): value(machine, "l2_write_clocks", self_timing=timing, cache_use=use, cache_write="2")
        for timing in ("off", "on")
        for use in ("through", "back")
    }

    # The first mode sets 3 and, being on, also refuses zero waits.
    assert seen == {
        ("off", "through"): 2,
        ("off", "back"): 4,
        ("on", "through"): 3,
        ("on", "back"): 4,
    }
    assert value(machine, f"{OWN_PREFIX}l2_write_clocks", self_timing="on", cache_write="2") == 2


def test_modes_may_look_at_what_the_option_says() -> None:
    """The scope of an overridden parameter holds the mode's switch, its other conditions and the option."""
    machine, _ = packed(OLD)

    assert {str(option) for option in machine.scope_of_fact("dram_precharge_clocks")} == {
        "self-timing",
        "host-clock",
        "ras-precharge",
    }


@pytest.mark.parametrize("name", MACHINES)
@given(data=st.data())
def test_options_below_an_automatic_mode_are_inert(name: str, data: st.DataObject) -> None:
    """With the mode on, an option all of whose parameters it sets changes no fact that rules can see."""
    machine, _ = packed(name)
    mode = own_timing(machine)
    inert = [option for option in machine.options if set(option.parameters) <= set(mode.sets)]
    assert inert
    option = data.draw(st.sampled_from(inert))
    before = {**data.draw(settings(machine)), **named(machine, self_timing="on")}
    after = {**before, option.id: data.draw(st.sampled_from(option.choices)).id}

    facts, changed = FactTable(machine, before), FactTable(machine, after)

    for fact in (*machine.definitions, *machine.setters):
        if not fact.startswith(OWN_PREFIX):
            assert facts(fact) == changed(fact), fact


# ------------------------------------------------------------------------------ owner's words


def test_owner_words_replace_those_of_the_board() -> None:
    """Options and choices are told in the owner's words where the profile has some."""
    machine = rebuilt(
        labels={"host-clock": "JP5 to JP7", "cache-read.3-2-2-2": "slow", "host-clock.33": "2-3"}
    )
    board = {option.id: option for option in machine.board.options}

    by_id = {str(option.id): option for option in machine.options}
    assert by_id["host-clock"].label == "JP5 to JP7"
    assert {str(c.id): c.label for c in by_id["host-clock"].choices}["33"] == "2-3"
    assert [c.label for c in by_id["cache-read"].choices] == ["slow", "3-1-1-1", "2-2-2-2", "2-1-1-1"]
    assert by_id["cache-read"].label == board[by_id["cache-read"].id].label
    assert by_id["row-open"] == board[by_id["row-open"].id]


def test_owner_words_change_no_setting() -> None:
    """Labels are for people: ids, parameters and current choices are the same with and without them."""
    plain, worded = rebuilt(), rebuilt(labels={"host-clock": "JP5 to JP7", "host-clock.33": "2-3"})

    assert plain.current == worded.current
    assert plain.setters == worded.setters
    assert [c.sets for o in plain.options for c in o.choices] == [
        c.sets for o in worded.options for c in o.choices
    ]


# ------------------------------------------------------------------------------------- --set


def test_settings_from_words() -> None:
    """``OPTION=CHOICE`` texts become changes; ids may hold signs and points."""
    machine, _ = packed(OLD)

    assert parse_settings(machine, ["cache-read=2-1-1-1", "ras-to-cas=1.5"]) == {
        "cache-read": "2-1-1-1",
        "ras-to-cas": "1.5",
    }
    assert parse_settings(machine, []) == {}


@pytest.mark.parametrize(
    ("texts", "message"),
    [
        (["cache-read"], "--set cache-read: expected OPTION=CHOICE"),
        ([""], "--set : expected OPTION=CHOICE"),
        (["cache-raed=2-1-1-1"], "no option 'cache-raed' (did you mean 'cache-read'"),
        (["host-clock=34"], "option 'host-clock' has no choice '34' (known here: 20, 25, 33, 40, 50)"),
        (["host-clock="], "option 'host-clock' has no choice ''"),
        (["row-open=yes=no"], "option 'row-open' has no choice 'yes=no'"),
        (["row-open=yes", "row-open=yes"], "--set row-open=yes: option 'row-open' is given twice"),
    ],
)
def test_settings_that_cannot_be_meant(texts: list[str], message: str) -> None:
    """What is no change of a known option to one of its choices is one line with the nearest names."""
    with pytest.raises(UsageError, match=re.escape(message)) as caught:
        parse_settings(packed(OLD)[0], texts)

    assert "\n" not in str(caught.value)


def test_unknown_option_is_told() -> None:
    """Asking a machine for an option that it does not have is a KeyError."""
    machine, _ = packed(OLD)

    with pytest.raises(KeyError):
        machine.option("nothing")  # type: ignore[arg-type]
    assert machine.title == machine.profile.title
    assert to_base("100/3", "MHz") == Fraction(1, 30_000)
