"""What documents and ``rules show`` say of readings and margins agrees with how the program judges them."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator
from importlib import import_module
from pathlib import Path

import pytest

from waitwright.api.rules import show_rule
from waitwright.rulebook.domain import Measurement
from waitwright.rulebook.load import load_rulebook
from waitwright.timing.margins import TIGHT_SHARE

CHECKOUT = Path(__file__).resolve().parents[2]
MEASUREMENTS = tuple(load_rulebook().measurements)


@pytest.fixture(scope="module")
def expand() -> Iterator[Callable[[str], str]]:
    """A page with its directives replaced."""
    sys.path.insert(0, str(CHECKOUT / "docs"))
    yield import_module("making.shown").expand
    sys.path.remove(str(CHECKOUT / "docs"))


def measurement(name: str) -> Measurement:
    """A packed measurement."""
    return load_rulebook().measurements[name]


def page(name: str) -> str:
    """The source of a page."""
    return (CHECKOUT / "docs" / "pages" / f"{name}.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", MEASUREMENTS)
def test_ends_of_bands_say_what_they_count(name: str, expand: Callable[[str], str]) -> None:
    """Every closed band tells its unit, or times what it is; page and ``rules show`` agree."""
    one = measurement(name)
    told = "\n".join(show_rule(name).rules[0].detail)
    shown = expand(f"{{{{ measurement: {name} }}}}")
    for band in one.bands:
        assert band.text in told and band.text in shown
        if band.at_most is None or one.kind == "answer":
            continue
        relative = one.kind == "list" or one.relative_to is not None
        end = f"up to {band.at_most:g} " + ("times what" if one.kind == "list" else "times the expected")
        end = end if relative else f"up to {band.at_most:g} {one.unit}"
        assert end in told and f"| {end}" in shown


@pytest.mark.parametrize("name", MEASUREMENTS)
def test_expected_value_is_told(name: str, expand: Callable[[str], str]) -> None:
    """Whatever is measured as a number has its expected value told, on a page and by ``rules show``."""
    told = any(line.startswith("expected: ") for line in show_rule(name).rules[0].detail)
    shown = "\nExpected: " in expand(f"{{{{ measurement: {name} }}}}")

    assert told is shown is (measurement(name).kind != "answer")


def test_kilohms_of_the_page_are_judged_as_it_says() -> None:
    """The readings beside 9.8 kohm that the page calls sound, shared, drifted and open are judged so."""
    network = measurement("pull-up-networks")
    found = re.search(
        r"neighbours of ([\d.]+) kohm, one of ([\d.]+) is as it should be, one of ([\d.]+) shares its path "
        r"with something, one of ([\d.]+) has drifted, and one of ([\d.]+) is open",
        page("measuring"),
    )
    assert found is not None
    beside, sound, shared, drifted, opened = map(float, found.groups())
    texts = [network.judge(reading / beside).text for reading in (shared, sound, drifted, opened)]

    assert texts == [band.text for band in network.bands]


@pytest.mark.parametrize("where", ["README.md", "docs/pages/margins.md"])
def test_share_that_counts_as_tight_is_told(where: str) -> None:
    """Page and README name the share of the time below which what is left is tight."""
    text = (CHECKOUT / where).read_text(encoding="utf-8")

    assert re.search(rf"\*\*tight\*\*.*\b{float(100 * TIGHT_SHARE):g} %", text)
