"""Memory modules as people read them off: ``4 x 1 MB -70``, ``2 x 4MB 72-pin EDO -60``, ``4x36-60``."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction

from waitwright.ids import PartId
from waitwright.intake.markings import chip_of, speed_of
from waitwright.intake.readings import Reading, Refused, Taken, either, one_of, shortened, then
from waitwright.rulebook.domain import Markings
from waitwright.units import Exact, from_base, to_base

_COUNT = re.compile(r"^\s*([0-9]{1,2})\s*(?:x|\*|\u00d7|pieces?|modules?|times)\s*(?=[0-9])")
_MODULE = re.compile(r"(?<![0-9a-z])([0-9]{1,3})\s*([km])b?\s*x\s*(8|9|32|36)(?![0-9])")
_LABEL = re.compile(
    r"^\s*(?:([0-9]{1,2})\s*[x*\u00d7]\s*)?([0-9]{1,3})\s*[x*\u00d7]\s*(8|9|32|36)(?![0-9.])(?!\s*[km])"
)
_DEPTHS = {"256": "k", "512": "k", "1": "m", "2": "m", "4": "m", "8": "m", "16": "m", "32": "m"}
"""Words of a module as labels tell them, and what they count: ``4x36`` is 4M words of 36 bits."""
_SIZE = re.compile(r"(?<![0-9a-z-])([0-9]{1,3})\s*(kb|mb|k|m)(?![a-z0-9])")
_PINS = re.compile(r"(?<![0-9])(30|72)\s*-?\s*(?:pins?|contacts?|p)(?![a-z])")
_CHIPS = re.compile(r"(?<![0-9])([0-9]{1,2})\s*-?\s*chips?(?![a-z])")
_NO_PARITY = re.compile(r"\b(?:no|without|non)[ -]parity\b")
_PARITY = re.compile(r"\b(?:with )?parity\b")
_TYPE = re.compile(r"\b(edo|hyper page|hpm|fpm|fast[ -]page|page mode)\b")
PARITY_CHIPS = {30: (3, 9), 72: (9, 12, 18, 24, 36)}
"""Counts of chips on a module that has parity.  Common practice."""
WIDTHS = {8: (30, False), 9: (30, True), 32: (72, False), 36: (72, True)}
"""Bits of a module to its contacts and whether it has parity."""
SIZES_30 = (Fraction(1, 4), 1, 4, 16)
SIZES_72 = (1, 2, 4, 8, 16, 32, 64, 128)
"""Usual sizes in MB."""


@dataclass(frozen=True, slots=True)
class Modules:
    """Equal modules.

    Attributes:
        count: How many; 0 where that is not said: a full bank.
        pins: 30 or 72; 0 where that is not told.
        size: Bytes of one module.
        type: ``fpm``, ``edo``, or empty where it is not told.
        access: Picoseconds from RAS.
        parity: None where it is not told.
        chips: Chips on one module; 0 where that is not told.
    """

    count: int
    pins: int
    size: Exact
    type: str
    access: int
    parity: bool | None = None
    chips: int = 0

    @property
    def words(self) -> str:
        """The module as its owner would say it."""
        parity = {True: ", parity", False: ", no parity", None: ""}[self.parity]
        pins = f"{self.pins}-pin " if self.pins else ""
        return f"{pins}{size_words(self.size)}{parity}"


def size_words(size: Exact) -> str:
    """``256 KB`` or ``4 MB``."""
    mb = from_base(size, "MB")
    return f"{from_base(size, 'KB')} KB" if mb < 1 else f"{mb} MB"


def read_modules(text: str, pins: int, markings: Markings, room: int | None = None) -> Reading[Modules]:
    """One group of equal modules.

    A label such as ``4x32-60`` may also be four modules of 32 MB: asked back where both can be.

    Args:
        pins: Contacts of the bank's modules where they are known, else 0.
        room: So many modules find a place at most; None for any number.
    """
    said = text.casefold()
    label = _LABEL.match(said)
    if label is None:
        found = _COUNT.match(said)
        count, group = (int(found[1]), said[found.end() :]) if found else (0, said)
        return _read_group(count, group, pins, markings)
    told, depth, width, rest = label[1], label[2], label[3], said[label.end() :]
    unit = _DEPTHS.get(depth, "")
    module: Reading[Modules] = Refused(
        f"{depth}x{width} is no usual module (depths: {', '.join(_DEPTHS)}); a size is written as 4 MB"
    )
    if unit:
        module = _read_group(int(told or 0), f"{depth}{unit}x{width}{rest}", pins, markings)
    ways = [(f"{depth}{unit.upper()}x{width} modules", module)]
    if told is None and unit != "k" and (room is None or int(depth) <= room):
        several = _read_group(int(depth), f"{width} mb{rest}", pins, markings)
        ways.append((f"{depth} {'module' if depth == '1' else 'modules'} of {width} MB", several))
    return either(f"{shortened(text)} can be the label of a module, or how many there are: which?", ways)


def _read_group(count: int, said: str, pins: int, markings: Markings) -> Reading[Modules]:
    """*count* equal modules that *said* tells, without the count."""
    told = {}
    for name, pattern in (("pins", _PINS), ("chips", _CHIPS), ("type", _TYPE)):
        seen = pattern.search(said)
        if seen:
            told[name] = seen[1]
            said = said[: seen.start()] + " " + said[seen.end() :]
    parity: bool | None = None
    if _NO_PARITY.search(said):
        parity, said = False, _NO_PARITY.sub(" ", said)
    elif _PARITY.search(said):
        parity, said = True, _PARITY.sub(" ", said)
    own_pins = int(told.get("pins", 0))
    sized = _sized(said)
    if isinstance(sized, Refused):
        return sized
    size, by_width, rest = sized
    if by_width:
        wide, with_parity = WIDTHS[by_width]
        if own_pins and own_pins != wide:
            return Refused(f"x{by_width} is a {wide}-pin module, and {own_pins}-pin is said too")
        own_pins, parity = wide, with_parity if parity is None else parity
    chip = chip_of(rest, "dram", markings)
    kind = _type_of(told.get("type", ""), chip.families[0] if chip else "")
    chips = int(told.get("chips", 0))
    read = Modules(count, own_pins, size, kind, 0, parity, chips)
    speed = speed_of(rest, "dram", markings, chip)
    if isinstance(speed, Refused):
        return Refused(f"{shortened(said)}: how fast? Add what stands behind the dash on its chips, as -70")
    return then(
        then(speed, lambda access: Taken(replace(read, access=access))), lambda one: _pinned(one, pins)
    )


def _sized(said: str) -> tuple[Exact, int, str] | Refused:
    """Bytes of one module, bits where an organisation tells them (else 0), and what else was said."""
    found = _MODULE.search(said)
    if found:
        words = int(found[1]) * (1024 if found[2] == "k" else 1 << 20)
        width = int(found[3])
        size = words * (1 if width in {8, 9} else 4)
        return size, width, said[: found.start()] + " " + said[found.end() :]
    found = _SIZE.search(said)
    if found is None:
        return Refused(f"{shortened(said)}: how large is one module? Write it as 1 MB or 256 KB")
    size_ = to_base(int(found[1]), "KB" if found[2].startswith("k") else "MB")
    return size_, 0, said[: found.start()] + " " + said[found.end() :]


def _type_of(told: str, by_number: str) -> str:
    if told:
        return "edo" if told in {"edo", "hyper page", "hpm"} else "fpm"
    return by_number if by_number in {"edo", "fpm"} else ""


def _pinned(one: Modules, pins: int) -> Reading[Modules]:
    """*one* with its contacts settled, from the bank, the size, or by asking back."""
    mb = from_base(one.size, "MB")
    if pins and one.pins and one.pins != pins:
        return Refused(f"this bank takes {pins}-pin modules, not {one.pins}-pin ones")
    settled = one.pins or pins
    able = [number for number, sizes in ((30, SIZES_30), (72, SIZES_72)) if mb in sizes]
    if settled and settled not in able:
        usual = ", ".join(
            size_words(to_base(size, "MB")) for size in (SIZES_30 if settled == 30 else SIZES_72)
        )
        return Refused(f"{size_words(one.size)} is no usual size of a {settled}-pin module ({usual})")
    if not able:
        return Refused(f"{size_words(one.size)} is no usual size of a module")
    if settled:
        return Taken(_with_parity(replace(one, pins=settled)))
    ways = [(f"{number}-pin", _with_parity(replace(one, pins=number))) for number in able]
    return one_of(f"Modules of {size_words(one.size)} come with 30 and with 72 contacts: which?", ways)


def _with_parity(one: Modules) -> Modules:
    """Parity from the count of chips, where nothing else tells it."""
    if one.parity is None and one.chips:
        return replace(one, parity=one.chips in PARITY_CHIPS[one.pins])
    return one


def refresh_of(one: Modules, markings: Markings) -> PartId | None:
    """The refresh class that such a module usually has; None where practice knows none."""
    alike = [entry for entry in markings.modules.values() if (entry.pins, entry.size) == (one.pins, one.size)]
    exact = [entry for entry in alike if one.chips in entry.chips]
    found = exact or alike
    return found[0].refresh if found else None
