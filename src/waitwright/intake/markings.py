"""Markings on chips: which organisation a part number means, and which speed stands behind its dash.

What is practice stands in ``rules/markings/``; here is how it is looked up.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from waitwright.intake.readings import Reading, Refused, Taken, one_of, shortened, then
from waitwright.rulebook.domain import Chip, Markings, Part
from waitwright.units import Exact, to_base

_ENDS = "(?![0-9])"
_FIGURE = r"0*([1-9][0-9]{0,2})(?![0-9])"
_DASHED = re.compile(rf"-\s*{_FIGURE}(?:[a-z]{{1,3}}[0-9]?)?(?=$|[\s/,-])")
_NS = re.compile(r"(?<![0-9.])([0-9]{1,3})\s*ns\b")
_LAST = re.compile(r"(?:[\s/]0*[1-9][0-9]{0,2}[a-z]{0,2})+\s*$")
"""Figures at the end, with a blank or a slash before each."""
_SPEED_ALONE = re.compile(r"[0-9]{1,3}[a-z]{0,3}[0-9]?")
_ORGANISED = re.compile(r"(?<![0-9a-z])([0-9]{1,4})\s*([km])\s*x\s*([0-9]{1,2})(?![0-9])")
_MHZ = re.compile(r"^\s*([0-9]{1,3}(?:[.,][0-9]{1,6})?)\s*(m|mhz|mc|mc/s)?\s*$")

OTHER_CRYSTALS: tuple[tuple[str, str], ...] = (
    ("14.31818", "the timer and the display"),
    ("24", "the floppy and I/O chips"),
    ("1.8432", "the serial ports"),
    ("0.032768", "the clock of day"),
    ("12", "the keyboard controller"),
)
"""Oscillators found on boards that do not clock the CPU, in MHz.  Common practice."""


@dataclass(frozen=True, slots=True)
class Marking:
    """A chip's marking: its organisation and families where the number is known, and picoseconds.

    ``unknown`` is the number that is printed and not known; empty where it is known, or not said.
    """

    organisation: str
    families: tuple[str, ...]
    access: int
    unknown: str = ""


def chip_of(text: str, kind: str, markings: Markings) -> Chip | None:
    """The entry whose number stands in *text*; the longest number wins."""
    said = text.casefold()
    closed = re.sub(r"[\s_]", "", said)  # "44 C 256"; but in "61256 20" the blank stands for a dash
    found = [
        (len(number), chip)
        for chip in markings.chips.values()
        if chip.kind == kind
        for number in chip.numbers
        if _stands_in(number, said) or _stands_in(number, closed)
    ]
    return max(found, key=lambda pair: pair[0])[1] if found else None


def _stands_in(number: str, said: str) -> bool:
    return (
        re.search(rf"(?<![0-9]){re.escape(number)}{_ENDS if number[-1].isdigit() else ''}", said) is not None
    )


def _number_in(text: str) -> str:
    """What looks like a part number in *text*; empty where only a speed is said."""
    for word in re.split(r"[\s/,-]+", text.strip()):
        figures = sum(sign.isdigit() for sign in word)
        if figures > 1 and not _SPEED_ALONE.fullmatch(word.casefold()):
            return word
    return ""


def organisation_in(text: str) -> str:
    """An organisation written out in *text*, such as ``32Kx8``; empty where there is none."""
    found = _ORGANISED.search(text.casefold())
    return f"{int(found[1])}{found[2].upper()}x{int(found[3])}" if found else ""


def speed_of(text: str, kind: str, markings: Markings, chip: Chip | None = None) -> Reading[int]:
    """The access time in picoseconds that *text* marks.

    Asked back where practice knows two readings of a figure, and where *text* names two speeds.
    """
    said = f" {text.casefold().strip()}"
    code = markings.codes.get(chip.code if chip is not None else kind)
    means = code.means if code is not None else {}
    written_out = _NS.findall(said)
    figures = written_out or _figures(said)
    if not figures:
        return Refused(f"no speed in {shortened(text)!r}: add what stands behind the dash, such as -70")
    if written_out:
        read: list[tuple[int, ...]] = [(int(to_base(int(figure), "ns")),) for figure in figures]
    else:
        read = [means[figure] for figure in figures if figure in means]
    if not read:
        return Refused(f"-{figures[-1]} is no usual speed of such a chip; write it out, such as 70 ns")
    times = sorted({time for one in read for time in one})
    ways = [(f"{_ns(time)} ns", time) for time in times]
    if len(set(read)) > 1:
        return one_of(f"{shortened(text)} names more than one speed: which counts?", ways)
    told = " or ".join(word for word, _ in ways)
    return one_of(f"-{figures[-1]} on this chip can mean {told}: which?", ways)


def _figures(said: str) -> list[str]:
    """What may mark a speed in *said*: figures behind a dash, and those at the end behind them."""
    dashed = list(_DASHED.finditer(said))
    last = _LAST.search(said, dashed[-1].end() if dashed else 0)
    behind = re.findall(rf"[\s/]{_FIGURE}", last[0]) if last else []
    return [*(one[1] for one in dashed), *behind]


def read_marking(text: str, kind: str, markings: Markings) -> Reading[Marking]:
    """*text* as the marking of one chip of *kind* (``sram`` or ``dram``)."""
    chip = chip_of(text, kind, markings)
    organisation = chip.organisation if chip is not None else organisation_in(text)
    families = chip.families if chip is not None else ()
    unknown = "" if organisation else _number_in(text)
    speed = speed_of(_ORGANISED.sub(" ", text.casefold()), kind, markings, chip)
    return then(speed, lambda access: Taken(Marking(organisation, families, access, unknown)))


def graded(parts: Sequence[Part], access: int, row: str) -> Reading[Part]:
    """Of *parts*, those of one family, the one with that *access* time in *row*; else the next slower one."""
    timed = sorted(((_access(part, row), part) for part in parts), key=lambda pair: pair[0])
    slower = [(time, part) for time, part in timed if time >= access]
    if not slower:
        known = ", ".join(str(_ns(time)) for time, _ in timed)
        title = parts[0].title.rpartition(",")[0] or parts[0].title
        return Refused(f"no figures for {title} at {_ns(access)} ns (known: {known} ns)")
    time, part = slower[0]
    if time == access:
        return Taken(part)
    remark = f"{_ns(access)} ns has no figures of its own; taken as the next slower grade, {_ns(time)} ns"
    return Taken(part, (remark,))


def _access(part: Part, row: str) -> Exact:
    value = part.values.get(row)
    return value.value if value is not None and isinstance(value.value, int | Fraction) else 0


def _ns(time: Exact) -> str:
    shown = Fraction(time) / 1000
    return str(shown.numerator) if shown.denominator == 1 else f"{float(shown):g}"


def read_oscillator(text: str, host_clocks: Sequence[Exact], *, doubled: bool) -> Reading[Exact]:
    """The host clock that *text* means, out of *host_clocks* (per picosecond).

    *text* is a clock in MHz, or what an oscillator says: with a CPU that is fed twice its clock
    (*doubled*) the can shows twice the host clock.
    """
    found = _MHZ.match(text.casefold())
    if found is None:
        return Refused(f"expected a clock in MHz, such as 33 or 66.667, found {shortened(text)!r}")
    clock = Fraction(found[1].replace(",", "."))
    ways: dict[Exact, str] = {}
    for host in host_clocks:
        if _near(clock, host):
            ways[host] = f"host clock {_mhz(host)} MHz"
        elif doubled and _near(clock, 2 * host):
            ways[host] = f"oscillator of {_mhz(2 * host)} MHz: host clock {_mhz(host)} MHz"
    if ways:
        return one_of(
            f"{found[1]} can be the host clock, or an oscillator at twice that: which?",
            [(label, host) for host, label in ways.items()],
        )
    for crystal, use in OTHER_CRYSTALS:
        if abs(clock - Fraction(crystal)) * 500 <= clock:
            return Refused(f"{found[1]} MHz feeds {use}, not the CPU; look for another can or jumper")
    known = ", ".join(_mhz(host) for host in host_clocks)
    return Refused(f"this board makes no host clock that fits {found[1]} MHz (it makes {known})")


def _near(printed: Fraction, clock: Exact) -> bool:
    """Whether *printed* MHz may stand for *clock*: within one per cent, or with its fraction cut off."""
    mhz = Fraction(clock) * 10**6
    return abs(printed - mhz) * 100 <= mhz or printed == int(mhz)


def _mhz(clock: Exact) -> str:
    return f"{float(Fraction(clock) * 10**6):.3f}".rstrip("0").rstrip(".")
