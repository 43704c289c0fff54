"""What sits in one slot, from the words that its owner reads off it."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

from waitwright.ids import PartId
from waitwright.intake.boards_near import bus_width, pins_of
from waitwright.intake.draft import Draft
from waitwright.intake.markings import Marking, graded, read_marking
from waitwright.intake.modules import Modules, read_modules, refresh_of, size_words
from waitwright.intake.names import card_named
from waitwright.intake.processors import processor_named
from waitwright.intake.questions import NOTHING, Desk, emptied, fitted
from waitwright.intake.readings import (
    Reading,
    Refused,
    Taken,
    Way,
    choose,
    each,
    one_of,
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

_COUNT = re.compile(
    r"^\s*([0-9]{1,2})\s*(?:x|\*|\u00d7|pieces?|chips?|times)\s+(?=\S)"
    r"|^\s*([0-9]{1,2})\s*[x*\u00d7](?=[^0-9\s]*[0-9])"
)
_GROUPS = re.compile(r"\s*(?:,|\+|;|\band\b)\s*")
_MODE = re.compile(r"^(?:pio)?[\s-]*(?:mode)?[\s-]*([0-4]|slow)$")
_ROUNDED = Fraction(1, 100)
_TYPES = {"edo": "EDO", "fpm": "fast-page (FPM)"}
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
        return _read_bank(desk, draft, slot, line, kind)
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


# --------------------------------------------------------------------------------------- banks


def _read_bank(desk: Desk, draft: Draft, slot: SlotDef, line: str, kind: str) -> Reading[Draft]:
    """A bank of equal chips or modules, or of several groups of them."""
    groups = [group for group in _GROUPS.split(line) if group.strip()]
    if not 0 < len(groups) <= 8:
        return Refused(f"expected {_example(kind)}, found {shortened(line)!r}")
    read = _read_chips if kind == "sram" else _read_memory
    found = each(groups, lambda group: read(desk, draft, slot, group))
    return then(found, lambda groups: _filled(desk, draft, slot, groups, kind))


def _example(kind: str) -> str:
    return "a marking such as 61256-20" if kind == "sram" else "modules such as 4 x 1 MB -70"


def _filled(
    desk: Desk, draft: Draft, slot: SlotDef, found: tuple[tuple[FitDef, str], ...], kind: str
) -> Reading[Draft]:
    """The bank with all groups in it; a group without a count takes what is left."""
    things = "chips" if kind == "sram" else "modules"
    open_groups = sum(1 for one, _ in found if not one.count)
    left = slot.chips - sum(one.count for one, _ in found)
    if open_groups > 1 or (open_groups and left < 1):
        return Refused(f"say how many {things} of each there are, such as 2 x ..., 2 x ...")
    fits = tuple(FitDef(one.part, one.count or left, one.size, one.refresh) for one, _ in found)
    note = "; ".join(note for _, note in found if note)
    count = sum(one.count for one in fits)
    if count > slot.chips:
        return _spread(desk, draft, slot, fits, note, things)
    if count < slot.chips:
        return _part_filled(draft, slot, fits, note, things)
    remarks = []
    if len({(one.part, one.size) for one in fits}) > 1:
        remarks.append(
            f"mixed {things} in one bank: they should be equal, and the slowest sets the pace of all"
        )
    return Taken(_with_note(draft, slot, fits, note), tuple(remarks))


def _part_filled(
    draft: Draft, slot: SlotDef, fits: tuple[FitDef, ...], note: str, things: str
) -> Reading[Draft]:
    """Fewer chips or modules than the bank needs: asked once whether that is meant."""
    count = sum(one.count for one in fits)
    ways = [(f"yes, only {count}", _with_note(draft, slot, fits, note))]
    if len(fits) == 1:
        full = (replace(fits[0], count=slot.chips),)
        ways.append((f"no, {slot.chips} of them", _with_note(draft, slot, full, note)))
    ways.append(("leave it empty", emptied(draft, slot)))
    return one_of(
        f"{slot.title} takes {slot.chips} {things}, and without all of them it cannot be used: are there "
        f"only {count}?",
        ways,
    )


def _with_note(draft: Draft, slot: SlotDef, fits: tuple[FitDef, ...], note: str) -> Draft:
    return fitted(draft, slot, fits, f"{slot.title}: {note}" if note else "")


def _spread(
    desk: Desk, draft: Draft, slot: SlotDef, fits: tuple[FitDef, ...], note: str, things: str
) -> Reading[Draft]:
    """More equal chips or modules than one bank takes, over this bank and the empty ones behind it."""
    slots = list(draft.board.slots) if draft.board is not None else []
    behind = [
        one for one in slots if one.role == slot.role and not one.soldered and not draft.fit.get(one.id)
    ]
    banks = [one for one in behind if slots.index(one) > slots.index(slot)] if slot in slots else []
    count = sum(one.count for one in fits)
    needed, rest = divmod(count, slot.chips)
    part = desk.rulebook.parts[fits[0].part]
    able = [one for one in banks if one.chips == slot.chips and not misfit(one, part, desk.rulebook)]
    if len(fits) > 1 or rest or needed - 1 > len(able):
        return Refused(
            f"{count} {things}, and {slot.title} takes {slot.chips}; the rest belongs to other banks"
        )
    full = (replace(fits[0], count=slot.chips),)
    taken = able[: needed - 1]
    for one in [slot, *taken]:
        draft = _with_note(draft, one, full, note)
    titles = ", ".join(one.title for one in taken)
    answered = (*draft.asked, *(f"slot.{one.id}" for one in taken))
    return Taken(replace(draft, asked=answered), (f"the others go into {titles}",))


def _counted(group: str) -> tuple[int, str]:
    """How many, and what; 0 where no count is said."""
    found = _COUNT.match(group)
    if found is None:
        return 0, group
    return int(found[1] or found[2]), group[found.end() :]


def _takers(desk: Desk, draft: Draft, organisation: str) -> str:
    """Titles of the board's sockets that take static RAMs of *organisation*."""
    return ", ".join(
        slot.title
        for slot in (draft.board.slots if draft.board is not None else ())
        if kind_for(slot, desk.rulebook) == "sram" and not slot.soldered
        if any(
            value.value == organisation
            for part in fitting_parts(slot, desk.rulebook)
            if (value := part.values.get("organisation"))
        )
    )


