"""Lines of keys."""

from __future__ import annotations

import tomllib
from typing import Any

import tomli_w
from hypothesis import given
from hypothesis import strategies as st

from waitwright.schema.spans import KeyPath, dotted, key_lines, line_of

SAMPLE = '''\
# [not] a = table
schema = 1
text = """
[[rule]]
fake = 3 \\""" still text
"""
raw = \'\'\'
a = 1\'\'\'
quoted."a.b".'c d' = 2  # trailing # comment

[fixed]
x = { y = 1, z = [1,
  { deep = "}" }] }

[[option]]
id = "a"
[[option.choice]]
id = "one"
set = { p = 1 }
[[option.choice]]
id = "two"

[[option]]
id = "b"
[option.extra]
on = true
spend = [
  { name = "first, with ] and }", time = "1" },

  # between
  { name = 'second', time = "2" },
]
'''


def test_lines_of_a_sample() -> None:
    """Headers, keys, list items, inline tables and quoted keys are all found where they stand."""
    expected: dict[KeyPath, int] = {
        ("schema",): 2,
        ("text",): 3,
        ("raw",): 7,
        ("quoted", "a.b", "c d"): 9,
        ("fixed",): 11,
        ("fixed", "x", "y"): 12,
        ("fixed", "x", "z", 0): 12,
        ("fixed", "x", "z", 1, "deep"): 13,
        ("option", 0): 15,
        ("option", 0, "id"): 16,
        ("option", 0, "choice", 0): 17,
        ("option", 0, "choice", 0, "set", "p"): 19,
        ("option", 0, "choice", 1, "id"): 21,
        ("option", 1, "id"): 24,
        ("option", 1, "extra", "on"): 26,
        ("option", 1, "extra", "spend", 0, "time"): 28,
        ("option", 1, "extra", "spend", 1, "name"): 31,
    }

    assert tomllib.loads(SAMPLE)["option"][1]["extra"]["on"] is True
    assert {path: line_of(SAMPLE, path) for path in expected} == expected
    assert ("rule",) not in key_lines(SAMPLE)


def test_an_absent_key_has_the_line_of_its_parent() -> None:
    """A key that is missing is told at the table that should hold it."""
    assert line_of(SAMPLE, ("option", 1, "label")) == 23
    assert line_of(SAMPLE, ("nothing", "here")) is None
    assert line_of(SAMPLE, ()) is None


def test_dotted_paths() -> None:
    """Key paths are written with dots, positions in brackets, and odd keys in quotes."""
    assert dotted(("option", 3, "choice", 0, "set")) == "option[3].choice[0].set"
    assert dotted(("l2.banks",)) == '"l2.banks"'
    assert dotted(()) == ""


KEYS = st.text(alphabet="ab.- \"'\\#]=é", min_size=1, max_size=4)
VALUES = st.recursive(
    st.integers(-5, 5) | st.booleans() | st.text(alphabet="a'\"\\\n]},#= é", max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
    max_leaves=8,
)


def paths_of(data: Any, path: KeyPath = ()) -> set[KeyPath]:
    """Every path in *data*."""
    items = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    return {(*path, key) for key, _ in items}.union(*(paths_of(value, (*path, key)) for key, value in items))


@given(st.dictionaries(KEYS, VALUES, max_size=4), st.booleans())
def test_every_key_of_a_file_has_a_line(data: dict[str, Any], multiline: bool) -> None:
    """Whatever a TOML writer writes, each of its keys and items is found on some line of the text."""
    text = tomli_w.dumps(data, multiline_strings=multiline)
    lines = key_lines(text)
    wanted = {
        path
        for path in paths_of(tomllib.loads(text))
        if not any("\\" in str(key) or '"' in str(key) for key in path)
    }

    assert wanted <= lines.keys()
    assert all(1 <= line <= text.count("\n") + 1 for line in lines.values())
