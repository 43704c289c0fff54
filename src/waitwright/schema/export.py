"""JSON Schema of every file, written from the models that read them.

A TOML file answers to its schema as the JSON of the same content: a time is an RFC 3339 text.  A schema
tells the shape of a file and of each value; what only the whole can tell, such as a name that must exist
elsewhere, is left to the readers.
"""

from __future__ import annotations

import ast
import inspect
import textwrap
from collections.abc import Callable, Mapping
from copy import deepcopy
from typing import Any, Literal, get_args

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue, models_json_schema
from pydantic_core import core_schema

from waitwright.schema import board, logbook, machine, markings, rulefile, scalars
from waitwright.schema.problems import MAX_ENTRIES, Entry
from waitwright.units import UNITS

Schema = dict[str, Any]

FileKind = Literal["machine", "board", "logbook", "rules", "roles", "parameters", "rows", "counted", "traits"]
FILE_KINDS: tuple[FileKind, ...] = get_args(FileKind)
"""Kinds of files: profiles, the logbook, files of rules, and the files of words by their stems."""

DIALECT = "https://json-schema.org/draft/2020-12/schema"

_WHAT: Mapping[FileKind, tuple[str, str]] = {
    "machine": ("Machine profile", "Parts, board, current settings and measurements of one machine."),
    "board": ("Board profile", "Slots, options and automatic modes of one board."),
    "logbook": ("Logbook", "All trials of one machine; kept by next and record."),
    "rules": ("Rule file", "Parts, facts, budgets, limits, logic rules, work, suspects and cautions."),
    "roles": ("Words: roles", "rules/words/roles.toml: how rules name the part in a place."),
    "parameters": ("Words: parameters", "rules/words/parameters.toml: timing parameters."),
    "rows": ("Words: rows", "rules/words/rows.toml: lines of data sheets, by kind of part."),
    "counted": ("Words: counted facts", "rules/words/counted.toml: facts counted from what is fitted."),
    "traits": ("Words: traits", "rules/words/traits.toml: traits of work."),
}
_LISTS: Mapping[FileKind, tuple[type[Entry], Mapping[str, type[Entry]]]] = {
    "machine": (machine.MachineHead, machine.SECTIONS),
    "board": (board.BoardHead, board.SECTIONS),
    "logbook": (logbook.LogbookHead, logbook.SECTIONS),
    "rules": (rulefile.RuleFileHead, {**rulefile.SECTIONS, **markings.SECTIONS}),
}
"""Files with keys at their top and lists of tables below."""
_WORDS: Mapping[FileKind, type[Entry]] = {
    "roles": rulefile.RoleEntry,
    "parameters": rulefile.ParameterEntry,
    "rows": rulefile.RowWordEntry,
    "counted": rulefile.FactWordEntry,
    "traits": rulefile.FactWordEntry,
}
"""Files whose top-level tables are the words themselves."""

# ------------------------------------------------------------------------ values with readers of their own

_NUMBER: Schema = {
    "title": 'number such as 12, 12.5 or "100/3"',
    "anyOf": [{"type": "number"}, {"type": "string", "pattern": f"^{scalars.NUMBER_PATTERN}$"}],
}
_CELL: Schema = {
    "title": "number, text, or true or false",
    "anyOf": [
        {"type": "number"},
        {"type": "string", "maxLength": scalars.MAX_CELL_TEXT},
        {"type": "boolean"},
    ],
}
_READING: Schema = {"anyOf": [_NUMBER, {"type": "boolean"}]}


def _list_or_one(item: Schema, most: int) -> Schema:
    return {"anyOf": [item, {"type": "array", "items": item, "minItems": 1, "maxItems": most}]}


_BOUNDS = {"ge": "minimum", "le": "maximum", "gt": "exclusiveMinimum", "lt": "exclusiveMaximum"}
_FIT: Schema = {"anyOf": [{"$ref": "#/$defs/FitEntry"}, {"type": "string", "pattern": scalars.ID_PATTERN}]}
_READ_BY: Mapping[Callable[..., Any], Schema] = {
    scalars.read_number: _NUMBER,
    scalars.read_cell: _CELL,
    scalars.read_cells: _list_or_one(_CELL, scalars.MAX_CELLS),
    scalars.read_unit: {"enum": [*UNITS, "text", "flag"]},
    logbook.read_time: {"type": "string", "format": "date-time"},
    logbook.read_values: _list_or_one(_READING, logbook.MAX_READINGS),
    machine.read_fits: _list_or_one(_FIT, machine.MAX_FITS),
}
"""What the readers of single values accept."""


