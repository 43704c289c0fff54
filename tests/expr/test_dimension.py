"""What may be added, compared and chosen: kinds of facts and results."""

from __future__ import annotations

import pytest
from hypothesis import given

from waitwright.errors import ExpressionError
from waitwright.expr import FLAG, TEXT, Kind, check, parse
from waitwright.units import (
    CAPACITANCE,
    CURRENT,
    FREQUENCY,
    NUMBER,
    RESISTANCE,
    SIZE,
    TEMPERATURE,
    TIME,
    VOLTAGE,
)

from .strategies import KINDS, rules

FACTS: dict[str, Kind] = {
    "cpu.address_valid_max": TIME,
    "cpu.family": TEXT,
    "cpu.clk2_input": FLAG,
    "host_clock": FREQUENCY,
    "host_period": TIME,
    "l2_enabled": FLAG,
    "l2.size": SIZE,
    "supply": VOLTAGE,
    "clocks": NUMBER,
    "pull_up": RESISTANCE,
    "load": CAPACITANCE,
    "leak": CURRENT,
}


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("clocks * host_period - cpu.address_valid_max", TIME),
        ("1 / host_clock", TIME),
        ("clocks / host_period", FREQUENCY),
        ("host_period * host_clock", NUMBER),
        ("pull_up * load", TIME),
        ("supply / pull_up", CURRENT),
        ("supply / leak", RESISTANCE),
        ("-host_period", TIME),
        ("ns(1) + us(1) - ms(1)", TIME),
        ("MHz(1) + kHz(1)", FREQUENCY),
        ("V(1) + mV(1)", VOLTAGE),
        ("KB(1) + MB(1)", SIZE),
        ("C(1)", TEMPERATURE),
        ("percent(5) + 1", NUMBER),
        ("ceil(host_period / ns(1))", NUMBER),
        ("floor(0)", NUMBER),
        ("abs(host_period - ns(3))", TIME),
        ("max(host_period, ns(3), 0)", TIME),
        ("min(0, host_clock)", FREQUENCY),
        ("host_period if l2_enabled else cpu.address_valid_max", TIME),
        ("host_period if l2_enabled else 0", TIME),
        ("0 if l2_enabled else host_clock", FREQUENCY),
        ("cpu.family if l2_enabled else '386'", TEXT),
        ("not l2_enabled and (cpu.clk2_input or true)", FLAG),
        ("0 < host_period <= ns(30)", FLAG),
        ("host_clock != 0", FLAG),
        ("cpu.family == '486'", FLAG),
        ("l2_enabled != false", FLAG),
        ("cpu.family in ('386', '486')", FLAG),
        ("host_period in (0,)", FLAG),
        ("clocks in (0, 1)", FLAG),
        ("0", NUMBER),
        ("0 + 0", NUMBER),
        ("-0 + host_period", TIME),
        ("0 * host_period", TIME),
        ("max(0, 0)", NUMBER),
    ],
)
def test_sound_rules_have_a_kind(text: str, kind: Kind) -> None:
    """The kind of a sound rule follows from its facts; a literal zero takes any dimension."""
    assert check(parse(text), FACTS) == kind
    assert check(parse(text), FACTS, kind) == kind


