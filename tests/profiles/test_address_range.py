"""How much memory a CPU of the 386SX kind reaches, from the part to the answers."""

from __future__ import annotations

import pytest
from tests.workshop import fits, packed, rebuilt

from waitwright.machine import Machine
from waitwright.timing.bind import bind
from waitwright.timing.margins import margins
from waitwright.units import to_base

SX, DX = "wharf-386sx16", "tollgate-386dx33"


def filled(size_mb: int, banks: int, cpu: str = "386sx-16") -> Machine:
    """The packed 386SX machine with pairs of modules of *size_mb* in so many banks."""
    book = packed(SX)[0].rulebook
    pair = (fits("fpm-100", 2, size=to_base(size_mb, "MB"), refresh=book.parts["refresh-1024"].id),)
    return rebuilt(SX, fit={"pair-a": pair, "pair-b": pair if banks == 2 else ()}, what_if={"cpu": cpu})


def broken(machine: Machine) -> set[str]:
    """Ids of the exact requirements that are broken for certain."""
    found = margins(machine, bind(machine), machine.current).broken
    return {one.bound.id for one in found if one.known}


@pytest.mark.parametrize("cpu", ["386sx-16", "386sx-20", "386sx-40", "386sx-cached-20"])
def test_16_mb_is_all_that_24_lines_reach(cpu: str) -> None:
    """A 386SX, or an upgrade CPU in its socket, takes 16 MB and not a module more.

    Source: Intel386 SX data sheet, order 240187: 24-bit addresses; from memory.
    """
    assert "memory.range" not in broken(filled(4, banks=2, cpu=cpu))
    assert "memory.range" in broken(filled(16, banks=1, cpu=cpu))
    assert "memory.range" in broken(filled(16, banks=2, cpu=cpu))


def test_every_narrow_cpu_says_how_far_it_reaches() -> None:
    """Each CPU with a bus of 16 bits has the figure that the rule asks for: 2 to the 24 bytes."""
    parts = packed(SX)[0].rulebook.parts.values()
    narrow = [part for part in parts if part.kind == "cpu" and part.values["bus_width"].value == 16]

    assert len(narrow) > 5
    for part in narrow:
        assert part.values["address_range"].value == 2**24, part.id


def test_wide_cpu_takes_64_mb() -> None:
    """A 386DX with four modules of 16 MB is within its reach: the rule is for the narrow bus."""
    module = (
        fits("fpm-70", 4, size=to_base(16, "MB"), refresh=packed(DX)[0].rulebook.parts["refresh-1024"].id),
    )

    assert "memory.range" not in broken(rebuilt(DX, fit={"simm-0": module, "simm-1": ()}))
