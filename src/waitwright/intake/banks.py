"""What sits in a bank: cache chips or memory modules, equal ones or a few groups; whether they fill it."""

from __future__ import annotations

import re
from dataclasses import replace

from waitwright.ids import PartId
from waitwright.intake.boards_near import bus_width, pins_of
from waitwright.intake.draft import Draft
from waitwright.intake.markings import Marking, graded, read_marking
from waitwright.intake.modules import Modules, read_modules, refresh_of
from waitwright.intake.questions import Desk, emptied, fitted
from waitwright.intake.readings import Reading, Refused, Taken, each, one_of, plain, shortened, then
from waitwright.rulebook.domain import Part
from waitwright.rulebook.fits import fitting_parts, kind_for, misfit
from waitwright.rulebook.profiles import FitDef, SlotDef

_COUNT = re.compile(
    r"^\s*([0-9]{1,2})\s*(?:x|\*|\u00d7|pieces?|chips?|times)\s+(?=\S)"
    r"|^\s*([0-9]{1,2})\s*[x*\u00d7](?=[^0-9\s]*[0-9])"
)
_GROUPS = re.compile(r"\s*(?:,|\+|;|\band\b)\s*")
_TYPES = {"edo": "EDO", "fpm": "fast-page (FPM)"}


def read_bank(desk: Desk, draft: Draft, slot: SlotDef, line: str, kind: str) -> Reading[Draft]:
    """*draft* with a bank of equal chips or modules in *slot*, or of several groups of them.

    Args:
        kind: ``sram`` or ``dram``.
    """
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
        f"{slot.title}: {slot.chips} {things} fill the bank, and without all of them it cannot be used. Are "
        f"there only {count}?",
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
            where = f"right for: {others}" if others else "no cache socket of this board takes it"
            return Refused(
                f"{shortened(marked)} is a chip of {organisation}; here only {shapes} fits ({where})"
            )
        remarks: tuple[str, ...] = ()
        asks = "Chips of several sizes fit here: which are these?"
        if marking.unknown:
            number = f"the number {shortened(marking.unknown)} is not known here"
            asks = f"{number}, and chips of several sizes fit here: which are these?"
            remarks = (f"{number}: taken as {shapes}, since nothing else fits here",)
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
