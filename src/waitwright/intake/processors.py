"""CPUs and coprocessors as printed and called: ``Am386DX/DXL-40``, ``A80486DX2-66NV8T``, ``dx4 100``.

A print is read as the maker's letters, often an 80, the type, the speed, and letters behind it for supply,
cache, package and temperature.  Of these only supply and cache tell parts of the catalogue apart.
Common practice (no source).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from waitwright.intake.readings import Reading, Refused, Taken, one_of, shortened
from waitwright.nearest import hint_behind
from waitwright.rulebook.domain import Markings, Part, Spoken
from waitwright.units import from_base

_CLASS = re.compile(r"^[0-9]{3}")
_PLAIN = re.compile(r"^[0-9]{3}(?:sx|dx)$")
"""Families that people mean when they name the class alone; upgrades are called by their own names."""
_MAKERS_LETTERS = r"[a-z]{0,7}(?:80)?"
_BEFORE_SPEED = "([a-oq-z]?)"
"""One letter may stand before the speed, such as V for 3.3 V; P marks a rating, which is no speed."""
_BEHIND_SPEED = "([a-z]{1,4}(?:[0-9]{1,2}[a-z]{1,3})?)"
"""``NV8T``, ``ADW``, ``GP``: letters, at most one figure (the cache in KB), letters."""
_LOW_POWER = re.compile(r"([a-z]{1,3})/(?:\1[a-z]|[a-z])(?![a-z0-9])")
"""``DX/DXL`` and ``SLC/E``: one part under two names, or with an addition that the bus does not see."""
_BOTH_CLOCKS = re.compile(r"(?<![0-9])([0-9]{2})\s*/\s*([0-9]{2,3})(?![0-9])")
_STAMP = re.compile(r"(?<=\s)s[klxz][0-9]{3}(?![a-z0-9])")
_UNIT = re.compile(r"(?<=[0-9])\s*(?:mhz|mc)(?![a-z0-9])")
_DECIMALS = re.compile(r"(?<=[0-9])[.,][0-9]+(?![0-9])")
_VOLTS = re.compile(r"(?<![a-z0-9.,])([0-9](?:[.,][0-9]{1,2})?)\s*v(?:olts?)?(?![a-z0-9])")
_WRITES = re.compile(r"(?<![a-z0-9])(&ew|wb|write[- ]?back|wt|write[- ]?through|&e)(?![a-z0-9])")
_LOW_VOLTAGE_LETTERS = re.compile(r"[ns]?v(?:[0-9]|$)")
_WRITE_LETTER = re.compile(r"(?:[0-9]|^w)([tb])")
_FASTEST = 200
"""No CPU of this class has a speed of more MHz; a larger figure is part of another name."""


@dataclass(frozen=True, slots=True)
class _Told:
    """What a print tells beside type and speed; None where it tells nothing."""

    low_voltage: bool | None = None
    write_back: bool | None = None

    def meets(self, part: Part) -> bool:
        """Whether *part* is so."""
        volts, writes = part.values.get("supply_nominal"), part.values.get("cache_write_back")
        low = (
            volts is not None and isinstance(volts.value, int | Fraction) and from_base(volts.value, "V") < 4
        )
        back = writes is not None and writes.value is True
        return self.low_voltage in {None, low} and self.write_back in {None, back}

    @property
    def words(self) -> str:
        """The same as it is said."""
        volts = {True: "3.3 V", False: "5 V", None: ""}[self.low_voltage]
        writes = {True: "write-back", False: "write-through", None: ""}[self.write_back]
        return " and ".join(word for word in (volts, writes) if word)


def processor_named(text: str, parts: Sequence[Part], markings: Markings) -> Reading[Part]:
    """The CPU or coprocessor of *parts* that *text* names; asked back where the name fits several."""
    whole = _named(text, parts, markings)
    words = [word for word in text.split() if re.search("[0-9]", word)]
    if not isinstance(whole, Refused) or len(words) < 2:
        return whole
    # Two lines of one print, such as its name and its order number, each of which names it.
    found: dict[str, Part] = {}
    for word in words:
        one = _named(word, parts, markings)
        if not isinstance(one, Taken):
            return whole
        found[one.value.id] = one.value
    return one_of(_which(text), [(part.title, part) for part in found.values()])


def _which(text: str) -> str:
    return f"{shortened(text)} fits several: which?"


def _named(text: str, parts: Sequence[Part], markings: Markings) -> Reading[Part]:
    said, told = _compact(text)
    if not said:
        return Refused("expected a CPU by its name, such as 486DX2-66")
    tiers = _tiers(parts, markings.spoken)
    for tier in tiers:
        found = [(part, match) for part, forms in tier if (match := _match(said, forms, part.grade))]
        if found:
            letters = _told_by_letters(*found[0][1].groups(default=""))
            told = _Told(
                letters.low_voltage if told.low_voltage is None else told.low_voltage,
                letters.write_back if told.write_back is None else told.write_back,
            )
            return _narrowed(text, [part for part, _ in found], parts, told)
    for tier in tiers:
        kin = [(max(map(len, begun)), part) for part, forms in tier if (begun := list(_begun(said, forms)))]
        if kin:
            nearest = max(length for length, _ in kin)  # "486dx2-75" is no 486DX at 275 MHz
            grades = "; ".join(part.title for length, part in kin if length == nearest)
            return Refused(f"{shortened(text)}: not in the catalogue at that speed (there is: {grades})")
    known = {f"{part.family}-{part.grade}" for part in parts}
    types = ", ".join(dict.fromkeys(part.title.rpartition(", ")[0] or part.title for part in parts))
    kind = "coprocessor" if parts and parts[0].kind == "coprocessor" else "CPU"
    return Refused(
        f"{shortened(text)}: no such {kind} in the catalogue{hint_behind(text, known)}; "
        f"only what it has figures for can be taken: {types}"
    )


def _compact(text: str) -> tuple[str, _Told]:
    """*text* in letters and figures alone, without what tells nothing, and what else it tells."""
    said = text.casefold()
    volts = _VOLTS.search(said)
    writes = _WRITES.search(said)
    told = _Told(
        Fraction(volts[1].replace(",", ".")) < 4 if volts else None,
        writes[1] in {"&ew", "wb"} or writes[1].endswith("back") if writes and writes[1] != "&e" else None,
    )
    for noise in (_VOLTS, _WRITES, _STAMP, _UNIT):
        said = noise.sub(" ", said)
    said = _BOTH_CLOCKS.sub(_core_clock, _LOW_POWER.sub(r"\1", said))
    return re.sub(r"[^a-z0-9]", "", _DECIMALS.sub("", said)), told


def _core_clock(clocks: re.Match[str]) -> str:
    """Of bus and core clock (``33/66``) the one by which such a part is called; else both as they stand."""
    bus, core = int(clocks[1]), int(clocks[2])
    return clocks[2] if any(abs(core - bus * times) <= times for times in (2, 3, 4)) else clocks[0]


def _told_by_letters(before: str, behind: str) -> _Told:
    """What the letters around the speed tell: V for 3.3 V; behind the cache's size T or B for its writes."""
    writes = _WRITE_LETTER.search(behind)
    low = before == "v" or _LOW_VOLTAGE_LETTERS.match(behind) is not None
    return _Told(True if low else None, writes[1] == "b" if writes else None)


