"""Files from strangers: whatever they hold, the answer is objects or clear lines."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Mapping
from typing import Any

import tomli_w
from hypothesis import given
from hypothesis import strategies as st

from waitwright.errors import FileProblems
from waitwright.rulebook.boards import load_board
from waitwright.rulebook.domain import Rulebook
from waitwright.rulebook.load import OWN, Source, build_rulebook
from waitwright.rulebook.machines import load_machine

JUNK = st.sampled_from(
    [
        -1,
        0,
        7,
        10**30,
        True,
        0.5,
        1e300,
        float("nan"),
        "",
        "x",
        "100/0",
        "-",
        "cpu",
        "card",
        "flag",
        "text",
        "9 ** 9",
        "cpu.__class__",
        "not automatic",
        "host_clock",
        "é\n",
        [],
        {},
        [1],
        [[]],
        {"a": 1},
        [{}],
        "x" * 301,
        "386dx-33",
    ]
)


def spots(data: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Paths of every value in *data*."""
    items = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    found = [(*path, key) for key, _ in items]
    return found + [inner for key, value in items for inner in spots(value, (*path, key))]


@st.composite
def damaged(draw: st.DrawFn, text: str) -> str:
    """*text* with up to four values replaced, removed, renamed or doubled."""
    data = copy.deepcopy(tomllib.loads(text))
    for _ in range(draw(st.integers(1, 4))):
        path = draw(st.sampled_from(spots(data) or [("x",)]))
        parent: Any = data
        for key in path[:-1]:
            parent = parent[key]
        how = draw(st.sampled_from(["replace", "remove", "rename", "double"]))
        if how == "replace" or path[-1:] == ("x",):
            parent[path[-1]] = copy.deepcopy(draw(JUNK))  # lists and tables are changed later on
        elif how == "remove":
            del parent[path[-1]]
        elif isinstance(parent, dict):
            parent[f"{path[-1]}x" if how == "rename" else "extra"] = (
                parent.pop(path[-1]) if how == "rename" else copy.deepcopy(parent[path[-1]])
            )
        else:
            parent.append(copy.deepcopy(parent[path[-1]]))
    return tomli_w.dumps(data)


def assert_clear(error: FileProblems) -> None:
    """Every problem is one line that starts with its file."""
    assert error.problems
    for problem in error.problems:
        assert len(str(problem).splitlines()) == 1
        assert str(problem).startswith(problem.file)


@given(st.data())
def test_damaged_rule_files(rule_files: Mapping[str, str], data: st.DataObject) -> None:
    """A rule file damaged at random loads, or ends with clear lines, alone and over the packed rules."""
    name = data.draw(st.sampled_from(sorted(rule_files)))
    text = data.draw(damaged(rule_files[name]))
    sources = [Source(other, content) for other, content in rule_files.items()]
    try:
        if data.draw(st.booleans()):
            book = build_rulebook(
                [*(source for source in sources if source.name != name), Source(name, text)]
            )
        else:
            book = build_rulebook([*sources, Source(f"mine/{name}", text, OWN)])
        assert isinstance(book, Rulebook)
    except FileProblems as error:
        assert_clear(error)


@given(st.data())
def test_damaged_boards(small: Rulebook, board_text: str, data: st.DataObject) -> None:
    """A board damaged at random loads, or ends with clear lines."""
    try:
        load_board(data.draw(damaged(board_text)), small, "board.toml")
    except FileProblems as error:
        assert_clear(error)


@given(st.data())
def test_damaged_machines(small: Rulebook, board_text: str, machine_text: str, data: st.DataObject) -> None:
    """A machine damaged at random loads, or ends with clear lines."""
    board = load_board(board_text, small, "board.toml")
    try:
        load_machine(data.draw(damaged(machine_text)), small, lambda name: board, "machine.toml")
    except FileProblems as error:
        assert_clear(error)
