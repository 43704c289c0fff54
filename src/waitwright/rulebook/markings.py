"""How people read parts off a board: codes behind dashes, part numbers, modules, and spoken words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from waitwright.ids import PartId
from waitwright.nearest import did_you_mean
from waitwright.rulebook.domain import Chip, Code, Markings, Module, Part, Spoken
from waitwright.rulebook.shelf import Place, Shelf
from waitwright.rulebook.texts import TextReader
from waitwright.schema.markings import ChipEntry, CodeEntry, ModuleEntry, SpokenEntry
from waitwright.schema.problems import Faults, Placed
from waitwright.schema.tomlfile import TomlFile
from waitwright.units import to_base


@dataclass(slots=True)
class MarkingShelves:
    """The markings as they are being read."""

    codes: Shelf[Code] = field(default_factory=lambda: Shelf("code"))
    chips: Shelf[Chip] = field(default_factory=lambda: Shelf("chip"))
    modules: Shelf[Module] = field(default_factory=lambda: Shelf("module"))
    spoken: Shelf[Spoken] = field(default_factory=lambda: Shelf("spoken word"))

    def read(self, file: TomlFile, layer: int, texts: TextReader) -> None:
        """Add the markings of one file."""
        faults = texts.faults
        for code in faults.take_list(CodeEntry, file, "code"):
            self.codes.put(faults, code.entry.id, _code(code, texts), Place(file, code.path, layer))
        for chip in faults.take_list(ChipEntry, file, "chip"):
            self.chips.put(faults, chip.entry.id, _chip(chip, texts), Place(file, chip.path, layer))
        for module in faults.take_list(ModuleEntry, file, "module"):
            self.modules.put(faults, module.entry.id, _module(module, texts), Place(file, module.path, layer))
        for spoken in faults.take_list(SpokenEntry, file, "spoken"):
            self.spoken.put(faults, spoken.entry.id, _spoken(spoken, texts), Place(file, spoken.path, layer))

    def markings(self, faults: Faults, parts: Mapping[str, Part]) -> Markings:
        """All of them; a code, family or refresh class that they name and nobody knows is a fault."""
        families = {part.family for part in parts.values()}
        grades = {(part.family, part.grade) for part in parts.values()}
        if not faults.problems:  # what could not be read is not held against those who name it
            for chip in self.chips.things.values():
                _look_up(faults, self.chips.places[chip.id], "code", [chip.code], self.codes.things)
                _look_up(faults, self.chips.places[chip.id], "family", chip.families, families)
            for module in self.modules.things.values():
                _look_up(faults, self.modules.places[module.id], "part", [module.refresh], parts)
            for spoken in self.spoken.things.values():
                place = self.spoken.places[spoken.id]
                _look_up(faults, place, "family", spoken.families, families)
                for family in spoken.families if spoken.grade else ():
                    known = {grade for one, grade in grades if one == family}
                    _look_up(faults, place, f"grade of {family}", [spoken.grade], known)
        return Markings(
            self.codes.things, self.chips.things, self.modules.things, tuple(self.spoken.things.values())
        )


def _look_up(faults: Faults, place: Place, what: str, names: Iterable[str], known: Iterable[str]) -> None:
    known = set(known)
    for name in names:
        if name not in known:
            faults.add(place.file, place.path, f"unknown {what} {name!r}", did_you_mean(name, known))


def _code(placed: Placed[CodeEntry], texts: TextReader) -> Code:
    entry = placed.entry
    means: Mapping[str, tuple[int, ...]] = {
        digits: tuple(int(to_base(Fraction(value), entry.unit)) for value in values)
        for digits, values in entry.means.items()
    }
    return Code(entry.id, entry.title, means, texts.provenance(entry.source, entry.basis))


def _chip(placed: Placed[ChipEntry], texts: TextReader) -> Chip:
    entry = placed.entry
    return Chip(
        entry.id,
        entry.kind,
        entry.organisation,
        tuple(entry.families),
        tuple(entry.numbers),
        entry.code,
        texts.provenance(entry.source, entry.basis),
    )


def _module(placed: Placed[ModuleEntry], texts: TextReader) -> Module:
    entry = placed.entry
    size = to_base(Fraction(entry.size_mb), "MB")
    origin = texts.provenance(entry.source, entry.basis)
    return Module(entry.id, entry.pins, size, tuple(entry.chips), PartId(entry.refresh), origin)


def _spoken(placed: Placed[SpokenEntry], texts: TextReader) -> Spoken:
    entry = placed.entry
    if bool(entry.families) == (entry.row is not None and bool(entry.values)):
        texts.faults.add(placed.file, placed.path, "expected families, or a row with values, and not both")
    return Spoken(
        entry.id,
        entry.kind,
        tuple(entry.words),
        tuple(entry.families),
        entry.grade,
        entry.row or "",
        tuple(entry.values),
        texts.provenance(entry.source, entry.basis),
    )