def _read_chips(desk: Desk, draft: Draft, slot: SlotDef, group: str) -> Reading[tuple[FitDef, str]]:
    fitting = list(fitting_parts(slot, desk.rulebook))
    count, marked = _counted(group)
    exact = [part for part in fitting if part.id == plain(marked)]
    if exact:
        return Taken((FitDef(exact[0].id, count), ""))
    organised = {
        part.family: str(value.value) for part in fitting if (value := part.values.get("organisation"))
    }

    shapes = " or ".join(dict.fromkeys(organised.values()))

    def place(marking: Marking) -> Reading[Part]:
        organisation = marking.organisation
        families = [family for family, shape in organised.items() if organisation in {"", shape}]
        if not families:
            others = _takers(desk, draft, organisation)
            where = f"it goes into {others}" if others else "no cache socket of this board takes it"
            return Refused(
                f"{shortened(marked)} is a chip of {organisation}; {slot.title} takes {shapes} ({where})"
            )
        remarks: tuple[str, ...] = ()
        asks = f"{slot.title} takes chips of several sizes: which?"
        if marking.unknown:
            number = f"the number {shortened(marking.unknown)} is not known here"
            asks = f"{number}; {slot.title} takes {shapes}: which are these?"
            remarks = (f"{number}: taken as {shapes}, since {slot.title} takes nothing else",)
        chosen = one_of(asks, [(organised[one], one) for one in families])
        if isinstance(chosen, Taken):
            chosen = Taken(chosen.value, remarks)
        return then(
            chosen,
            lambda family: graded(
                [part for part in fitting if part.family == family], marking.access, "access"
            ),
        )

    found = then(read_marking(marked, "sram", desk.rulebook.markings), place)
    return then(found, lambda part: Taken((FitDef(part.id, count), "")))


def _read_memory(desk: Desk, draft: Draft, slot: SlotDef, group: str) -> Reading[tuple[FitDef, str]]:
    rulebook = desk.rulebook
    pins = pins_of(slot, bus_width(desk.part(draft.cpu)))
    fitting = list(fitting_parts(slot, rulebook))
    families = list(dict.fromkeys(part.family for part in fitting))

    def place(one: Modules) -> Reading[tuple[FitDef, str]]:
        wanted = [one.type] if one.type else [name for name in ("fpm", "edo") if name in families]
        if one.pins == 30 and "fpm" in wanted:
            wanted = ["fpm"]
        able = [name for name in wanted if name in families]
        if not able:
            return Refused(f"{slot.title} takes no {_TYPES.get(one.type, 'such')} modules")
        chosen = one_of("Are these EDO or fast-page modules?", [(_TYPES[name], name) for name in able])
        part = then(
            chosen,
            lambda name: graded([one for one in fitting if one.family == name], one.access, "row_access"),
        )
        refresh: PartId | None = refresh_of(one, rulebook.markings)
        return then(part, lambda part: Taken((FitDef(part.id, one.count, one.size, refresh), one.words)))

    banks = draft.board.slots if draft.board is not None else (slot,)
    room = sum(one.chips for one in banks if one.role == slot.role and not one.soldered)
    return then(read_modules(group, pins, rulebook.markings, room), place)


def spoken_fit(rulebook: Rulebook, fits: Sequence[FitDef]) -> str:
    """What sits in a slot, in words."""
    told = []
    for fit in fits:
        many = f"{fit.count} x " if fit.count > 1 else ""
        size = "" if fit.size is None else f"{size_words(fit.size)}, "
        told.append(f"{many}{size}{rulebook.parts[fit.part].title}")
    return " + ".join(told) or "empty"
