"""Cards by the names that people give them: ``VLB VGA -70``, ``16-bit sound``, ``multi-i/o``."""

from __future__ import annotations

import re
from collections.abc import Sequence

from waitwright.intake.markings import speed_of
from waitwright.intake.readings import Reading, Refused, Taken, one_of, plain, shortened
from waitwright.rulebook.domain import Markings, Part, Rulebook, Spoken

_MANY = 12


def card_named(text: str, parts: Sequence[Part], rulebook: Rulebook) -> Reading[Part]:
    """The card of *parts* that *text* names by kind, bus and memory speed; asked back where several fit."""
    said = f" {plain(re.sub(r'[,;()]', ' ', text))} "
    exact = [part for part in parts if plain(text) in {part.id, plain(part.title)}]
    if exact:
        return Taken(exact[0])
    spoken = [entry for entry in rulebook.markings.spoken if entry.kind == "card"]
    meant: dict[str, list[Spoken]] = {}
    for entry in spoken:
        if any(_holds(said, word) for word in entry.words):
            meant.setdefault(entry.row, []).append(entry)
    if not meant:
        kinds = ", ".join(entry.words[0] for entry in spoken if entry.row == "purpose")
        return Refused(f"{shortened(text)}: which kind of card? (known kinds: {kinds})")
    found = list(parts)
    for row, entries in meant.items():
        narrower = [part for part in found if any(_means(entry, part, row) for entry in _narrowest(entries))]
        if not narrower:
            return Refused(f"{shortened(text)}: no such card in the catalogue fits a free slot here")
        found = narrower
    return _by_memory(text, said, found, rulebook.markings)


def _holds(said: str, word: str) -> bool:
    return re.search(rf"(?<![a-z0-9]){re.escape(word)}(?![a-z0-9])", said) is not None


def _narrowest(entries: list[Spoken]) -> list[Spoken]:
    """``16-bit ISA`` means 16-bit: of entries for one row, those with the fewest values."""
    fewest = min(len(entry.values) for entry in entries)
    return [entry for entry in entries if len(entry.values) == fewest]


def _means(entry: Spoken, part: Part, row: str) -> bool:
    if not row:
        return part.family in entry.families
    value = part.values.get(row)
    return value is not None and value.value in entry.values


def _by_memory(text: str, said: str, found: list[Part], markings: Markings) -> Reading[Part]:
    """Of cards that differ in their memory, those of the speed that *text* tells."""
    bare = re.sub(r"(?<![a-z0-9])(8|16|32)[ -]?bit(?![a-z0-9])|isa(8|16)", " ", said)
    speed = speed_of(bare.strip(), "dram", markings) if re.search(r"[0-9]", bare) else None
    if isinstance(speed, Taken):
        wanted = str(speed.value // 1000)
        known = list(dict.fromkeys(part.grade for part in found if part.grade))
        if known and wanted not in known:
            return Refused(f"no figures for such a card with {wanted} ns memory (known: {', '.join(known)})")
        found = [part for part in found if part.grade == wanted] or found
    if len(found) > _MANY:
        return Refused(
            f"{shortened(text)} fits {len(found)} cards: add its bus and the speed of its memory, "
            "such as 'isa16 display -70'"
        )
    return one_of(f"{shortened(text)} fits several: which?", [(part.title, part) for part in found])
