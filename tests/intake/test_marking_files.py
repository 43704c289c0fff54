"""Marking practice as data: read with every error, added to and overridden by a user's own files."""

from __future__ import annotations

from pathlib import Path

import pytest

from waitwright.errors import FileProblems
from waitwright.intake.markings import read_marking
from waitwright.intake.processors import processor_named
from waitwright.intake.readings import Taken
from waitwright.rulebook.load import load_rulebook

ORIGIN = 'source = "seen on my board"\nbasis = "practice"\n'
CHIP = '[[chip]]\nid = "mine"\nkind = "sram"\norganisation = "32Kx8"\n' + ORIGIN


def test_packed_markings_have_sources() -> None:
    """Every packed code, chip, module and word says where it comes from."""
    found = load_rulebook().markings
    origins = [
        *(entry.provenance for entry in found.codes.values()),
        *(entry.provenance for entry in found.chips.values()),
        *(entry.provenance for entry in found.modules.values()),
        *(entry.provenance for entry in found.spoken),
    ]

    assert len(origins) > 50
    assert all(origin.source and origin.basis for origin in origins)


def test_own_numbers_and_words(tmp_path: Path) -> None:
    """A user's folder teaches new part numbers and names, and replaces a packed code by its id."""
    (tmp_path / "mine.toml").write_text(
        f'{CHIP}families = ["sram-32kx8"]\nnumbers = ["9z256"]\ncode = "sram-fast"\n'
        f'[[spoken]]\nid = "nickname"\nkind = "cpu"\nfamilies = ["486dx2"]\nwords = ["twice"]\n{ORIGIN}'
        f'[[code]]\nid = "dram"\ntitle = "mine"\nunit = "ns"\nmeans = {{ "3" = [33] }}\n{ORIGIN}',
        "utf-8",
    )
    book = load_rulebook(tmp_path)
    cpus = [part for part in book.parts.values() if part.kind == "cpu"]
    chip, code = read_marking("9Z256-15", "sram", book.markings), read_marking("-3", "dram", book.markings)
    named = processor_named("twice-66", cpus, book.markings)

    assert isinstance(chip, Taken) and chip.value.organisation == "32Kx8"
    assert isinstance(code, Taken) and code.value.access == 33_000
    assert isinstance(named, Taken) and named.value.id == "486dx2-66"
    assert set(load_rulebook().markings.codes) == set(book.markings.codes)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (CHIP + 'families = ["sram-32kx8"]\nnumbers = ["9z256"]\ncode = "sarm"', "did you mean 'sram'"),
        (CHIP + 'families = ["sram-32k"]\nnumbers = ["9z256"]\ncode = "sram"', "unknown family 'sram-32k'"),
        (CHIP + 'families = ["sram-32kx8"]\nnumbers = ["Z9"]\ncode = "sram"', "numbers"),
        (CHIP + 'families = ["sram-32kx8"]\nnumbers = []\ncode = "sram"', "at least 1"),
        (f'[[spoken]]\nid = "x"\nkind = "cpu"\nwords = ["x"]\n{ORIGIN}', "families, or a row"),
        (f'[[spoken]]\nid = "x"\nkind = "cpu"\nwords = ["x"]\nfamilies = ["no"]\n{ORIGIN}', "unknown family"),
        (
            f'[[spoken]]\nid = "x"\nkind = "cpu"\nwords = ["x"]\nfamilies = ["5x86"]\ngrade = "99"\n{ORIGIN}',
            "unknown grade of 5x86 '99'",
        ),
        (
            f'[[module]]\nid = "x"\npins = 40\nsize_mb = 1\nchips = [8]\nrefresh = "refresh-512"\n{ORIGIN}',
            "40",
        ),
        (
            f'[[module]]\nid = "x"\npins = 30\nsize_mb = 1\nchips = [8]\nrefresh = "no"\n{ORIGIN}',
            "unknown part",
        ),
        ('[[code]]\nid = "x"\ntitle = "x"\nunit = "ns"\nmeans = { "7" = [70] }', "source"),
        (f'[[code]]\nid = "x"\ntitle = "x"\nunit = "ns"\nmeans = {{ "seven" = [70] }}\n{ORIGIN}', "seven"),
        (f'[[code]]\nid = "x"\ntitle = "x"\nunit = "ns"\nmeans = {{ "7" = [] }}\n{ORIGIN}', "at least 1"),
    ],
)
def test_faults_are_told(tmp_path: Path, text: str, told: str) -> None:
    """A faulty entry is told with its file, key and what was expected."""
    path = tmp_path / "mine.toml"
    path.write_text(text, "utf-8")

    with pytest.raises(FileProblems) as caught:
        load_rulebook(tmp_path)

    assert all(problem.file == str(path) for problem in caught.value.problems)
    assert told in str(caught.value)
