"""From broken entries to clear lines."""

from __future__ import annotations

import re
from typing import Any

import pytest
import tomli_w
from hypothesis import given
from hypothesis import strategies as st

from waitwright.errors import FileProblems
from waitwright.schema import board, machine, rulefile
from waitwright.schema.problems import Entry, Faults
from waitwright.schema.tomlfile import read_toml

JARGON = re.compile(
    r"pydantic|https?://|Input should|validation|_type\b|union|NoneType|Decimal|\bdict\b|\bstr\b",
    re.IGNORECASE,
)

BUDGET = """\
[[budget]]
id = "l2.first"
title = "First word"
room = "l2"
available = [{ name = "clocks", time = "host_period" }]
spend = [
  { name = "address", time = "cpu.address_valid_max" },
  { name = "setup", time = "cpu.data_setup" },
]
symptoms = ["hang"]
advice = "Add a clock."
source = "data sheet"
basis = "published"
each = ""
"""


def lines_of(text: str, model: type[Entry] = rulefile.BudgetEntry, key: str = "budget") -> list[str]:
    """All problems of the entries under *key* of *text*."""
    faults = Faults()
    list(faults.take_list(model, read_toml(text, "b.toml"), key))
    return [str(problem) for problem in faults.problems]


def test_a_sound_entry_has_no_problems() -> None:
    """The sample that the other tests break is sound."""
    assert lines_of(BUDGET) == []


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ('each = ""', 'eech = ""', "b.toml:14: budget[0].eech: unknown key \"eech\" (did you mean 'each'?)"),
        (
            'each = ""',
            'each = "Card"',
            'b.toml:14: budget[0].each: expected the name of a role, found "Card"',
        ),
        ('each = ""', "each = []", "b.toml:14: budget[0].each: expected a text, found a list"),
        ('title = "First word"\n', "", 'b.toml:1: budget[0]: missing key "title" (add title = "...")'),
        (
            'basis = "published"\n',
            "",
            'b.toml:1: budget[0]: missing key "basis" (add basis = "published" or "memory" or "practice")',
        ),
        (
            'basis = "published"',
            'basis = "rumour"',
            'b.toml:13: budget[0].basis: expected "published", "memory" or "practice", found "rumour"',
        ),
        ('"First word"', "7", "b.toml:3: budget[0].title: expected a text, found 7"),
        ('"First word"', '""', "b.toml:3: budget[0].title: expected a text, found an empty one"),
        (
            'time = "cpu.data_setup"',
            "time = 3.5",
            "b.toml:8: budget[0].spend[1].time: expected a text, found 3.5",
        ),
        (
            'symptoms = ["hang"]',
            'symptoms = "hang"',
            'b.toml:10: budget[0].symptoms: expected a list, found "hang"',
        ),
        (
            '"hang"',
            '"smoke"',
            'b.toml:10: budget[0].symptoms[0]: expected "no-start", "hang", "reboot", '
            '"memory-error", "display-artefact", "disk-error", "sound-fault" or "port-error", found "smoke"',
        ),
        (
            '"l2.first"',
            '"L2 First"',
            "b.toml:2: budget[0].id: expected a name of lower-case letters, digits "
            'and - _ . +, found "L2 First"',
        ),
        (
            '{ name = "clocks", time = "host_period" }',
            "",
            "b.toml:5: budget[0].available: expected at least 1 of them, found 0",
        ),
        (
            '{ name = "clocks", time = "host_period" }',
            '"x"',
            'b.toml:5: budget[0].available[0]: expected a table, found "x"',
        ),
    ],
)
def test_each_mistake_is_one_clear_line(old: str, new: str, line: str) -> None:
    """A mistake is told with file, line, key, what was expected and what to do."""
    assert old in BUDGET
    assert lines_of(BUDGET.replace(old, new, 1)) == [line]


def test_all_mistakes_are_told_together() -> None:
    """Several mistakes in several entries are all told, and the sound entry between them survives."""
    text = BUDGET.replace("room =", "rom =") + BUDGET + BUDGET.replace('"hang"', "1")
    faults = Faults()

    sound = list(faults.take_list(rulefile.BudgetEntry, read_toml(text, "b.toml"), "budget"))

    assert [entry.path for entry in sound] == [("budget", 1)]
    assert [(problem.key, problem.line) for problem in faults.problems] == [
        ("budget[0]", 1),
        ("budget[0].rom", 4),
        ("budget[2].symptoms[0]", 38),
    ]


