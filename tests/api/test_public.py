"""The names that others may import: complete, typed, told, and slow only where they are used."""

from __future__ import annotations

import ast
import dataclasses
import importlib
import inspect
import json
import subprocess
import sys
import typing
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FunctionType
from typing import Any

import pytest

import waitwright
from waitwright.cli.app import command

CHECKOUT = Path(__file__).resolve().parents[2]
EXAMPLES = sorted((CHECKOUT / "docs" / "examples").glob("*.py"))
NOT_FOR_PYTHON = {"new", "rules", "page", "completion"}
"""Commands that ask, list, serve or print for a shell: there is nothing for a program in them."""
CALLED = {"next": "next_trial"}
"""Commands whose name Python has taken."""

CLIENT = """
from datetime import UTC, datetime
from pathlib import Path

from waitwright import (
    CheckView, FileProblems, InputError, NextView, Question, RankView, ReachView, RecordView, Report,
    Rulebook, SheetView, SuspectsView, SwapsView, Target, WaitwrightError, WhyView, Wish, check, copy_packed,
    file_schema, list_boards, list_machines, load_rulebook, next_trial, rank, reach, record, sheet, suspect,
    swap, undo, why, write_sheet,
)

question = Question("mine.toml", seed=3).at({"cache-read": "2-1-1-1"})
now = datetime(2026, 1, 31, tzinfo=UTC)
checked: CheckView = check(question, hours=None)
ranked: RankView = rank(question, Wish(odds=0.95))
told: WhyView = why(question.at(ranked.results[0].settings))
offered: NextView = next_trial(question, now=now)
kept: RecordView = record(question, Report("failed", ("hang",), hours=0.5), now=now)
gone: RecordView = undo(question)
causes: SuspectsView = suspect(question)
swaps: SwapsView = swap(question, market=True)
far: ReachView = reach(question, Target(36.0, "points"))
paper: SheetView = sheet(question, now=now)
printed: Path = write_sheet(paper, Path("mine.html"))
book: Rulebook = load_rulebook(Path("my-rules"))
path: Path = copy_packed(list_machines()[0].name, Path("copy.toml"))
names: list[str] = [board.title for board in list_boards()]
shape: dict[str, object] = file_schema("machine")
try:
    odds: float | None = check(question).odds
except FileProblems as error:
    lines: list[str] = [problem.message for problem in error.problems]
except InputError as error:
    print(error)
except WaitwrightError:
    raise
wrong: int = check(question)
"""


def public() -> Iterator[tuple[str, Any]]:
    """Each public name with what it stands for."""
    for name in waitwright.__all__:
        yield name, getattr(waitwright, name)


def functions(thing: Any) -> Iterator[tuple[str, FunctionType]]:
    """A function itself; of a class, its public methods and properties."""
    if inspect.isfunction(thing):
        yield thing.__name__, thing
    for name, member in vars(thing).items() if inspect.isclass(thing) else ():
        inner = member.fget if isinstance(member, property) else member
        if inspect.isfunction(inner) and not name.startswith("_"):
            yield f"{thing.__name__}.{name}", inner


def test_front_matches_what_types_see() -> None:
    """The imports for type checkers, the table for run time and ``__all__`` name the same things."""
    tree = ast.parse(Path(waitwright.__file__).read_text("utf-8"))
    seen = {
        (node.module, alias.name)
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("waitwright.")
        for alias in node.names
    }

    assert seen == {(home, name) for home, names in waitwright._HOMES.items() for name in names}
    assert sorted(name for _, name in seen) == sorted(waitwright.__all__)
    assert waitwright.__all__ == sorted(waitwright.__all__)
    assert set(waitwright.__all__) <= set(dir(waitwright))


@pytest.mark.parametrize("name", waitwright.__all__)
def test_every_name_is_there(name: str) -> None:
    """Each public name can be imported, is defined where the table says, and is told in a docstring."""
    thing = getattr(waitwright, name)
    home = next(module for module, names in waitwright._HOMES.items() if name in names)

    assert thing is getattr(importlib.import_module(home), name)
    assert thing.__module__ == home
    assert len(inspect.getdoc(thing) or "") > 20


