"""JSON Schemas of files, as ``rules schema`` answers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from waitwright.report.margin_view import Json


@dataclass(frozen=True, slots=True)
class SchemasView:
    """Answer of ``rules schema``: kind of file to its JSON Schema."""

    schemas: Mapping[str, Json]

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {"schemas": dict(self.schemas)}


@dataclass(frozen=True, slots=True)
class WrittenView:
    """Answer of a command that writes files: their paths."""

    paths: tuple[str, ...]

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {"paths": list(self.paths)}
