"""The reference of files, from their schemas."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from making.tables import cell
from waitwright.api.schemas import file_schemas

Schema = dict[str, Any]


def page() -> str:
    """The reference of files, as Markdown."""
    return "\n".join(_lines()) + "\n"


def _lines() -> Iterator[str]:
    yield "# Files"
    yield ""
    yield "All files are TOML in UTF-8."
    yield "`waitwright rules schema` exports what stands here as JSON Schema, for editors that check files."
    for kind, schema in file_schemas().schemas.items():
        yield ""
        yield f"## {schema['title']}"
        yield ""
        yield f"{schema['description']} Schema: `waitwright rules schema {kind}`."
        inner = schema.get("$defs", {})
        if keys := schema.get("properties"):
            yield from _table(keys, schema.get("required", ()))
        else:
            yield ""
            yield f"Each table is a word: {_kind(schema.get('additionalProperties', {}))}."
        for name, part in inner.items():
            if part.get("properties"):
                yield ""
                yield f"### {_title(name)}"
                yield ""
                yield part.get("description", "").strip()
                yield from _table(part["properties"], part.get("required", ()))


def _table(keys: dict[str, Schema], required: Any) -> Iterator[str]:
    yield ""
    yield "| key | takes | means |"
    yield "| --- | --- | --- |"
    for name, key in keys.items():
        must = "" if name in required else " (may be left out)"
        text = " ".join(key.get("description", "").split())
        yield f"| `{name}` | {cell(_kind(key) + must)} | {cell(text)} |"


def _kind(key: Schema) -> str:
    """What a key takes, in words."""
    if "title" in key:
        return str(key["title"])
    if reference := key.get("$ref"):
        return f"a table: {_title(reference.rsplit('/', 1)[1])}"
    if choices := key.get("enum"):
        return "one of " + ", ".join(f"`{choice}`" for choice in choices)
    if "const" in key:
        return f"`{key['const']}`"
    if several := key.get("anyOf"):
        return " or ".join(dict.fromkeys(_kind(one) for one in several))
    match key.get("type"):
        case "array" if "$ref" in (item := key.get("items", {})):
            return f"tables, each {_kind(item).removeprefix('a table: ')}"
        case "array":
            return f"a list, each {_kind(key.get('items', {}))}"
        case "object":
            return f"names, each with {_kind(key.get('additionalProperties') or {})}"
        case "boolean":
            return "`true` or `false`"
        case "string":
            return "a time" if key.get("format") == "date-time" else "text"
        case "integer" | "number" as number:
            return _bounded("a whole number" if number == "integer" else "a number", key)
    return "a value"


def _bounded(text: str, key: Schema) -> str:
    least, most = key.get("minimum", key.get("exclusiveMinimum")), key.get("maximum")
    if least is None and most is None:
        return text
    if most is None:
        return f"{text} from {least:g}" if "minimum" in key else f"{text} above {least:g}"
    return f"{text}, {least:g} to {most:g}" if least is not None else f"{text} up to {most:g}"


def _title(name: str) -> str:
    """``SlotEntry`` as ``slot``, ``RowWordEntry`` as ``row word``."""
    words = "".join(f" {letter.lower()}" if letter.isupper() else letter for letter in name)
    return words.strip().removesuffix(" entry")
