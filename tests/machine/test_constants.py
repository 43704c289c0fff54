"""Where several parts play a role, the one that binds decides."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st
from tests.workshop import OLD, fits, packed, rebuilt, with_part, with_value

from waitwright.machine import Machine
from waitwright.rulebook.domain import Part
from waitwright.rulebook.load import load_rulebook
from waitwright.units import to_base

SLOW, FAST = "sram-32kx8-25", "sram-32kx8-15"


def memory(*banks: tuple[str, str]) -> Machine:
    """The packed 386 machine with banks of modules, each given by its part and refresh class."""
    size = to_base(1, "MB")
    return rebuilt(
        fit={
            f"simm-{place}": (fits(part, 4, size=size, refresh=refresh),)
            for place, (part, refresh) in enumerate(banks)
        }
    )


def test_longest_delay_binds_whatever_the_order() -> None:
    """Of chips of two grades the slower one's access time counts, in whichever bank it sits."""
    slow = load_rulebook().parts[SLOW]
    for first, second in ((SLOW, FAST), (FAST, SLOW)):
        machine = rebuilt(fit={"cache-0": (fits(first, 4),), "cache-1": (fits(second, 4),)})

        assert machine.constants["l2.data.access"] == slow.values["access"].value
        assert machine.sources["l2.data.access"] == slow.values["access"].provenance


def test_slower_part_binds_within_a_mixed_bank() -> None:
    """One slow chip among fast ones is enough."""
    machine = rebuilt(fit={"cache-0": (fits(FAST, 3), fits(SLOW, 1)), "cache-1": (fits(FAST, 4),)})

    assert machine.constants["l2.data.access"] == to_base(25, "ns")


def test_lowest_rating_binds_whatever_the_order() -> None:
    """Of two refresh classes the one that holds a row for the shorter time counts, with its own rows."""
    quick, slow = "refresh-1024", "refresh-2048-slow"
    for first, second in ((quick, slow), (slow, quick)):
        machine = memory(("fpm-70", first), ("fpm-70", second))

        parts = load_rulebook().parts
        times = [
            Fraction(parts[name].values["refresh_interval"].value) / parts[name].values["refresh_rows"].value  # type: ignore[operator]
            for name in (quick, slow)
        ]
        assert times[0] < times[1]
        assert machine.constants["dram.refresh_row_time"] == times[0]


@given(st.permutations(["fpm-60", "fpm-70", "fpm-80"]))
def test_every_fact_is_that_of_the_worst_member(order: list[str]) -> None:
    """For each number that all modules tell, the machine has the largest delay or the smallest rating."""
    first, second, third = order
    machine = rebuilt(
        fit={"simm-0": (fits(first, 2), fits(second, 2)), "simm-1": (fits(third, 4),)},
    )
    book = machine.rulebook
    members = machine.members["dram"]
    assert len(members) == 3

    for name in set.intersection(*(set(member.facts) for member in members)):
        values = [member.facts[name] for member in members]
        if any(isinstance(value, bool | str) for value in values):
            continue
        row = name.removeprefix("dram.")
        found = [book.rows.get(("dram", row.removesuffix(suffix))) for suffix in ("", "_max", "_min", "_typ")]
        worst = next(entry for entry in found if entry is not None).worst
        assert machine.constants[name] == (min if worst == "min" else max)(values)


def test_missing_in_one_part_is_missing() -> None:
    """A figure that one of the parts lacks is unknown for all: it is never taken from the others."""

    def bare(part: Part) -> Part:
        return replace(part, values={name: v for name, v in part.values.items() if name != "access"})

    book = with_part(load_rulebook(), FAST, bare)
    machine = rebuilt(rulebook=book, fit={"cache-0": (fits(FAST, 4),), "cache-1": (fits(SLOW, 4),)})

    assert "l2.data.access" not in machine.constants
    assert "l2.data.output_enable" in machine.constants


def test_texts_that_differ_are_unknown() -> None:
    """A text holds for the role only while all parts agree on it."""
    values = {"cache-0": (fits("sram-32kx8-20", 4),), "cache-1": (fits(FAST, 4),)}

    def other(part: Part) -> Part:
        entry = replace(part.values["organisation"], value="64Kx4")
        return replace(part, values={**part.values, "organisation": entry})

    alike = rebuilt(fit=values)
    differing = rebuilt(fit=values, rulebook=with_part(load_rulebook(), FAST, other))

    assert alike.constants["l2.data.organisation"] == "32Kx8"
    assert "l2.data.organisation" not in differing.constants


def test_roles_of_single_parts_have_no_common_facts() -> None:
    """Cards and drives are judged one by one: their facts belong to each of them, not to the machine."""
    machine, _ = packed(OLD)

    for role in machine.rulebook.roles.values():
        if role.each:
            own = [name for name in machine.constants if name.startswith(f"{role.name}.")]
            assert own == [f"{role.name}.present"]
            assert machine.members[role.name]


def test_a_changed_value_reaches_the_machine() -> None:
    """What the data sheet of a fitted part says is what rules see."""
    book = with_part(
        load_rulebook(), "386dx-33", lambda part: with_value(part, "address_valid_max", Fraction(99_000))
    )

    assert rebuilt(rulebook=book).constants["cpu.address_valid_max"] == 99_000
