"""Parts by the names that people give them.  Every expectation here is common practice (no source)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.intake.bench import desk, meant, parts
from waitwright.intake.closing import any_part, read_spare
from waitwright.intake.names import card_named
from waitwright.intake.processors import processor_named
from waitwright.intake.readings import Reading, Taken
from waitwright.rulebook.domain import Part


def cpu(text: str) -> Reading[Part]:
    """What *text* means among the CPUs."""
    return processor_named(text, parts("cpu"), desk().rulebook.markings)


def card(text: str) -> Reading[Part]:
    """What *text* means among the cards."""
    return card_named(text, parts("card"), desk().rulebook)


@pytest.mark.parametrize(
    ("said", "part"),
    [
        ("486DX2-66", "486dx2-66"),
        ("dx4 100", "486dx4-100"),
        ("386sx 16", "386sx-16"),
        ("i386DX-33", "386dx-33"),
        ("DX2/66", "486dx2-66"),
        ("486 dx 33", "486dx-33"),
        ("386DX40", "386dx-40"),
        ("80386DX-20", "386dx-20"),
        ("A80486DX-33", "486dx-33"),
        ("486dx-33.3 MHz", "486dx-33"),
        ("486dx4-120", "486dx4wb-120"),
        ("5x86-133", "5x86-133"),
        ("486dlc-40", "386dx-cached-40"),
        ("486dx4wb-100", "486dx4wb-100"),
    ],
)
def test_cpu_by_name(said: str, part: str) -> None:
    """A CPU is known with or without class, dashes, maker's letters and fractions of its clock."""
    assert meant(cpu(said)) == part


@pytest.mark.parametrize(
    ("said", "among"),
    [
        ("386-40", ["386SX, 40 MHz", "386DX, 40 MHz"]),
        ("486-33", ["486SX, 33 MHz", "486DX, 33 MHz"]),
        ("dx33", ["386DX, 33 MHz", "486DX, 33 MHz"]),
        ("486dx2", ["486DX2, 50 MHz", "486DX2, 66 MHz", "486DX2, 80 MHz"]),
    ],
)
def test_cpu_that_may_be_several_is_asked_back(said: str, among: list[str]) -> None:
    """A name without its letters, its class or its speed leads to all that it can be."""
    assert meant(cpu(said)) == among


@pytest.mark.parametrize(
    ("said", "hint"),
    [("486dx2-75", "486DX2, 66 MHz"), ("486dy2-66", "486dx2-66"), ("387", "no such CPU"), ("", "such as")],
)
def test_cpu_that_is_not_there(said: str, hint: str) -> None:
    """An unknown CPU is refused with the speeds that there are, or the nearest names."""
    reading = cpu(said)

    assert meant(reading) is None
    assert hint in getattr(reading, "reason", "")


@pytest.mark.parametrize("part", parts("cpu"), ids=lambda part: str(part.id))
def test_every_cpu_has_a_name(part: Part) -> None:
    """Every CPU of the catalogue is found by its id, alone or among a few."""
    found = meant(cpu(str(part.id)))

    assert found == part.id or (isinstance(found, list) and part.title in found)


@pytest.mark.parametrize(
    ("said", "part"),
    [
        ("vlb vga -70", "display-vl-70"),
        ("VL display, 80 ns", "display-vl-80"),
        ("16-bit isa sound", "sound-isa16"),
        ("8-bit sound", "sound-isa8"),
        ("vlb ide", "drive-port-vl"),
        ("pci ide", "drive-port-pci"),
        ("scsi", "scsi-isa16"),
        ("lan 8-bit", "network-isa8"),
        ("mono", "display-mono8"),
        ("pci video 60", "display-pci-60"),
        ("multi-io-isa", "multi-io-isa"),
    ],
)
def test_card_by_kind_bus_and_memory(said: str, part: str) -> None:
    """A card is known by its kind, its bus, and the speed of its memory."""
    assert meant(card(said)) == part


def test_card_that_may_be_several_is_asked_back() -> None:
    """Where the bus is not said, the cards of both widths are offered; a 16 of "16-bit" is no speed."""
    assert meant(card("sound")) == ["8-bit ISA sound card with DMA", "16-bit ISA sound card with DMA"]
    found = meant(card("16-bit display -70"))
    assert isinstance(found, list)
    assert all("70 ns" in label and "16-bit" in label for label in found)


@pytest.mark.parametrize("said", ["foo", "", "display", "vl sound", "vl display -45", "scsi pci"])
def test_card_that_is_not_there(said: str) -> None:
    """Unknown kinds, kinds that no bus has, and too many at once are refused."""
    assert meant(card(said)) is None


@pytest.mark.parametrize(
    ("said", "part"),
    [
        ("61256-15", "sram-32kx8-15"),
        ("UM61256FK-15", "sram-32kx8-15"),
        ("514400-60", "fpm-60"),
        ("5117405-60", "edo-60"),
        ("386dx-40", "386dx-40"),
        ("387dx-33", "387dx-33"),
        ("clockgen-80", "clockgen-80"),
        ("display-vl-60", "display-vl-60"),
    ],
)
def test_spare_of_any_kind(said: str, part: str) -> None:
    """A part in the drawer is known by its marking, its name, or its id."""
    assert meant(any_part(desk(), said)) == part


@pytest.mark.parametrize(
    ("said", "part", "count"),
    [
        ("9 x 61256-15", "sram-32kx8-15", 9),
        ("386DX-40", "386dx-40", 1),
        ("4 x 4 MB 72-pin EDO -60", "edo-60", 4),
        ("8 x 1Mx9-70", "fpm-70", 8),
        ("4x8MB-70", "fpm-70", 4),
        ("2 x 8x32-60", "fpm-60", 2),
    ],
)
def test_spares_are_counted(said: str, part: str, count: int) -> None:
    """What lies in the drawer is told with how many there are; of modules the grade is kept."""
    spare = read_spare(desk(), said)

    assert isinstance(spare, Taken)
    assert (spare.value.part, spare.value.count) == (part, count)


@given(st.text(max_size=60))
def test_any_text_names_a_part_or_none(text: str) -> None:
    """Whatever is typed for a part is understood, asked back, or refused in one line."""
    for reading in (cpu(text), card(text), any_part(desk(), text)):
        meant(reading)
