"""Markings on chips, oscillators and modules are read as practice reads them.

Every expectation here is common practice (no source).
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.intake.bench import desk
from waitwright.ids import PartId
from waitwright.intake.markings import graded, read_marking, read_oscillator
from waitwright.intake.modules import Modules, read_modules, refresh_of, size_words
from waitwright.intake.readings import Reading, Refused, Taken, Unclear
from waitwright.rulebook.load import load_rulebook
from waitwright.units import to_base

MARKINGS = load_rulebook().markings

CHIPS = [
    # kind, what is printed, organisation, nanoseconds
    ("sram", "UM61256FK-15", "32Kx8", 15),
    ("sram", "61256-20", "32Kx8", 20),
    ("sram", "W24257AK-15", "32Kx8", 15),
    ("sram", "CY7C199-20PC", "32Kx8", 20),
    ("sram", "IS61C256AH-15N", "32Kx8", 15),
    ("sram", "IS61C64AH-15", "8Kx8", 15),
    ("sram", "IS61C512-20", "64Kx8", 20),
    ("sram", "UM61256 20", "32Kx8", 20),
    ("sram", "W24257AK/15", "32Kx8", 15),
    ("sram", "CY7C164-15", "16Kx4", 15),
    ("sram", "AS7C164-15", "8Kx8", 15),
    ("sram", "XYZ99-12", "", 12),
    ("sram", "62256-10", "32Kx8", 100),
    ("sram", "6164-25", "8Kx8", 25),
    ("sram", "6264-10", "8Kx8", 100),
    ("sram", "61512-15", "64Kx8", 15),
    ("sram", "611024-20", "128Kx8", 20),
    ("sram", "-15", "", 15),
    ("sram", "20", "", 20),
    ("sram", "32Kx8-20", "32Kx8", 20),
    ("sram", "35 ns", "", 35),
    ("dram", "41256-12", "256Kx1", 120),
    ("dram", "KM44C256-10", "256Kx4", 100),
    ("dram", "44256-80", "256Kx4", 80),
    ("dram", "MCM514256A-70", "256Kx4", 70),
    ("dram", "411000-80", "1Mx1", 80),
    ("dram", "41C1000-7", "1Mx1", 70),
    ("dram", "44C1000-7", "1Mx4", 70),
    ("dram", "4C4001-6", "1Mx4", 60),
    ("dram", "HY514400-70", "1Mx4", 70),
    ("dram", "5117405-6", "4Mx4", 60),
    ("dram", "418160-50", "1Mx16", 50),
    ("dram", "-6", "", 60),
    ("dram", "-60", "", 60),
    ("dram", "-70", "", 70),
    ("dram", "7", "", 70),
    ("dram", "8", "", 80),
    ("dram", "10", "", 100),
    ("dram", "-07", "", 70),
]


@pytest.mark.parametrize(("kind", "printed", "organisation", "ns"), CHIPS, ids=[row[1] for row in CHIPS])
def test_chip_is_read(kind: str, printed: str, organisation: str, ns: int) -> None:
    """A marking tells the organisation where its number is known, and the speed behind its dash."""
    found = read_marking(printed, kind, MARKINGS)

    assert isinstance(found, Taken)
    assert found.value.organisation == organisation
    assert found.value.access == ns * 1000


@pytest.mark.parametrize("printed", ["-10", "10", "XYZ99-10", "-8"])
def test_two_readings_are_asked_back(printed: str) -> None:
    """On static RAM of an unknown series one figure stands for two speeds, and both are offered."""
    found = read_marking(printed, "sram", MARKINGS)

    assert isinstance(found, Unclear)
    assert [one.value.access for _, one in found.ways] in ([10_000, 100_000], [8_000, 80_000])
    assert "which?" in found.asks


@pytest.mark.parametrize(
    ("printed", "kind", "ns"),
    [
        ("61256-20/25", "sram", [20, 25]),
        ("61256-20 -15", "sram", [15, 20]),
        ("-70 -80", "dram", [70, 80]),
        ("70 80", "dram", [70, 80]),
        ("70 ns or 80 ns", "dram", [70, 80]),
        ("-7 -6", "dram", [60, 70]),
    ],
)
def test_two_speeds_are_asked_back(printed: str, kind: str, ns: list[int]) -> None:
    """Where two speeds are said, neither is taken silently; said twice, one speed stays one."""
    found = read_marking(printed, kind, MARKINGS)

    assert isinstance(found, Unclear)
    assert [one.value.access for _, one in found.ways] == [time * 1000 for time in ns]
    assert "more than one speed" in found.asks
    assert isinstance(read_marking("-70 70", "dram", MARKINGS), Taken)


@pytest.mark.parametrize(
    ("printed", "number"),
    [("XYZ99-12", "XYZ99"), ("QM61X77AH-15", "QM61X77AH"), ("-15", ""), ("15ns", ""), ("61256-15", "")],
)
def test_unknown_number_is_told(printed: str, number: str) -> None:
    """A part number that is not known is kept to be told; a speed alone is no number."""
    found = read_marking(printed, "sram", MARKINGS)

    assert isinstance(found, Taken)
    assert found.value.unknown == number


@pytest.mark.parametrize("number", ["5117405", "44C1004", "514265", "418165", "4C4M4E8"])
def test_edo_is_told_by_its_number(number: str) -> None:
    """A last 5, or a 4 behind the letter, marks EDO chips."""
    found = read_marking(f"{number}-60", "dram", MARKINGS)

    assert isinstance(found, Taken)
    assert found.value.families[0] == "edo"


@pytest.mark.parametrize("printed", ["", "abc", "-13", "61256", "999", "-0", "--"])
def test_nonsense_has_a_reason(printed: str) -> None:
    """What marks no speed is refused in one line."""
    found = read_marking(printed, "sram", MARKINGS)

    assert isinstance(found, Refused)
    assert found.reason and "\n" not in found.reason


def test_grade_between_two_is_the_slower_one() -> None:
    """A speed that the catalogue lacks counts as the next slower one, with a remark, or is refused."""
    chips = [part for part in desk().parts_of_kind("sram") if part.family == "sram-32kx8"]
    exact, between, beyond = (graded(chips, ns * 1000, "access") for ns in (15, 17, 100))

    assert isinstance(exact, Taken)
    assert (exact.value.id, exact.remarks) == ("sram-32kx8-15", ())
    assert isinstance(between, Taken)
    assert between.value.id == "sram-32kx8-20"
    assert "20 ns" in between.remarks[0]
    assert isinstance(beyond, Refused)


# --------------------------------------------------------------------------------- oscillators

CLOCKS = [Fraction(mhz) / 10**6 for mhz in ("16", "20", "25", "100/3", "40", "50")]


@pytest.mark.parametrize(
    ("printed", "doubled", "mhz"),
    [
        ("66.667", True, "100/3"),
        ("66", True, "100/3"),
        ("66.6667 MHz", True, "100/3"),
        ("80.000", True, "40"),
        ("33", True, "100/3"),
        ("33.333", False, "100/3"),
        ("33,3", False, "100/3"),
        ("25", False, "25"),
        ("40", False, "40"),
    ],
)
def test_oscillator_is_read(printed: str, doubled: bool, mhz: str) -> None:
    """A can at twice the host clock means the host clock where the CPU is fed twice its clock."""
    found = read_oscillator(printed, CLOCKS, doubled=doubled)

    assert isinstance(found, Taken)
    assert found.value == Fraction(mhz) / 10**6


def test_clock_that_may_be_a_can_is_asked_back() -> None:
    """40 MHz on a board that makes 20 and 40 for a 386 can be either."""
    found = read_oscillator("40", CLOCKS, doubled=True)

    assert isinstance(found, Unclear)
    assert {one.value for _, one in found.ways} == {Fraction(20) / 10**6, Fraction(40) / 10**6}


@pytest.mark.parametrize("printed", ["14.318", "14.31818", "24", "1.8432", "12"])
def test_other_crystals_are_named(printed: str) -> None:
    """Crystals that every board has for other purposes are known as such."""
    found = read_oscillator(printed, CLOCKS, doubled=False)

    assert isinstance(found, Refused)
    assert "not the CPU" in found.reason


# ------------------------------------------------------------------------------------- modules

MODULES = [
    # what is said, contacts of the bank, count, contacts, MB, ns, parity, type
    ("4 x 1 MB -70", 30, 4, 30, "1", 70, None, ""),
    ("8x1Mx9-7", 0, 8, 30, "1", 70, True, ""),
    ("2 x 4MB 72-pin EDO -60", 72, 2, 72, "4", 60, None, "edo"),
    ("256KB -80", 30, 0, 30, "1/4", 80, None, ""),
    ("4 x 256Kx9-80", 0, 4, 30, "1/4", 80, True, ""),
    ("1Mx36-60", 0, 0, 72, "4", 60, True, ""),
    ("4Mx32-60", 0, 0, 72, "16", 60, False, ""),
    ("1MB 411000-10 9 chips", 30, 0, 30, "1", 100, True, "fpm"),
    ("1 MB 3-chip -70", 30, 0, 30, "1", 70, True, ""),
    ("1 MB 2-chip -70", 30, 0, 30, "1", 70, False, ""),
    ("2x8MB-60", 0, 2, 72, "8", 60, None, ""),
    ("4 x 1MB no parity 44C1000-8", 30, 4, 30, "1", 80, False, "fpm"),
    ("4 MB with parity 70 ns", 72, 0, 72, "4", 70, True, ""),
    ("4x36-60", 72, 0, 72, "16", 60, True, ""),
    ("8x36-60", 0, 0, 72, "32", 60, True, ""),
    ("2x36-70", 72, 0, 72, "8", 70, True, ""),
    ("512x36-70", 72, 0, 72, "2", 70, True, ""),
    ("1x9-70", 30, 0, 30, "1", 70, True, ""),
    ("4x9-60", 30, 0, 30, "4", 60, True, ""),
    ("4x8-70", 30, 0, 30, "4", 70, False, ""),
    ("256x9 -80", 30, 0, 30, "1/4", 80, True, ""),
    ("2 x 4x36-60", 72, 2, 72, "16", 60, True, ""),
    ("4x32MB-60", 72, 4, 72, "32", 60, None, ""),
]


@pytest.mark.parametrize(
    ("said", "bank", "count", "pins", "mb", "ns", "parity", "kind"), MODULES, ids=[row[0] for row in MODULES]
)
def test_module_is_read(
    said: str, bank: int, count: int, pins: int, mb: str, ns: int, parity: bool | None, kind: str
) -> None:
    """Count, contacts, size, parity, type and speed of modules are told in one line, in any usual order."""
    found = read_modules(said, bank, MARKINGS)

    assert isinstance(found, Taken)
    one = found.value
    assert (one.count, one.pins, one.parity, one.type) == (count, pins, parity, kind)
    assert one.size == to_base(mb, "MB")
    assert one.access == ns * 1000


def test_label_that_may_be_a_count_is_asked_back() -> None:
    """``2x32`` is a module of 2M words, or two of 32 MB; where so many have no room, it is the label."""
    both, label = read_modules("2x32-60", 72, MARKINGS, room=4), read_modules("8x32-60", 72, MARKINGS, room=4)

    assert isinstance(both, Unclear)
    assert read_modules("2x32-60", 72, MARKINGS, room=2) == both
    assert isinstance(read_modules("2x32-60", 72, MARKINGS, room=1), Taken)
    assert [(label, one.value.count) for label, one in both.ways] == [
        ("2Mx32 modules", 0),
        ("2 modules of 32 MB", 2),
    ]
    assert [one.value.size for _, one in both.ways] == [to_base(8, "MB"), to_base(32, "MB")]
    assert isinstance(label, Taken)
    assert (label.value.count, label.value.size) == (0, to_base(32, "MB"))


def test_size_with_both_kinds_of_contacts_is_asked_back() -> None:
    """1 MB modules exist with 30 and with 72 contacts, and where the bank does not tell, nobody can guess."""
    found = read_modules("4 x 1 MB -70", 0, MARKINGS)

    assert isinstance(found, Unclear)
    assert [label for label, _ in found.ways] == ["30-pin", "72-pin"]


@pytest.mark.parametrize(
    ("said", "bank"),
    [
        ("4 x 1 MB 72-pin -70", 30),
        ("2 MB -70", 30),
        ("5 MB -70", 0),
        ("1 MB", 30),
        ("x", 30),
        ("1Mx9-70", 72),
        ("1x9-70", 72),
        ("3x36-60", 72),
        ("4x4-60", 30),
    ],
)
def test_module_that_cannot_be_is_refused(said: str, bank: int) -> None:
    """Wrong contacts, unusual sizes, and modules without size or speed are refused in one line."""
    found = read_modules(said, bank, MARKINGS)

    assert isinstance(found, Refused)
    assert "\n" not in found.reason


@pytest.mark.parametrize(
    ("pins", "mb", "chips", "refresh"),
    [
        (30, "1", 9, "refresh-512"),
        (30, "1", 3, "refresh-1024"),
        (30, "1", 0, "refresh-1024"),
        (30, "1/4", 9, "refresh-256"),
        (30, "4", 9, "refresh-1024"),
        (30, "4", 3, "refresh-2048"),
        (72, "4", 8, "refresh-1024"),
        (72, "16", 0, "refresh-2048"),
    ],
)
def test_refresh_class_follows_from_the_chips(pins: int, mb: str, chips: int, refresh: str) -> None:
    """The chips on a module tell its refresh class: 1Mx1 has 512 rows, 1Mx4 has 1024, 4Mx4 has 2048."""
    one = Modules(1, pins, to_base(mb, "MB"), "fpm", 70_000, None, chips)

    assert refresh_of(one, MARKINGS) == PartId(refresh)
    assert refresh in load_rulebook().parts


def test_every_module_of_practice_has_a_usual_size() -> None:
    """Each size that practice has a refresh class for can also be told in an answer."""
    for entry in MARKINGS.modules.values():
        found = read_modules(f"{size_words(entry.size)} -70", entry.pins, MARKINGS)
        assert isinstance(found, Taken)
        assert refresh_of(found.value, MARKINGS) is not None


def test_numbers_of_chips_are_told_apart() -> None:
    """No number of one organisation stands inside that of another of its kind, shorter and equally likely."""
    numbers = [(number, chip) for chip in MARKINGS.chips.values() for number in chip.numbers]

    assert len({(chip.kind, number) for number, chip in numbers}) == len(numbers)
    for number, chip in numbers:
        speed = next(iter(MARKINGS.codes[chip.code].means))
        found = read_marking(f"{number}-{speed}", chip.kind, MARKINGS)
        assert isinstance(found, Taken)
        assert found.value.organisation == chip.organisation


@given(st.text(max_size=60), st.sampled_from(["sram", "dram"]))
def test_any_text_is_read_or_refused(text: str, kind: str) -> None:
    """Whatever is typed for a chip, a module or an oscillator is understood, asked back, or refused."""
    readings: list[Reading[object]] = [
        read_marking(text, kind, MARKINGS),
        read_modules(text, 0, MARKINGS),
        read_modules(text, 30, MARKINGS),
        read_oscillator(text, CLOCKS, doubled=True),
    ]
    for reading in readings:
        if isinstance(reading, Refused):
            assert reading.reason and "\n" not in reading.reason
        elif isinstance(reading, Unclear):
            assert len(reading.ways) > 1


PIECES = st.sampled_from(
    ["4", "x", " ", "1", "MB", "Mx9", "x36", "2x", "-80", "256K", "-", "70", "10", "EDO", "30-pin",
     "72-pin", "parity", "44C1000", "61256", "ns", "9 chips", "no", "0", "007", "\u00d7", "99999999", "."]
)  # fmt: skip


@given(st.lists(PIECES, max_size=9).map("".join))
def test_words_of_the_trade_in_any_order_are_read_or_refused(text: str) -> None:
    """Usual words in an unusual order make no difference to that."""
    for reading in (read_modules(text, 0, MARKINGS), read_marking(text, "dram", MARKINGS)):
        if isinstance(reading, Taken) and isinstance(reading.value, Modules):
            assert reading.value.size > 0 and reading.value.access > 0
        if isinstance(reading, Refused):
            assert "\n" not in reading.reason
