"""What sits in one slot, from the words that its owner reads off it."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from fractions import Fraction

from waitwright.intake.banks import read_bank
from waitwright.intake.draft import Draft
from waitwright.intake.modules import size_words
from waitwright.intake.names import card_named
from waitwright.intake.processors import processor_named
from waitwright.intake.questions import NOTHING, Desk, emptied, fitted
from waitwright.intake.readings import (
    Reading,
    Refused,
    Taken,
    Way,
    choose,
    plain,
    shortened,
    then,
)
from waitwright.rulebook.domain import Part, Rulebook
from waitwright.rulebook.fits import fitting_parts, kind_for, misfit
from waitwright.rulebook.profiles import FitDef, SlotDef
from waitwright.units import Exact, from_base

NOT_KNOWN = "not known"
"""The answer where a part cannot be read off."""

_MODE = re.compile(r"^(?:pio)?[\s-]*(?:mode)?[\s-]*([0-4]|slow)$")
_ROUNDED = Fraction(1, 100)
_MHZ = re.compile(r"^(?:to\s*)?([0-9]{1,3})(?:[.,]([0-9]{1,6}))?\s*(?:mhz|m)?$")


def read_slot(desk: Desk, draft: Draft, slot: SlotDef, line: str) -> Reading[Draft]:
    """*draft* with what *line* puts into *slot*; what was understood is told."""

    def told(after: Draft) -> Reading[Draft]:
        return Taken(after, (f"{slot.title}: {spoken_fit(desk.rulebook, after.fit.get(slot.id, ()))}",))

    return then(_read_slot(desk, draft, slot, line), told)


def _read_slot(desk: Desk, draft: Draft, slot: SlotDef, line: str) -> Reading[Draft]:
    said = plain(line)
    if said in NOTHING:
        return Taken(emptied(draft, slot))
    if said == "same":
        return _same(desk, draft, slot)
    kind = kind_for(slot, desk.rulebook)
    if kind in {"sram", "dram"}:
        return read_bank(desk, draft, slot, line, kind)
    return then(
        read_part(desk, slot, line), lambda part: Taken(fitted(draft, slot, (FitDef(part.id, slot.chips),)))
    )


def read_part(desk: Desk, slot: SlotDef, line: str) -> Reading[Part]:
    """The one part that *line* names for *slot*; not for memory and cache chips, which come in banks."""
    kind = kind_for(slot, desk.rulebook)
    fitting = list(fitting_parts(slot, desk.rulebook))
    exact = [part for part in fitting if part.id == plain(line)]
    if exact:
        return Taken(exact[0])
    readers: dict[str, Callable[[str, Sequence[Part]], Reading[Part]]] = {
        "cpu": lambda text, parts: processor_named(text, parts, desk.rulebook.markings),
        "coprocessor": lambda text, parts: processor_named(text, parts, desk.rulebook.markings),
        "card": lambda text, parts: card_named(text, parts, desk.rulebook),
        "clockgen": _generator,
        "drive": _drive,
        "floppy": _floppy,
    }
    return readers.get(kind, _listed)(line, fitting)


def ways_of(desk: Desk, slot: SlotDef) -> tuple[str, ...]:
    """Parts to show for *slot*, where they are few and read best from a list."""
    if kind_for(slot, desk.rulebook) in {"cpu", "coprocessor", "card", "sram", "dram", "clockgen", "drive"}:
        return ()
    fitting = list(fitting_parts(slot, desk.rulebook))
    if kind_for(slot, desk.rulebook) == "floppy":
        return tuple(way.label for way in _floppy_ways(fitting))
    return tuple(part.title for part in fitting)


def _floppy_ways(parts: Sequence[Part]) -> list[Way[tuple[Part, tuple[str, ...]]]]:
    """Floppy controllers to choose from; one that is not known counts as the one that bears the least."""
    ways: list[Way[tuple[Part, tuple[str, ...]]]] = [
        Way(part.title, (part, ()), (part.id,)) for part in parts
    ]
    if not parts:
        return ways
    careful = min(parts, key=_longest_wait)
    wait = f"{float(from_base(_longest_wait(careful), 'us')):g} us"
    remark = f"taken as the one that bears the shortest wait, {wait}: the most careful assumption"
    return [
        *ways,
        Way(f"{NOT_KNOWN}: the most careful of these", (careful, (remark,)), (NOT_KNOWN, "unknown")),
    ]


def _longest_wait(controller: Part) -> Exact:
    value = controller.values.get("service")
    return value.value if value is not None and isinstance(value.value, int | Fraction) else 0


def _floppy(line: str, parts: Sequence[Part]) -> Reading[Part]:
    return then(choose(line, _floppy_ways(parts), "controller"), lambda found: Taken(*found))


def _listed(line: str, parts: Sequence[Part]) -> Reading[Part]:
    return choose(line, [Way(part.title, part, (part.id,)) for part in parts], "part")


def _generator(line: str, parts: Sequence[Part]) -> Reading[Part]:
    """The slowest generator that reaches the clock in *line*."""
    found = _MHZ.match(plain(line))
    if found is None:
        return _listed(line, parts)
    wanted = Fraction(f"{found[1]}.{found[2] or 0}")
    reaching: list[tuple[Fraction, Part]] = []
    for part in parts:
        most = part.values.get("clk2_clock")
        # "66" and "66.67" are what people say of 66.667 MHz.
        if (
            most is not None
            and isinstance(most.value, int | Fraction)
            and _mhz(most.value) > wanted - _ROUNDED
        ):
            reaching.append((_mhz(most.value), part))
    if not reaching:
        return Refused(f"no clock generator in the catalogue reaches {shortened(line)}")
    return Taken(min(reaching, key=lambda pair: pair[0])[1])


def _mhz(clock: Exact) -> Fraction:
    return Fraction(clock) * 10**6


def _drive(line: str, parts: Sequence[Part]) -> Reading[Part]:
    found = _MODE.match(plain(line))
    modes = {part.grade: part for part in parts}
    if found and found[1] in modes:
        return Taken(modes[found[1]])
    return Refused(f"expected a PIO mode of {', '.join(sorted(modes))}, or none, found {shortened(line)!r}")


_SAME_AS = {"l2.tag": ("l2.data",), "l2.dirty": ("l2.tag", "l2.data")}
"""Roles of cache chips that are usually of the same type as those of other roles, which stand before them."""


_NOTHING_BEFORE = "there is nothing before this to be the same as"


def _same(desk: Desk, draft: Draft, slot: SlotDef) -> Reading[Draft]:
    """As the bank before; tag and dirty chips are as those that they work with."""
    roles = _SAME_AS.get(slot.role, (slot.role,))
    found: Reading[Draft] = Refused(_NOTHING_BEFORE)
    for role in roles if slot.role else ():
        found = _same_role(desk, draft, slot, role)
        if not isinstance(found, Refused):
            break
    return found


def _same_role(desk: Desk, draft: Draft, slot: SlotDef, role: str) -> Reading[Draft]:
    slots = draft.board.slots if draft.board is not None else ()
    filled = [one for one in slots if one.role == role and one.id != slot.id and draft.fit.get(one.id)]
    if not filled:
        return Refused(_NOTHING_BEFORE)
    before = filled[-1]
    fits = draft.fit[before.id]
    if slot.role != role:
        fits = (FitDef(fits[0].part, slot.chips),)
    if sum(one.count for one in fits) > slot.chips:
        return Refused(f"only {slot.chips} fit here")
    for fit in fits:
        reason = misfit(slot, desk.rulebook.parts[fit.part], desk.rulebook)
        if reason:
            return Refused(f"the same does not go here: {reason}")
    return Taken(fitted(draft, slot, fits, _note(draft, slot, before)))


def _note(draft: Draft, slot: SlotDef, before: SlotDef) -> str:
    return draft.notes.get(before.id, "").replace(before.title, slot.title)


def spoken_fit(rulebook: Rulebook, fits: Sequence[FitDef]) -> str:
    """What sits in a slot, in words."""
    told = []
    for fit in fits:
        many = f"{fit.count} x " if fit.count > 1 else ""
        size = "" if fit.size is None else f"{size_words(fit.size)}, "
        told.append(f"{many}{size}{rulebook.parts[fit.part].title}")
    return " + ".join(told) or "empty"
