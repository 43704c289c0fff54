"""``rules schema``: what is printed, and what is written."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from waitwright.cli.main import run
from waitwright.schema.export import FILE_KINDS, file_schema

Captured = pytest.CaptureFixture[str]


def test_kinds_are_listed(capsys: Captured) -> None:
    """Without a kind of file, each kind stands on a line with what it is."""
    assert run(["rules", "schema"]) == 0

    out = capsys.readouterr().out
    assert [line.split()[0] for line in out.splitlines() if not line.startswith(" ")] == list(FILE_KINDS)


@pytest.mark.parametrize("kind", FILE_KINDS)
def test_one_kind_is_printed(kind: str, capsys: Captured, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a kind, its schema is printed as JSON that no terminal width breaks up."""
    monkeypatch.setenv("COLUMNS", "30")
    assert run(["rules", "schema", kind]) == 0

    printed = json.loads(capsys.readouterr().out)
    assert printed == file_schema(kind)  # type: ignore[arg-type]


def test_json_has_all_by_kind(capsys: Captured) -> None:
    """With --json there is one object, the schemas by their kinds."""
    assert run(["rules", "schema", "--json"]) == 0

    printed = json.loads(capsys.readouterr().out)
    assert list(printed) == ["schemas"]
    assert list(printed["schemas"]) == list(FILE_KINDS)


def test_files_are_written(tmp_path: Path, capsys: Captured) -> None:
    """With a folder each schema becomes a file in it, and the paths are told."""
    folder = tmp_path / "new" / "schemas"
    assert run(["rules", "schema", "-o", str(folder), "--json"]) == 0

    paths = json.loads(capsys.readouterr().out)["paths"]
    assert paths == [str(folder / f"{kind}.schema.json") for kind in FILE_KINDS]
    assert json.loads(Path(paths[0]).read_text("utf-8"))["title"] == "Machine profile"

    assert run(["rules", "schema", "board", "-o", str(tmp_path)]) == 0
    assert (tmp_path / "board.schema.json").is_file()
    assert not (tmp_path / "machine.schema.json").exists()


def test_unknown_kind(capsys: Captured) -> None:
    """A kind of file that there is not is told with the one that may have been meant."""
    assert run(["rules", "schema", "machin"]) == 2

    assert capsys.readouterr().err == (
        "waitwright: schema machin: no such kind of file (did you mean 'machine'?)\n"
    )


def test_folder_that_is_a_file(tmp_path: Path, capsys: Captured) -> None:
    """Where no folder can be, one line says so."""
    (tmp_path / "taken").touch()
    assert run(["rules", "schema", "-o", str(tmp_path / "taken")]) == 2

    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith(f"waitwright: {tmp_path / 'taken'}: cannot be written")
