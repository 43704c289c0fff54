"""House rules that no linter knows."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[2]
SOURCES = sorted((CHECKOUT / "src" / "waitwright").rglob("*.py"))
LONGEST = 600
RUNNERS = {"eval", "exec", "compile", "__import__"}


def names_of(paths: list[Path]) -> list[str]:
    """Readable test ids."""
    return [str(path.relative_to(CHECKOUT / "src")) for path in paths]


def test_there_are_sources() -> None:
    """The checks of this file look at the package and not at an empty folder."""
    assert len(SOURCES) > 20


@pytest.mark.parametrize("path", SOURCES, ids=names_of(SOURCES))
def test_module_is_short(path: Path) -> None:
    """No module has grown past the length at which it must be split."""
    assert len(path.read_text("utf-8").splitlines()) <= LONGEST


def runs_text(source: str) -> list[int]:
    """Lines of *source* that call a builtin which runs text as code, under whatever name it goes."""
    return [
        node.lineno
        for node in ast.walk(ast.parse(source))
        if (isinstance(node, ast.Name) and node.id in RUNNERS)
        or (
            isinstance(node, ast.Attribute) and node.attr in RUNNERS and ast.unparse(node.value) == "builtins"
        )
    ]


@pytest.mark.parametrize("path", SOURCES, ids=names_of(SOURCES))
def test_no_text_is_run_as_code(path: Path) -> None:
    """Nothing in the package hands text to the Python interpreter; rule text has a parser of its own."""
    assert runs_text(path.read_text("utf-8")) == []


@pytest.mark.parametrize(
    "source", ["eval('1')", "run = exec", "import builtins\nbuiltins.compile('', '', 'exec')"]
)
def test_running_text_would_be_found(source: str) -> None:
    """The search sees direct calls, other names and the long way round, but not a regular expression."""
    assert runs_text(source)
    assert not runs_text("import re\nre.compile('x')")


@pytest.mark.parametrize("folder", ["rules", "profiles"])
def test_data_folders_hold_data_only(folder: str) -> None:
    """A Python file among the data would break an editable installation."""
    assert list((CHECKOUT / folder).rglob("*.py")) == []