def test_a_broken_head_does_not_hide_the_rest() -> None:
    """Where a title is missing and a key is unknown, the head stands in for the title and keeps the rest."""
    faults = Faults()
    text = 'schema = 1\ntilte = "x"\nnote = "kept"\n[[slot]]\nid = "cpu"'

    head, broken = faults.take_head(board.BoardHead, read_toml(text, "b.toml"), board.SECTIONS)

    assert head is not None
    assert head.note == "kept"
    assert broken == {"title", "tilte"}
    assert [str(problem) for problem in faults.problems] == [
        'b.toml: missing key "title" (add title = "...")',
        "b.toml:2: tilte: unknown key \"tilte\" (did you mean 'title'?)",
    ]


def test_sections_are_offered_for_unknown_top_keys() -> None:
    """A mistyped list of tables is told with the nearest one."""
    faults = Faults()

    faults.take_head(rulefile.RuleFileHead, read_toml("[[buget]]\nid = 1", "b.toml"), rulefile.SECTIONS)

    assert [str(problem) for problem in faults.problems] == [
        "b.toml:1: buget: unknown key \"buget\" (did you mean 'budget'?)"
    ]


def test_a_future_format_is_told() -> None:
    """A file of another format number is refused with the number that is understood."""
    faults = Faults()

    faults.take_head(board.BoardHead, read_toml('schema = 2\ntitle = "x"', "b.toml"))

    assert [str(problem) for problem in faults.problems] == ["b.toml:1: schema: expected 1, found 2"]


def test_problems_are_bounded_and_in_order_of_lines() -> None:
    """A file with hundreds of mistakes gives the first fifty by line, and how many more there are."""
    faults = Faults()
    file = read_toml("\n".join(f"a{n} = 1" for n in range(200)), "b.toml")
    for n in reversed(range(200)):
        faults.add(file, (f"a{n}",), "wrong")

    with pytest.raises(FileProblems) as caught:
        faults.raise_if_any()

    lines = [problem.line for problem in caught.value.problems]
    assert lines[:50] == list(range(1, 51))
    assert str(caught.value.problems[50]) == "b.toml: and 150 more problems"
    assert len(lines) == 51


MODELS: list[tuple[type[Entry], str]] = [
    *((model, key) for key, model in rulefile.SECTIONS.items()),
    *((model, key) for key, model in board.SECTIONS.items()),
    *((model, key) for key, model in machine.SECTIONS.items()),
    (rulefile.RoleEntry, "role"),
    (rulefile.ParameterEntry, "parameter"),
    (rulefile.RowWordEntry, "row"),
    (rulefile.FactWordEntry, "fact"),
    (machine.FitEntry, "fit"),
    (machine.MachineHead, "head"),
    (board.BoardHead, "head"),
]
WORDS = sorted(
    {info.alias or name for model, _ in MODELS for name, info in model.model_fields.items()}
    | {"time", "per_1000", "name", "ratio", "supply_v", "hours", "x y"}
)
SCALARS = (
    st.integers()
    | st.booleans()
    | st.sampled_from(["", "ns", "flag", "text", "a-b", "published", "1/0", "100/3", "x" * 301, "setup"])
    | st.floats()
    | st.dates()
)
TREES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(WORDS), inner, max_size=4),
    max_leaves=12,
)


@given(st.sampled_from(MODELS), st.dictionaries(st.sampled_from(WORDS), TREES, max_size=8))
def test_any_entry_gives_plain_words(model_and_key: tuple[type[Entry], str], data: dict[str, Any]) -> None:
    """Whatever an entry holds, it is accepted or gives lines in plain words that name file and key."""
    model, key = model_and_key
    file = read_toml(tomli_w.dumps({key: [data]}), "x.toml")
    faults = Faults()

    entries = list(faults.take_list(model, file, key))

    assert bool(entries) != bool(faults.problems)
    for problem in faults.problems:
        text = str(problem)
        assert len(text.splitlines()) == 1
        assert not JARGON.search(text), text
        assert problem.key.startswith(key)
        assert "another kind of value" not in text
