"""CPUs as they are really printed.  Every expectation here is common practice (no source)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.intake.bench import desk, meant, parts
from waitwright.intake.processors import processor_named
from waitwright.intake.readings import Reading, Refused, Taken
from waitwright.rulebook.domain import Part


def cpu(text: str) -> Reading[Part]:
    """What *text* means among the CPUs."""
    return processor_named(text, parts("cpu"), desk().rulebook.markings)


@pytest.mark.parametrize(
    ("printed", "part"),
    [
        ("Am386DX/DXL-40", "386dx-40"),
        ("Am386SX/SXL-33", "386sx-33"),
        ("Am386DXL-40", "386dx-40"),
        ("NG80386SX-25", "386sx-25"),
        ("A80386DX-33 IV", "386dx-33"),
        ("TI486SLC/E-25", "386sx-cached-25"),
        ("TX486DLC/E-40BGA", "386dx-cached-40"),
        ("Cx486DLC-33GP", "386dx-cached-33"),
        ("Cx486DRX2 33/66GP", "386dx-double-66"),
        ("Intel i486DX2-66", "486dx2-66"),
        ("A80486DX2-66 SX911", "486dx2-66"),
        ("KU80486SX25", "486sx-25"),
        ("XYZ-X5-133ADW", "5x86-133"),
        ("Am5x86-P75", "5x86-133"),
        ("Am486DX5-133W16BGC", "5x86-133"),
        ("Am5x86-P75 X5-133ADW", "5x86-133"),
    ],
)
def test_print_is_read(printed: str, part: str) -> None:
    """Maker's letters, a second name, package letters, order numbers and ratings are known."""
    assert meant(cpu(printed)) == part


@pytest.mark.parametrize(
    ("printed", "part"),
    [
        ("A80486DX2-66NV8T", "486dx2-3v-66"),
        ("Cx486DX2-V80GP", "486dx2-3v-80"),
        ("486DX2-66 3.3V", "486dx2-3v-66"),
        ("486DX2-66 5 V", "486dx2-66"),
        ("A80486DX4-100NV8T", "486dx4-100"),
        ("Am486DX4-100SV8B", "486dx4wb-100"),
        ("A80486DX4-100 &EW", "486dx4wb-100"),
        ("A80486DX4-100 &E", "486dx4-100"),
        ("486dx4-100 write-back", "486dx4wb-100"),
        ("486DX4-100WB", "486dx4wb-100"),
    ],
)
def test_supply_and_cache_are_read(printed: str, part: str) -> None:
    """Letters around the speed tell a 3.3 V part from a 5 V one, and a write-back cache from the other."""
    assert meant(cpu(printed)) == part


@pytest.mark.parametrize(
    ("printed", "part"), [("Am486DX4-120NV8T", "486dx4wb-120"), ("A80486DX2-66SV8B", "486dx2-3v-66")]
)
def test_what_the_catalogue_has_not_is_told(printed: str, part: str) -> None:
    """Where no part is as the letters say, the nearest of the same supply is taken and told so."""
    found = cpu(printed)

    assert isinstance(found, Taken)
    assert found.value.id == part
    assert "is in the catalogue at that speed; taken as the nearest" in found.remarks[0]


@pytest.mark.parametrize("printed", ["Pentium-75", "U5S-SUPER33", "SX2-50", "TI486SXLC2-G50", "486sx2-50"])
def test_other_processors_are_refused(printed: str) -> None:
    """A CPU without figures is refused with the types that there are, and never read as another at hand."""
    found = cpu(printed)

    assert isinstance(found, Refused)
    assert "no such CPU in the catalogue" in found.reason
    assert "386SX, 386DX" in found.reason and "486DX4" in found.reason


@pytest.mark.parametrize("printed", ["386sx/dx-33", "486DX-P75", "486dx2-66 33", "386dx-33and40"])
def test_prints_that_are_none(printed: str) -> None:
    """Two types in one, a rating that belongs to another part, and figures left over are not guessed at."""
    assert meant(cpu(printed)) is None


def test_two_prints_are_asked_back() -> None:
    """Two words that name two parts are offered both; an order number beside a name is one part."""
    assert meant(cpu("386dx-33 386dx-40")) == ["386DX, 33 MHz", "386DX, 40 MHz"]


@given(
    st.sampled_from(parts("cpu")),
    st.sampled_from(["", "A", "Am", "Cx", "TX", "Intel ", "KU"]),
    st.sampled_from(["", "GP", "ADW", "BGC", " SX911", " MHz"]),
)
def test_letters_around_a_name_change_nothing(part: Part, before: str, behind: str) -> None:
    """Whatever maker and package, a name means the same as without them."""
    assert meant(cpu(f"{before}{part.id}{behind}")) == meant(cpu(str(part.id)))
