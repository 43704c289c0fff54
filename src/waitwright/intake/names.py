"""Parts by the names that people give them: ``486DX2-66``, ``dx4 100``, ``VLB VGA -70``, ``387-33``."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from waitwright.intake.markings import speed_of
from waitwright.intake.readings import Reading, Refused, Taken, one_of, plain, shortened
from waitwright.nearest import hint_behind
from waitwright.rulebook.domain import Markings, Part, Rulebook, Spoken

_CLASS = re.compile(r"^[0-9]{3}")
_PLAIN = re.compile(r"^[0-9]{3}(?:sx|dx)$")
"""Families that people mean when they name the class alone; upgrades are called by their own names."""
_MANY = 12
_MAKERS_LETTERS = r"[a-z]{0,5}(?:80)?"
"""Before a CPU's number stand letters of whoever made it, and often an 80."""


def processor_named(text: str, parts: Sequence[Part], markings: Markings) -> Reading[Part]:
    """The CPU or coprocessor of *parts* that *text* names; asked back where the name fits several."""
    said = re.sub(r"[^a-z0-9.]", "", text.casefold())
    said = re.sub(r"(mhz|mc)$", "", said)
    said = re.sub(r"([0-9])\.[0-9]+$", r"\1", said)
    if not said:
        return Refused("expected a CPU by its name, such as 486DX2-66")
    for tier in _tiers(parts, markings.spoken):
        found = [part for forms, part in tier if any(_is(said, form, part.grade) for form in forms)]
        if found:
            return one_of(f"{shortened(text)} fits several: which?", [(part.title, part) for part in found])
    for tier in _tiers(parts, markings.spoken):
        kin = [(max(map(len, begun)), part) for forms, part in tier if (begun := _begun(said, forms))]
        if kin:
            nearest = max(length for length, _ in kin)  # "486dx2-75" is no 486DX at 275 MHz
            grades = "; ".join(part.title for length, part in kin if length == nearest)
            return Refused(f"{shortened(text)}: not in the catalogue at that speed (there is: {grades})")
    known = {f"{part.family}-{part.grade}" for part in parts}
    return Refused(f"{shortened(text)}: no such CPU in the catalogue{hint_behind(text, known)}")


def _tiers(parts: Sequence[Part], spoken: Iterable[Spoken]) -> list[list[tuple[tuple[str, ...], Part]]]:
    """Forms of each part's name, the surest first: in full; without its class; by its class alone."""
    words: dict[str, list[str]] = {}
    for entry in spoken:
        for family in entry.families:
            words.setdefault(family, []).extend(entry.words)
    full: list[tuple[tuple[str, ...], Part]] = []
    short: list[tuple[tuple[str, ...], Part]] = []
    broad: list[tuple[tuple[str, ...], Part]] = []
    for part in parts:
        name = re.sub(r"[^a-z0-9]", "", part.family)
        named = _CLASS.match(name)
        full.append(((name, *(re.sub(r"[^a-z0-9]", "", word) for word in words.get(part.family, ()))), part))
        short.append(((name[3:],) if named and name[3:] else (), part))
        # A variant such as "486dx4wb" is also meant by the name that it begins with.
        begun = re.match(r"[0-9]+[a-z]{2}[0-9]?", name)
        of_class = named if _PLAIN.match(name) else None
        broad.append((tuple({form[0] for form in (of_class, begun) if form}), part))
    return [full, short, broad]


def _is(said: str, form: str, grade: str) -> bool:
    speed = re.escape(re.split(r"[^0-9]", grade)[0])
    return re.fullmatch(rf"{_MAKERS_LETTERS}{re.escape(form)}(?:{speed})?", said) is not None


def _begun(said: str, forms: Iterable[str]) -> list[str]:
    """The forms with which *said* begins, a speed behind them."""
    return [form for form in forms if re.fullmatch(rf"{_MAKERS_LETTERS}{re.escape(form)}[0-9]+", said)]


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
