"""Packed boards are ranked by how close they come to the owner's, with reasons."""

from __future__ import annotations

import pytest

from tests.intake.bench import desk
from waitwright.api.new import near_boards
from waitwright.errors import UsageError
from waitwright.ids import SlotId
from waitwright.intake.boards_near import pins_of
from waitwright.rulebook.profiles import SlotDef


def test_a_board_that_agrees_comes_first() -> None:
    """A 386DX-40 with 128 KB, ISA and 30-pin modules finds a board that speaks against none of it."""
    best = near_boards("386dx-40", 128, ["isa"], [30])[0]

    assert best.distance == 0
    assert best.unlike == ()
    assert {"takes a 386DX", "makes 40 MHz", "ISA", "128 KB of cache"} <= set(best.alike)


@pytest.mark.parametrize(
    ("cpu", "cache", "buses", "pins"),
    [
        ("386sx-16", 0, ["isa"], 30),
        ("486dx4-100", 256, ["isa", "pci"], 72),
        ("486dx2-66", 256, ["isa", "vl"], 30),
    ],
)
def test_usual_machines_find_a_board(cpu: str, cache: int, buses: list[str], pins: int) -> None:
    """A cacheless 386SX, a tripled 486 on PCI and a doubled one on a local bus have boards like theirs."""
    best = near_boards(cpu, cache, buses, [pins])[0]

    assert best.distance < 15
    assert any(text.startswith("takes a") for text in best.alike)


def test_all_boards_are_ranked_with_reasons() -> None:
    """Every packed board is in the ranking, the distance rises, and what is not perfect says why."""
    ranked = near_boards("486dx-50", 256, ["isa", "vl"], [72])

    assert {near.name for near in ranked} == set(desk().boards)
    assert [near.distance for near in ranked] == sorted(near.distance for near in ranked)
    assert all(near.unlike for near in ranked if near.distance)
    assert all(not near.unlike for near in ranked if not near.distance)


def test_a_cpu_that_does_not_fit_outweighs_all_else() -> None:
    """A board that does not take the CPU comes behind every board that does."""
    ranked = near_boards("486dx4-100", 256, ["isa", "vl"], [30])
    takes = [near.distance < 100 for near in ranked]

    assert takes == sorted(takes, reverse=True)
    assert any(takes) and not all(takes)


@pytest.mark.parametrize(
    ("cpu", "cache", "buses", "pins", "told"),
    [
        ("486dx2-66", None, ["isa", "pci"], [], "has no PCI slot"),
        ("486dx2-66", None, ["isa", "vl"], [], "has no local bus slot"),
        ("486dx2-66", 0, ["isa"], [], "has sockets for cache chips"),
        ("386dx-33", 256, ["isa"], [], "holds"),
        ("486dx2-66", None, ["isa"], [72], "takes 30-pin modules"),
        ("486dx-50", None, ["isa"], [], "does not make 50 MHz"),
    ],
)
def test_each_difference_has_its_weight(
    cpu: str, cache: int | None, buses: list[str], pins: list[int], told: str
) -> None:
    """A board with another bus, cache, module or clock is told so, and stands further away for it."""
    ranked = near_boards(cpu, cache, buses, pins)
    unlike = [near for near in ranked if any(text.startswith(told) for text in near.unlike)]

    assert unlike
    assert all(near.distance > 0 for near in unlike)
    assert ranked[0] not in unlike or told == "has sockets for cache chips"


def test_nothing_known_speaks_against_nothing() -> None:
    """Without any answer all boards are equally close, in the order of their names."""
    ranked = near_boards()

    assert {near.distance for near in ranked} == {0}
    assert [near.name for near in ranked] == sorted(desk().boards)


def test_unknown_cpu_is_refused() -> None:
    """A part id that nobody knows is refused with the nearest ones."""
    with pytest.raises(UsageError, match="386dx-33"):
        near_boards("386dx-34")


@pytest.mark.parametrize(("chips", "width", "pins"), [(4, 32, 30), (1, 32, 72), (2, 16, 30), (2, 32, 0)])
def test_a_bank_is_as_wide_as_the_bus(chips: int, width: int, pins: int) -> None:
    """Four 30-pin modules, or one of 72 pins, make a bank for a 32-bit CPU; two 30-pin ones for a 386SX.

    Source: common practice.
    """
    assert pins_of(SlotDef(SlotId("bank"), "bank", role="dram", chips=chips), width) == pins
