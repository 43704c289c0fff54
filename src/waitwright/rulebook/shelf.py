"""Shelves: things of one kind by id, with the file and line each one came from.

Layers tell the packed rules (0) from a user's own (1): a thing on a later layer replaces one with
the same id, two on the same layer clash.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from waitwright.schema.problems import Faults
from waitwright.schema.spans import KeyPath, line_of
from waitwright.schema.tomlfile import TomlFile

T = TypeVar("T")
K = TypeVar("K")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a thing stands."""

    file: TomlFile
    path: KeyPath
    layer: int = 0

    def __str__(self) -> str:
        line = line_of(self.file.text, self.path)
        return self.file.name if line is None else f"{self.file.name}:{line}"


@dataclass(slots=True)
class Shelf(Generic[T]):
    """Things by id, in the order of their first appearance."""

    what: str
    things: dict[str, T] = field(default_factory=dict)
    places: dict[str, Place] = field(default_factory=dict)

    def put(self, faults: Faults, name: str, thing: T, place: Place) -> None:
        """Add *thing*; a clash with one of the same layer is a fault that names both places."""
        known = self.places.get(name)
        if known is not None and known.layer == place.layer:
            faults.add(
                place.file, place.path, f"duplicate {self.what} {name!r}, first in {known}", "rename one"
            )
            return
        self.things[name] = thing
        self.places[name] = place

    def only(self, kind: type[K]) -> Mapping[str, K]:
        """The things of one class, in order."""
        return {name: thing for name, thing in self.things.items() if isinstance(thing, kind)}