@pytest.mark.parametrize(
    ("text", "where", "what"),
    [
        ("host_period + host_clock", 14, "'+' joins a time and a frequency"),
        ("ns(1) - MHz(1)", 8, "'-' joins a time and a frequency"),
        ("host_period + 1", 14, "'+' joins a time and a plain number"),
        ("host_period + ns(1) * ns(1)", 14, "'+' joins a time and a compound quantity"),
        ("host_period < host_clock", 14, "compares a time with a frequency"),
        ("0 < host_period < supply", 18, "compares a time with a voltage"),
        ("host_period == 1", 15, "compares a time with a plain number"),
        ("cpu.family == 486", 14, "compares a text with a plain number"),
        ("cpu.family == 0", 14, "compares a text with a plain number"),
        ("0 == cpu.family", 0, "compares a text with a plain number"),
        ("cpu.family == true", 14, "compares a text with a flag"),
        ("cpu.family < '486'", 13, "'<' needs numbers, and this is a text"),
        ("l2_enabled >= true", 14, "'>=' needs numbers, and this is a flag"),
        ("cpu.family in (386, 486)", 15, "compares a text with a plain number"),
        ("cpu.family in ('386', 486)", 22, "compares a text with a plain number"),
        ("host_period in (0, 5)", 19, "compares a time with a plain number"),
        ("l2_enabled + 1", 0, "calculates with a flag"),
        ("1 * cpu.family", 4, "calculates with a text"),
        ("1 / true", 4, "calculates with a flag"),
        ("-cpu.family", 1, "calculates with a text"),
        ("abs(l2_enabled)", 4, "calculates with a flag"),
        ("max(host_period, host_clock)", 17, "max() is given a time and a frequency"),
        ("max(host_period, 0, 1)", 20, "max() is given a time and a plain number"),
        ("min(1, 'a')", 7, "calculates with a text"),
        ("ceil(host_period)", 5, "ceil() rounds plain numbers, and this is a time; divide by a unit first"),
        ("floor(supply)", 6, "floor() rounds plain numbers, and this is a voltage; divide by a unit first"),
        ("not clocks", 4, "this is a plain number where a flag is needed"),
        ("not 0", 4, "this is a plain number where a flag is needed"),
        ("l2_enabled and cpu.family", 15, "this is a text where a flag is needed"),
        ("1 if clocks else 2", 5, "this is a plain number where a flag is needed"),
        (
            "1 if l2_enabled else 'a'",
            21,
            "is a plain number or a text, as the case may be; both must be alike",
        ),
        (
            "0 if l2_enabled else 'a'",
            0,
            "is a text or a plain number, as the case may be; both must be alike",
        ),
        (
            "ns(1) if l2_enabled else V(1)",
            25,
            "is a time or a voltage, as the case may be; both must be alike",
        ),
        ("1 + cpu.familly", 4, "there is no fact 'cpu.familly' (did you mean 'cpu.family'?)"),
        ("host_periode * 2", 0, "there is no fact 'host_periode' (did you mean 'host_period'?)"),
        ("clocks + zzz", 9, f"there is no fact 'zzz' (known here: {', '.join(sorted(FACTS))})"),
    ],
)
def test_unsound_rules_are_refused_with_their_position(text: str, where: int, what: str) -> None:
    """The first place that does not fit is pointed to, and told in words."""
    with pytest.raises(ExpressionError) as caught:
        check(parse(text), FACTS)
    assert (caught.value.position, caught.value.reason) == (where, what)
    assert caught.value.text == text


def test_the_result_must_be_what_is_wanted() -> None:
    """A rule of another kind than wanted is refused; a literal zero fits any dimension, no flag or text."""
    assert check(parse("0"), FACTS, TIME) == TIME
    refused: list[tuple[str, Kind, str]] = [
        ("host_clock", TIME, "this is a frequency where a time is needed"),
        ("l2_enabled", TIME, "this is a flag where a time is needed"),
        ("1", TIME, "this is a plain number where a time is needed"),
        ("0", FLAG, "this is a plain number where a flag is needed"),
        ("clocks", TEXT, "this is a plain number where a text is needed"),
    ]
    for text, wanted, what in refused:
        with pytest.raises(ExpressionError) as caught:
            check(parse(" " + text), FACTS, wanted)
        assert (caught.value.position, caught.value.reason) == (1, what)


@pytest.mark.parametrize("kind", [NUMBER, FLAG, TEXT], ids=str)
def test_generated_rules_have_their_kind(kind: Kind) -> None:
    """Rules written to give numbers, flags or texts are found to give just that."""

    @given(rules(kind))
    def every(text: str) -> None:
        assert check(parse(text), KINDS) == kind

    every()
