"""The exported JSON Schemas say yes to every packed file, and no to what the readers refuse for its shape."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Mapping
from datetime import datetime
from functools import cache
from pathlib import PurePath
from typing import Any

import pytest
from jsonschema import Draft202012Validator, FormatChecker

from waitwright._resources import LOGBOOK_SUFFIX, packed_files, packed_names
from waitwright.errors import FileProblems
from waitwright.rulebook.load import OWN, Source, build_rulebook, load_rulebook, packed_sources
from waitwright.rulebook.machines import board_finder, load_machine
from waitwright.schema.board import SECTIONS as BOARD
from waitwright.schema.export import FILE_KINDS, FileKind, file_schema, meanings
from waitwright.schema.logbook import SECTIONS as LOGBOOK
from waitwright.schema.machine import SECTIONS as MACHINE
from waitwright.schema.markings import SECTIONS as MARKINGS
from waitwright.schema.problems import Entry
from waitwright.schema.rulefile import SECTIONS as RULES


def kind_of(name: str) -> FileKind:
    """The kind of the packed rule file *name*."""
    for kind in FILE_KINDS:
        if name == f"rules/words/{kind}.toml":
            return kind
    return "rules"


def profile_kind(name: str) -> FileKind:
    """Whether a packed file among the machines is a machine or the logbook beside one."""
    return "logbook" if name.endswith(LOGBOOK_SUFFIX) else "machine"


PACKED: list[tuple[str, FileKind]] = [
    *((name, profile_kind(name)) for name, _ in packed_files("profiles/machines")),
    *((name, "board") for name, _ in packed_files("profiles/boards")),
    *((name, kind_of(name)) for name, _ in packed_files("rules")),
]
LOGBOOK_TEXT = """
schema = 1
machine = "attic"

[offer]
number = 2
time = 2026-02-03T20:00:00+01:00
mode = "jump"
hours = 4
reason = "1 change"
[offer.settings]
clock = "33"

