"""``rules schema``: the shape of all files, for editors and other programs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from waitwright.errors import UsageError
from waitwright.nearest import hint_behind
from waitwright.report.schema_view import SchemasView, WrittenView
from waitwright.schema import export


def file_schema(kind: str) -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of one *kind* of file, as plain data with a description of every key.

    Args:
        kind: ``machine``, ``board``, ``logbook``, ``rules`` (files of rules with all kinds of tables), or
            a file of words: ``roles``, ``parameters``, ``rows``, ``counted``, ``traits``.

    Raises:
        InputError: if there is no such kind.
    """
    for known in export.FILE_KINDS:
        if known == kind:
            return export.file_schema(known)
    raise UsageError(f"schema {kind}: no such kind of file{hint_behind(kind, export.FILE_KINDS)}")


def file_schemas(kind: str | None = None) -> SchemasView:
    """The schemas of every kind of file, or of one.

    Raises:
        InputError: if there is no such kind.
    """
    return SchemasView({name: file_schema(name) for name in ([kind] if kind else export.FILE_KINDS)})


def write_schemas(view: SchemasView, folder: Path) -> WrittenView:
    """Write each schema into *folder*, which is made if it is not there, as ``KIND.schema.json``.

    Raises:
        InputError: if that cannot be done.
    """
    written = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for kind, schema in view.schemas.items():
            path = folder / f"{kind}.schema.json"
            path.write_text(json.dumps(schema, indent=2) + "\n", "utf-8")
            written.append(str(path))
    except OSError as error:
        raise UsageError(f"{error.filename or folder}: cannot be written: {error.strerror}") from None
    return WrittenView(tuple(written))