@pytest.mark.parametrize("name", waitwright.__all__)
def test_annotations_are_complete(name: str) -> None:
    """Each argument, answer and field of a public name has a type that can be resolved."""
    thing = getattr(waitwright, name)
    for where, function in functions(thing):
        hints = typing.get_type_hints(function)
        for argument in inspect.signature(function).parameters:
            assert argument == "self" or argument in hints, f"{where}: {argument}"
        assert "return" in hints, where
        assert inspect.getdoc(function), where
    if dataclasses.is_dataclass(thing):
        assert set(typing.get_type_hints(thing)) >= {field.name for field in dataclasses.fields(thing)}


def test_what_can_fail_says_how() -> None:
    """Each public function that looks at files or wishes of the user names the errors that it raises."""
    for name, thing in public():
        if inspect.isfunction(thing):
            assert "Raises:" in (inspect.getdoc(thing) or ""), name


def test_answers_are_plain_data() -> None:
    """Each public answer is frozen and can be told as JSON by ``to_dict``."""
    views = [thing for name, thing in public() if name.endswith("View")]

    assert len(views) >= 8
    for view in views:
        assert view.__dataclass_params__.frozen
        assert typing.get_type_hints(view.to_dict)["return"] == dict[str, Any]


def test_every_command_can_be_asked_from_python() -> None:
    """What a command answers, a public function of the same name answers too."""
    commands = set(command().commands)  # type: ignore[attr-defined]

    assert {CALLED.get(name, name) for name in commands - NOT_FOR_PYTHON} <= set(waitwright.__all__)


def test_unknown_names_are_refused() -> None:
    """A name that is not public is no attribute, as in any module."""
    with pytest.raises(AttributeError, match="no attribute 'overclock'"):
        waitwright.overclock  # noqa: B018


def test_import_loads_nothing_else() -> None:
    """Importing the package loads no module beside it, and an error class loads no heavy library."""
    spy = (
        "import sys; before = set(sys.modules); import waitwright; first = set(sys.modules) - before;"
        "waitwright.InputError; import json; print(json.dumps([sorted(first), sorted(sys.modules)]))"
    )
    done = subprocess.run([sys.executable, "-c", spy], capture_output=True, text=True, check=True)
    first, later = json.loads(done.stdout)

    assert set(first) <= {"__future__", "waitwright"}
    assert not {name.split(".")[0] for name in later} & {"numpy", "pydantic", "rich", "typer", "constraint"}


def test_client_passes_the_type_checker(tmp_path: Path) -> None:
    """A client that uses every public name passes mypy --strict, but for a line that is wrong on purpose."""
    pytest.importorskip("mypy", reason="the type checker belongs to the lint extra")
    client = tmp_path / "client.py"
    client.write_text(CLIENT, "utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", "--config-file", "", "--cache-dir", str(tmp_path), client],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    complaints = [line for line in done.stdout.splitlines() if ": error: " in line]

    assert len(complaints) == 1, done.stdout
    assert f":{CLIENT.splitlines().index('wrong: int = check(question)') + 1}: " in complaints[0]
    assert {name for name in waitwright.__all__ if name not in CLIENT} == set()


@pytest.fixture(params=EXAMPLES, ids=[path.name for path in EXAMPLES])
def example(request: pytest.FixtureRequest) -> Path:
    """An example program of the documents."""
    path: Path = request.param
    return path


def test_examples_run(example: Path, tmp_path: Path) -> None:
    """Each example runs as it stands, from any folder, prints an answer and leaves nothing behind."""
    run: Callable[..., subprocess.CompletedProcess[str]] = subprocess.run
    done = run([sys.executable, str(example)], cwd=tmp_path, capture_output=True, text=True, check=False)

    assert done.returncode == 0, done.stderr
    assert done.stdout.count("\n") > 5
    assert done.stderr == ""
    assert list(tmp_path.iterdir()) == []


def test_there_is_an_example() -> None:
    """The documents hold at least one example program."""
    assert EXAMPLES