def _narrowed(text: str, found: list[Part], parts: Sequence[Part], told: _Told) -> Reading[Part]:
    """Of *found* and their kin of other supply or cache, those that are as *told*."""
    if not told.words:
        return one_of(_which(text), [(part.title, part) for part in found])
    kin = [part for part in parts if any(_alike(part, one) for one in found)]
    # The supply counts before the cache: of two parts that differ from the print, it harms less.
    nearest = (told, _Told(told.low_voltage), _Told())
    able = next(some for meant in nearest if (some := [part for part in kin if meant.meets(part)]))
    chosen = one_of(_which(text), [(part.title, part) for part in able])
    if isinstance(chosen, Taken) and not told.meets(chosen.value):
        remark = f"no part with {told.words} is in the catalogue at that speed; taken as the nearest"
        return Taken(chosen.value, (remark,))
    return chosen


def _alike(part: Part, one: Part) -> bool:
    """Whether two parts may differ in supply and cache writes alone."""
    if part.grade != one.grade or not part.family.startswith(one.family):
        return False
    return all(
        (part.values[row].value if row in part.values else None)
        == (one.values[row].value if row in one.values else None)
        for row in ("family", "core_clock", "cache_size")
    )


def _tiers(parts: Sequence[Part], spoken: Iterable[Spoken]) -> tuple[list[tuple[Part, tuple[str, ...]]], ...]:
    """Forms of each part's name, the surest first: in full; without its class; by its class alone."""
    words: dict[tuple[str, str], list[str]] = {}
    for entry in spoken:
        for family in entry.families:
            plain = [re.sub(r"[^a-z0-9]", "", word) for word in entry.words]
            words.setdefault((family, entry.grade), []).extend(plain)
    full: list[tuple[Part, tuple[str, ...]]] = []
    short: list[tuple[Part, tuple[str, ...]]] = []
    broad: list[tuple[Part, tuple[str, ...]]] = []
    for part in parts:
        name = re.sub(r"[^a-z0-9]", "", part.family)
        named = _CLASS.match(name)
        called = [*words.get((part.family, ""), ()), *words.get((part.family, part.grade), ())]
        full.append((part, (name, *called)))
        short.append((part, (name[3:],) if named and name[3:] else ()))
        # A variant such as "486dx4wb" is also meant by the name that it begins with.
        begun = re.match(r"[0-9]+[a-z]{2}[0-9]?", name)
        of_class = named if _PLAIN.match(name) else None
        broad.append((part, tuple({form[0] for form in (of_class, begun) if form})))
    return full, short, broad


def _match(said: str, forms: Iterable[str], grade: str) -> re.Match[str] | None:
    """How *said* names one of *forms* at the speed of *grade*, or without a speed."""
    speed = re.escape(re.split(r"[^0-9]", grade)[0])
    behind = f"(?:{_BEFORE_SPEED}{speed}{_BEHIND_SPEED}?)?"
    patterns = (f"{_MAKERS_LETTERS}{re.escape(form)}{behind}" for form in forms)
    return next((match for pattern in patterns if (match := re.fullmatch(pattern, said))), None)


def _begun(said: str, forms: Iterable[str]) -> Iterator[str]:
    """The forms with which *said* begins, a speed behind them."""
    for form in forms:
        pattern = f"{_MAKERS_LETTERS}{re.escape(form)}{_BEFORE_SPEED}([0-9]+){_BEHIND_SPEED}?"
        match = re.fullmatch(pattern, said)
        if match and int(match[2]) <= _FASTEST:
            yield form
