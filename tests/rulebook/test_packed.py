"""The rulebook and profiles that come with the package."""

from __future__ import annotations

from pathlib import Path

import pytest

from waitwright._resources import packed_files, packed_names, packed_profile
from waitwright.errors import FileProblems, UsageError
from waitwright.rulebook.lint import lint
from waitwright.rulebook.load import load_rulebook
from waitwright.rulebook.machines import board_finder, load_machine
from waitwright.rulebook.writing import dump_machine


def test_the_packed_rulebook_loads_without_errors() -> None:
    """Every packed rule file is sound, and every rule and number in them says where it comes from."""
    book = load_rulebook()

    assert book.parts and book.parameters and book.facts
    assert [finding for finding in lint(book) if finding.severity == "error"] == []
    assert all(value.provenance.source for part in book.parts.values() for value in part.values.values())


def test_the_packed_rulebook_is_loaded_once() -> None:
    """Asking twice gives the same object; with own rules it is made anew."""
    assert load_rulebook() is load_rulebook()


def test_own_rules_over_the_packed_ones(tmp_path: Path) -> None:
    """A user's folder adds parts to the packed catalogue, and its errors name its own files."""
    path = tmp_path / "mine.toml"
    path.write_text(
        '[[family]]\nid = "mine"\nkind = "sram"\ntitle = "my RAM"\nsource = "measured"\nbasis = "practice"\n'
        'rows = { access = { value = 11, unit = "ns" } }\n',
        "utf-8",
    )

    book = load_rulebook(tmp_path)

    assert book.parts.keys() - load_rulebook().parts.keys() == {"mine"}
    path.write_text(path.read_text("utf-8").replace("access", "acess"), "utf-8")
    with pytest.raises(FileProblems) as caught:
        load_rulebook(tmp_path)
    assert [problem.file for problem in caught.value.problems] == [str(path)]


@pytest.mark.parametrize("name", packed_names("machines"))
def test_every_packed_machine_loads_and_is_written_back(name: str) -> None:
    """Each packed machine is sound, and reading what is written for it gives the same machine."""
    book = load_rulebook()
    source = packed_profile("machines", name)
    assert source is not None
    find = board_finder(book)
    machine = load_machine(source, book, find, name)

    assert load_machine(dump_machine(machine), book, find, name) == machine


def test_boards_are_found_by_name_and_by_path(tmp_path: Path, board_text: str) -> None:
    """A board is packed, or a file beside the machine; else the nearest packed name is offered."""
    book = load_rulebook()
    name = Path(packed_files("profiles/boards")[0][0]).stem
    find = board_finder(book, tmp_path)

    assert find(name).slots
    with pytest.raises(UsageError, match=f"did you mean '{name}'"):
        find(name[:-1])
    with pytest.raises(UsageError, match="no board file"):
        find("mine.toml")
    (tmp_path / "mine.toml").write_text("schema = 1\n", "utf-8")
    with pytest.raises(FileProblems, match='missing key "title"'):
        find("mine.toml")