class _Writer(GenerateJsonSchema):
    """pydantic's writer, told of our own readers, and that TOML knows no null."""

    def function_plain_schema(self, schema: core_schema.PlainValidatorFunctionSchema) -> JsonSchemaValue:
        """What one of our readers accepts."""
        return deepcopy(_READ_BY[schema["function"]["function"]])

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        """What has no value is left out of a file."""
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        """A default is told where it says something."""
        written = super().default_schema(schema)
        if "default" in written and written["default"] in {None, ""}:
            del written["default"]
        return written

    def dict_schema(self, schema: core_schema.DictSchema) -> JsonSchemaValue:
        """Keys of another form are an error, not free of any rule."""
        written = super().dict_schema(schema)
        for pattern, inner in written.pop("patternProperties", {}).items():
            written["propertyNames"] = {**written.get("propertyNames", {}), "pattern": pattern}
            written["additionalProperties"] = inner
        return written

    def field_title_should_be_set(self, schema: Any) -> bool:  # noqa: ARG002 -- no key has a title
        """A key is its own title."""
        return False


# --------------------------------------------------------------------------------------------- files


def file_schema(kind: FileKind) -> Schema:
    """The JSON Schema of files of *kind*, with a description of every key."""
    title, description = _WHAT[kind]
    head: Schema = {
        "$schema": DIALECT,
        "$id": f"urn:waitwright:schema:{kind}",
        "title": title,
        "description": description,
        "type": "object",
    }
    shape = _lists_schema(*_LISTS[kind]) if kind in _LISTS else _words_schema(kind)
    return {**head, **shape}


def _lists_schema(top: type[Entry], sections: Mapping[str, type[Entry]]) -> Schema:
    extra = (machine.FitEntry,) if top in {machine.MachineHead, logbook.LogbookHead} else ()
    definitions = _definitions(top, *sections.values(), *extra)
    shape = definitions.pop(top.__name__)
    lists = {
        key: {
            "type": "array",
            "description": definitions[model.__name__]["description"],
            "items": {"$ref": f"#/$defs/{model.__name__}"},
            "maxItems": MAX_ENTRIES,
        }
        for key, model in sections.items()
    }
    return {
        "properties": {**shape.get("properties", {}), **lists},
        "required": shape.get("required", []),
        "additionalProperties": False,
        "$defs": definitions,
    }


def _words_schema(kind: FileKind) -> Schema:
    model = _WORDS[kind]
    entry: Schema = {"$ref": f"#/$defs/{model.__name__}"}
    table = {"type": "object", "additionalProperties": entry} if kind == "rows" else entry
    return {"additionalProperties": table, "$defs": _definitions(model)}


def _definitions(*models: type[Entry]) -> dict[str, Schema]:
    """Name to schema of *models* and of all models inside them, each key with its meaning."""
    unique = list(dict.fromkeys(models))
    _, written = models_json_schema(
        [(model, "validation") for model in unique], by_alias=True, schema_generator=_Writer
    )
    definitions: dict[str, Schema] = written["$defs"]
    known = {model.__name__: model for model in _subclasses(Entry)}
    for name, definition in definitions.items():
        model = known[name]
        definition["title"] = name.removesuffix("Entry").removesuffix("Head")
        definition["description"] = _plain(inspect.getdoc(model) or "")
        for key, meaning in meanings(model).items():
            shape = _bounded(definition["properties"][key])
            definition["properties"][key] = {**shape, "description": meaning}
    return definitions


def _bounded(shape: Schema) -> Schema:
    """*shape* with the bounds of an exact number in the words of JSON Schema; ratios in texts escape them."""
    bounds = {word: shape.pop(ours) for ours, word in _BOUNDS.items() if ours in shape}
    if not bounds:
        return shape
    number, *others = shape["anyOf"]
    return {**shape, "anyOf": [{**number, **bounds}, *others]}


def _subclasses(model: type[Entry]) -> list[type[Entry]]:
    return [found for direct in model.__subclasses__() for found in (direct, *_subclasses(direct))]


# ------------------------------------------------------------------------------------------ meanings


def meanings(model: type[Entry]) -> dict[str, str]:
    """Key of the file to what it means, for each field of *model*: the text that stands below the field."""
    below = {
        name: text
        for base in reversed(model.__mro__)
        if issubclass(base, Entry) and base is not Entry
        for name, text in _texts_below_fields(base).items()
    }
    return {info.alias or name: _plain(below[name]) for name, info in model.model_fields.items()}


def _texts_below_fields(model: type[Entry]) -> dict[str, str]:
    """Read from the source: the interpreter itself forgets such texts."""
    (definition,) = ast.parse(textwrap.dedent(inspect.getsource(model))).body
    if not isinstance(definition, ast.ClassDef):
        raise TypeError(f"{model.__name__} is no class")
    found = {}
    for statement, after in zip(definition.body, definition.body[1:], strict=False):
        if (
            isinstance(statement, ast.AnnAssign)
            and isinstance(statement.target, ast.Name)
            and isinstance(after, ast.Expr)
            and isinstance(after.value, ast.Constant)
        ):
            found[statement.target.id] = inspect.cleandoc(str(after.value.value))
    return found


def _plain(text: str) -> str:
    """A docstring on one line, without its marks for code."""
    return " ".join(text.split()).replace("``", "")
