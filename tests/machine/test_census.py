"""Facts counted from what is fitted."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.workshop import NEW, OLD, fits, packed, rebuilt

from waitwright.rulebook.domain import Scalar
from waitwright.rulebook.profiles import BoardProfile, FitDef
from waitwright.units import to_base

KB, MB = 2**10, 2**20


def counted(**fit: tuple[FitDef, ...]) -> dict[str, Scalar]:
    """The facts of the packed 386 machine with some slots filled otherwise (``_`` for ``-``)."""
    return dict(rebuilt(fit={slot.replace("_", "-"): parts for slot, parts in fit.items()}).constants)


def module(count: int, size_mb: int = 1, grade: str = "fpm-70") -> FitDef:
    """Memory modules for a bank."""
    return fits(grade, count, size=to_base(size_mb, "MB"))


def test_full_cache() -> None:
    """Two banks of four 32K x 8 chips are 256 KB, and neither the tag chip nor a bank's number adds to it."""
    facts = packed(OLD)[0].constants

    assert (facts["l2.banks"], facts["l2.size"], facts["l2.present"]) == (2, 256 * KB, True)
    assert (facts["l2.chips_missing"], facts["l2.mixed_in_bank"]) == (0, False)


def test_cache_of_one_bank() -> None:
    """One bank of four is 128 KB."""
    facts = counted(cache_1=())

    assert (facts["l2.banks"], facts["l2.size"]) == (1, 128 * KB)


def test_no_cache() -> None:
    """Without data chips there is no cache, even where a tag chip sits in its socket."""
    facts = counted(cache_0=(), cache_1=())

    assert (facts["l2.banks"], facts["l2.size"], facts["l2.present"]) == (0, 0, False)
    assert facts["l2.tag.present"] is True


def test_begun_bank_does_not_count() -> None:
    """A bank with a chip missing counts as missing chips, not as a bank, and adds no size."""
    facts = counted(cache_1=(fits("sram-32kx8-20", 3),))

    assert (facts["l2.banks"], facts["l2.size"], facts["l2.chips_missing"]) == (1, 128 * KB, 1)


def test_mixed_cache_bank() -> None:
    """Chips of two grades within a bank fill it and are told as mixed; two pure banks are not."""
    within = counted(cache_0=(fits("sram-32kx8-20", 2), fits("sram-32kx8-15", 2)))
    between = counted(cache_0=(fits("sram-32kx8-15", 4),))

    assert (within["l2.banks"], within["l2.size"], within["l2.mixed_in_bank"]) == (2, 256 * KB, True)
    assert between["l2.mixed_in_bank"] is False


def test_same_part_written_twice_is_not_mixed() -> None:
    """A bank whose equal chips are listed in two entries is not mixed."""
    facts = counted(
        cache_0=(fits("sram-32kx8-20", 2), fits("sram-32kx8-20", 2)), simm_0=(module(2), module(2))
    )

    assert facts["l2.mixed_in_bank"] is False
    assert facts["memory.mixed_in_bank"] is False


def test_full_memory() -> None:
    """Eight modules of 1 MB are two banks and 8 MB; four of 4 MB one bank and 16 MB."""
    old, new = packed(OLD)[0].constants, packed(NEW)[0].constants

    assert (old["memory.banks"], old["memory.size"]) == (2, 8 * MB)
    assert (new["memory.banks"], new["memory.size"]) == (1, 16 * MB)


def test_begun_memory_bank_does_not_count() -> None:
    """A bank with modules missing counts as missing modules, not as memory."""
    facts = counted(simm_1=(module(1),))

    assert (facts["memory.banks"], facts["memory.size"], facts["memory.modules_missing"]) == (1, 4 * MB, 3)


def test_modules_of_two_sizes_are_mixed() -> None:
    """Modules of one grade but two sizes within a bank are told as mixed."""
    facts = counted(simm_0=(module(2), module(2, size_mb=4)))

    assert facts["memory.mixed_in_bank"] is True
    assert facts["memory.size"] == (2 + 8 + 4) * MB


def test_unknown_size_leaves_memory_unknown() -> None:
    """Where the size of some module is unknown, so is that of the memory."""
    facts = counted(simm_1=(fits("fpm-70", 4),))

    assert facts["memory.banks"] == 2
    assert "memory.size" not in facts


@pytest.mark.parametrize(
    ("first", "second", "empty"), [(True, True, False), (True, False, False), (False, True, True)]
)
def test_first_bank_empty(first: bool, second: bool, empty: bool) -> None:
    """A memory bank that is filled while the first one is empty is told."""
    facts = counted(simm_0=(module(4),) if first else (), simm_1=(module(4),) if second else ())

    assert facts["memory.first_bank_empty"] is empty


def test_no_memory_at_all() -> None:
    """Without modules there is no bank, no size, and no bank that should have come first."""
    facts = counted(simm_0=(), simm_1=())

    assert (facts["memory.banks"], facts["memory.size"], facts["memory.first_bank_empty"]) == (0, 0, False)


def test_cards_by_bus() -> None:
    """Cards are counted on the bus that they use; the display card tells its bus."""
    old, new = packed(OLD)[0].constants, packed(NEW)[0].constants

    assert (old["isa.cards"], old["vl.slots_used"], old["pci.cards"]) == (3, 0, 0)
    assert (new["isa.cards"], new["vl.slots_used"], new["pci.cards"]) == (2, 2, 0)
    assert (old["display.bus"], new["display.bus"]) == ("isa16", "vl")


def test_no_display_card() -> None:
    """Without a display card its bus is unknown."""
    assert "display.bus" not in rebuilt(what_if={"isa-2": "none"}).constants


def test_loads_of_the_local_bus() -> None:
    """Every local-bus card is a load, and so is whatever is soldered to the bus.

    Source: usual reading of the local-bus standard 2.0, soldered devices counted.
    """

    def soldered(board: BoardProfile) -> BoardProfile:
        slots = (replace(s, loads=1) if s.id in {"logic", "dma"} else s for s in board.slots)
        return replace(board, slots=tuple(slots))

    assert packed(OLD)[0].constants["vl.loads"] == 0
    assert packed(NEW)[0].constants["vl.loads"] == 2
    assert rebuilt(NEW, what_if={"local-1": "none"}).constants["vl.loads"] == 1
    assert rebuilt(NEW, board=soldered).constants["vl.loads"] == 4
    assert rebuilt(NEW, board=soldered).constants["vl.slots_used"] == 2


def test_every_role_tells_whether_it_is_played() -> None:
    """Each role has a flag, also those that nothing on this board plays."""
    machine, _ = packed(OLD)

    for role in machine.rulebook.roles:
        assert machine.constants[f"{role}.present"] is bool(machine.members[role])
    assert machine.constants["coprocessor.present"] is False
    assert machine.constants["display.present"] is True


def test_a_card_for_several_purposes_is_a_card_of_each_rule() -> None:
    """A card without the asked purpose plays the general role of cards, not that of the display card."""
    machine, _ = packed(OLD)

    assert len(machine.members["card"]) == 3
    assert [member.item.slot for member in machine.members["display"]] == ["isa-2"]