[[trial]]
number = 1
time = 2026-02-03T12:00:00Z
outcome = "failed"
symptoms = ["hang"]
hours = 0.5
note = "after lunch"
settings = { clock = "40" }
[[trial.score]]
value = 36.5
unit = "points"
[[trial.reading]]
name = "network"
value = [9.8, 9.9, 10]
unit = "kohm"
"""


def plain(value: Any) -> Any:
    """TOML as JSON has it: times as texts."""
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    return [plain(item) for item in value] if isinstance(value, list) else value


def content(name: str) -> dict[str, Any]:
    """A packed file as JSON."""
    found = {path: entry for folder in ("rules", "profiles") for path, entry in packed_files(folder)}
    shown: dict[str, Any] = plain(tomllib.loads(found[name].read_text("utf-8")))
    return shown


@cache
def judge_of(kind: FileKind) -> Draft202012Validator:
    """A validator of files of *kind*."""
    return Draft202012Validator(file_schema(kind), format_checker=FormatChecker())


@pytest.mark.parametrize("kind", FILE_KINDS)
def test_schema_is_sound(kind: FileKind) -> None:
    """Each schema is itself a valid JSON Schema, and says what it is about."""
    schema = file_schema(kind)

    Draft202012Validator.check_schema(schema)
    assert schema["title"]
    assert schema["description"]


@pytest.mark.parametrize(("name", "kind"), PACKED, ids=[name for name, _ in PACKED])
def test_packed_files_answer_to_their_schema(name: str, kind: FileKind) -> None:
    """Every packed file is valid by the schema of its kind."""
    assert list(judge_of(kind).iter_errors(content(name))) == []


def test_logbook_answers_to_its_schema() -> None:
    """A logbook with trial, scores, readings and an offer is valid by its schema."""
    assert list(judge_of("logbook").iter_errors(plain(tomllib.loads(LOGBOOK_TEXT)))) == []


def test_a_time_must_be_a_time() -> None:
    """The schema of the logbook knows that a time is no other text."""
    book = plain(tomllib.loads(LOGBOOK_TEXT))
    book["trial"][0]["time"] = 12

    assert list(judge_of("logbook").iter_errors(book))


@pytest.mark.parametrize("kind", ["machine", "board", "logbook", "rules"])
def test_every_table_is_told(kind: FileKind) -> None:
    """A schema has every list of tables that files of its kind may have, and a meaning for each key in it."""
    sections: Mapping[FileKind, Mapping[str, type[Entry]]] = {
        "machine": MACHINE,
        "board": BOARD,
        "logbook": LOGBOOK,
        "rules": {**RULES, **MARKINGS},
    }
    schema = file_schema(kind)

    assert set(sections[kind]) <= set(schema["properties"])
    for definition in schema["$defs"].values():
        assert definition["description"]
        for key, shape in definition["properties"].items():
            assert shape["description"], key


def test_meanings_stand_below_their_fields() -> None:
    """The meaning of a key is the text below its field, that of an inherited one included."""
    found = meanings(RULES["budget"])

    assert found["spend"] == "What takes it, in the order in which the signal meets it."
    assert found["title"].startswith("What it is about")


Damage = tuple[str, Any]
DAMAGE: Mapping[str, tuple[Damage, ...]] = {
    "machine": (
        ("schema", 2),
        ("title", ""),
        ("title", 7),
        ("board", None),
        ("colour", "beige"),
        ("fit.cpu", 7),
        ("fit.cpu", {"count": 2}),
        ("fit.cpu", {"part": "386dx-33", "count": 0}),
        ("fit.cpu", []),
        ("fit.CPU", "386dx-33"),
        ("current", ["33"]),
        ("current.host-clock", 33),
        ("proven", {"symptoms": ["tired"]}),
        ("environment", {"supply_v": "warm"}),
        ("spare", {"part": "386dx-40"}),
        ("spare", [{"part": "386dx-40", "count": -1}]),
        ("measured", [{"name": "supply", "value": 4.9, "unit": "volt"}]),
    ),
    "board": (
        ("slot.0.id", "Slot 1"),
        ("slot.0.bus", "mca"),
        ("slot.0.chips", 0),
        ("option.0.kind", "dial"),
        ("option.0.choice", []),
        ("option.0.choice.0.label", None),
        ("option.0.choice.0.set", {"isa_divider": [4]}),
        ("rule", [{"id": "x", "title": "X", "require": 1}]),
    ),
    "rules": (
        ("budgets", []),
        ("budget.0.spend", []),
        ("budget.0.source", None),
        ("budget.0.basis", "rumour"),
        ("budget.0.spend.0.time", 10),
        ("budget.0.symptoms", ["hang", "smoke"]),
    ),
}  # fmt: skip


def damaged(data: dict[str, Any], place: str, value: Any) -> dict[str, Any]:
    """*data* with *value* at *place*, or without what is there where *value* is None."""
    whole = copy.deepcopy(data)
    *steps, last = place.split(".")
    inner: Any = whole
    for step in steps:
        inner = inner[int(step) if step.isdigit() else step]
    if value is None:
        del inner[last]
    else:
        inner[last] = value
    return whole


@pytest.mark.parametrize(
    ("kind", "place", "value"), [(kind, *damage) for kind, damages in DAMAGE.items() for damage in damages]
)
def test_bad_shapes_are_refused(kind: FileKind, place: str, value: Any) -> None:
    """What has a wrong shape is refused by the schema, and by the reader of the files as well."""
    name = {
        "machine": "profiles/machines/tollgate-386dx33.toml",
        "board": "profiles/boards/harrow-h346.toml",
        "rules": "rules/budgets/l2-read.toml",
    }[kind]
    bad = damaged(content(name), place, value)

    assert list(judge_of(kind).iter_errors(bad))
    with pytest.raises(FileProblems):
        read(kind, bad)


def read(kind: FileKind, data: dict[str, Any]) -> object:
    """What the reader of the files makes of *data*."""
    import tomli_w

    text = tomli_w.dumps(data)
    if kind == "rules":
        return build_rulebook([*packed_sources(), Source("mine.toml", text, OWN)])
    book = load_rulebook()
    if kind == "machine":
        return load_machine(text, book, board_finder(book), "mine.toml")
    from waitwright.rulebook.boards import load_board

    return load_board(text, book, "mine.toml")


def test_there_are_packed_files() -> None:
    """The checks above look at machines, logbooks, boards, rules and words, and not at an empty package."""
    assert {kind for _, kind in PACKED} == set(FILE_KINDS)
    assert {PurePath(name).stem for name, kind in PACKED if kind == "board"} == set(packed_names("boards"))
