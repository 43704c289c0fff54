"""What sits in each slot, with what-if parts over what the profile says."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from tests.workshop import NEW, OLD, fits, packed, rebuilt

from waitwright.errors import UsageError
from waitwright.ids import SlotId
from waitwright.machine import Fitted, Machine, parse_what_if
from waitwright.rulebook.profiles import BoardProfile


def in_slot(machine: Machine, slot: str) -> list[Fitted]:
    """What sits in *slot*."""
    return [item for item in machine.fitted if item.slot == slot]


@pytest.mark.parametrize("name", [OLD, NEW])
def test_parts_stand_in_the_order_of_the_board(name: str) -> None:
    """Fitted parts follow the slots of the board, soldered ones included, whatever order the profile has."""
    machine, _ = packed(name)
    order = [slot.id for slot in machine.board.slots]

    found = [order.index(item.slot) for item in machine.fitted]

    assert found == sorted(found)
    soldered = {slot.id: slot.soldered for slot in machine.board.slots if slot.soldered}
    assert soldered
    assert {item.slot: item.part.id for item in machine.fitted if item.slot in soldered} == soldered


def test_what_if_takes_the_place_of_a_part() -> None:
    """A what-if part fills the slot as the old one did: same number, same size, same refresh class."""
    (old,) = in_slot(packed(OLD)[0], "simm-0")
    (new,) = in_slot(rebuilt(what_if={"simm-0": "fpm-60"}), "simm-0")

    assert (old.part.id, new.part.id) == ("fpm-70", "fpm-60")
    assert (new.count, new.size, new.refresh) == (old.count, old.size, old.refresh)
    assert new.fresh
    assert not old.fresh


def test_what_if_in_an_empty_slot_fills_it() -> None:
    """A what-if part in an empty slot comes in the number that the slot holds."""
    empty = rebuilt(fit={"cache-1": ()})
    (bank,) = in_slot(rebuilt(fit={"cache-1": ()}, what_if={"cache-1": "sram-32kx8-15"}), "cache-1")

    assert in_slot(empty, "cache-1") == []
    assert bank.count == bank.wanted == 4


def test_what_if_none_empties_a_slot() -> None:
    """``none`` takes a part out, and then its role is absent."""
    machine = rebuilt(what_if={"tag": "none"})

    assert in_slot(machine, "tag") == []
    assert machine.constants["l2.tag.present"] is False
    assert machine.members["l2.tag"] == ()


def test_a_machine_without_its_cpu_is_refused() -> None:
    """Without a CPU nothing has a time, so that taking it out is refused in one line."""
    with pytest.raises(UsageError, match="without a CPU there is no timing"):
        rebuilt(what_if={"cpu": "none"})


def test_mixed_banks_keep_both_makes() -> None:
    """A bank of two makes is two groups of parts, each a part of its own for the odds."""
    machine = rebuilt(fit={"cache-0": (fits("sram-32kx8-20", 2), fits("sram-32kx8-15", 2))})

    assert [(item.part.id, item.count, item.wanted) for item in in_slot(machine, "cache-0")] == [
        ("sram-32kx8-20", 2, 4),
        ("sram-32kx8-15", 2, 4),
    ]


def test_what_if_replaces_a_mixed_bank_as_a_whole() -> None:
    """A what-if part takes the place of every part of a mixed bank."""
    mixed = {"cache-0": (fits("sram-32kx8-20", 2), fits("sram-32kx8-15", 2))}

    (bank,) = in_slot(rebuilt(fit=mixed, what_if={"cache-0": "sram-32kx8-25"}), "cache-0")

    assert (bank.part.id, bank.count) == ("sram-32kx8-25", 4)


def test_drive_is_on_the_bus_of_the_card_with_its_port() -> None:
    """A drive sits on the bus of the card that carries its port, and on none where that card is missing."""
    assert in_slot(packed(OLD)[0], "drive-isa")[0].bus == "isa16"
    assert in_slot(packed(NEW)[0], "drive-local")[0].bus == "vl"
    assert in_slot(rebuilt(NEW, what_if={"local-2": "none"}), "drive-local")[0].bus == ""


@pytest.mark.parametrize("bus", ["isa", "vl", "pci"])
def test_drive_on_a_port_of_the_board(bus: str) -> None:
    """A drive on the board's own port is on the bus of that port, whatever cards there are."""

    def own_port(board: BoardProfile) -> BoardProfile:
        slots = (replace(s, on=f"board-{bus}") if s.id == "drive-isa" else s for s in board.slots)
        return replace(board, slots=tuple(slots))

    assert in_slot(rebuilt(board=own_port, what_if={"isa-1": "none"}), "drive-isa")[0].bus == bus


@pytest.mark.parametrize(
    ("slot", "part", "message"),
    [
        ("cache-2", "sram-32kx8-15", "--part cache-2=...: no such slot (did you mean 'cache-"),
        ("cpu", "386dx-34", "--part cpu=386dx-34: no such part (did you mean '386dx-40' or '386dx-33'"),
        ("cpu", "sram-32kx8-15", "slot 'cpu' takes a part of kind 'cpu', 'sram-32kx8-15' is of kind 'sram'"),
        (
            "tag",
            "sram-64kx4-20",
            "'tag' takes sram-16kx8, sram-32kx8; 'sram-64kx4-20' is of family 'sram-64kx4'",
        ),
        ("simm-0", "edo-60", "slot 'simm-0' takes fpm; 'edo-60' is of family 'edo'"),
        ("isa-2", "display-pci-60", "slot 'isa-2' is on bus 'isa16'; 'display-pci-60' plugs into 'pci'"),
        ("isa-6", "sound-isa16", "slot 'isa-6' is on bus 'isa8'; 'sound-isa16' plugs into 'isa16'"),
    ],
)
def test_what_does_not_fit_is_told(slot: str, part: str, message: str) -> None:
    """A what-if for no slot, with no part, or with a part that does not go in, is one line that says why."""
    with pytest.raises(UsageError, match=re.escape(message)) as caught:
        rebuilt(what_if={slot: part})

    assert "\n" not in str(caught.value)


def test_soldered_parts_cannot_be_exchanged() -> None:
    """A part that is soldered to the board has no spare, so a what-if for it is refused."""
    with pytest.raises(UsageError, match="soldered"):
        rebuilt(what_if={"logic": "logic-386-single-chip"})


@pytest.mark.parametrize(
    ("texts", "message"),
    [
        (["cpu"], "--part cpu: expected SLOT=PART, or SLOT=none for an empty slot"),
        (["=386dx-33"], "expected SLOT=PART"),
        (["cpu="], "expected SLOT=PART"),
        (["cpu=386dx-33", "cpu=none"], "--part cpu=none: slot 'cpu' is given twice"),
    ],
)
def test_malformed_what_ifs_are_told(texts: list[str], message: str) -> None:
    """A what-if must have both sides, and name a slot once."""
    with pytest.raises(UsageError, match=re.escape(message)):
        parse_what_if(texts)


def test_what_ifs_as_a_mapping() -> None:
    """What-ifs map slots to parts; only the first ``=`` separates."""
    assert parse_what_if(["cpu=386dx-40", "tag=none"]) == {"cpu": "386dx-40", "tag": "none"}
    assert parse_what_if([]) == {}


def test_slots_keep_their_titles() -> None:
    """A fitted part is told with the title of its slot."""
    machine, _ = packed(OLD)
    titles = {slot.id: slot.title for slot in machine.board.slots}

    assert all(item.title == titles[SlotId(item.slot)] for item in machine.fitted)
