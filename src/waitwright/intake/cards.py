"""Cards, the slots they go into, and the drives that hang on them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from waitwright.ids import SlotId
from waitwright.intake.draft import Draft
from waitwright.intake.names import card_named
from waitwright.intake.questions import NOTHING, Desk, Question, fitted
from waitwright.intake.readings import Reading, Refused, Taken, Way, choose, plain, then
from waitwright.intake.slots import NOT_KNOWN
from waitwright.intake.sockets import slot_question
from waitwright.rulebook.domain import Part
from waitwright.rulebook.fits import kind_for, misfit
from waitwright.rulebook.profiles import BoardProfile, FitDef, SlotDef

_IN_SLOT = re.compile(r"^(.*?)\s+(?:in|slot|in slot)\s+([a-z0-9 -]+)$", re.IGNORECASE)
_WIDTHS = {"isa8": 0, "isa16": 1, "vl": 2, "pci": 2}
_DONE = NOTHING | {"done", "no more"}


def card_questions(desk: Desk, draft: Draft, board: BoardProfile) -> Iterator[Question]:
    """One question a card, until there are no more, or no slot is free."""
    answered = sum(1 for key in draft.asked if key.startswith("card."))
    slots = [slot for slot in board.slots if slot.bus and not slot.soldered]
    for number in range(1, answered + 1):
        yield _card_question(desk, draft, board, number)
    if slots and not draft.cards_done and len(_free(draft, slots)) > 0:
        yield _card_question(desk, draft, board, answered + 1)


def _free(draft: Draft, slots: list[SlotDef]) -> list[SlotDef]:
    return [slot for slot in slots if not draft.fit.get(slot.id)]


def _card_question(desk: Desk, draft: Draft, board: BoardProfile, number: int) -> Question:
    slots = _free(draft, [slot for slot in board.slots if slot.bus and not slot.soldered])

    def read(line: str) -> Reading[Draft]:
        if plain(line) in _DONE:
            return Taken(replace(draft, cards_done=True))
        placed = _IN_SLOT.match(line.strip())
        if placed is None:
            return _named(desk, draft, board, slots, line)
        chosen = choose(
            placed[2], [Way(slot.title, slot, (str(slot.id),)) for slot in slots], "free slot", lettered=False
        )
        return then(chosen, lambda slot: _named(desk, draft, board, [slot], placed[1]))

    examples = "vl display -70" if any(slot.bus == "vl" for slot in slots) else "isa16 display -70"
    return Question(
        key=f"card.{number}",
        text=f"Card {number}: which? (such as '{examples}', 'multi-i/o'; Enter when there are no more)",
        help="Its kind (display, disk, multi-i/o, network, sound, serial, scsi, other), its bus (8-bit, "
        "16-bit, vl, pci), and for a display card what stands behind the dash on its memory chips. It goes "
        f"into a fitting slot; 'in SLOT' says which: {', '.join(str(slot.id) for slot in slots)}.",
        read=read,
        default="none",
        shown_default="no more",
    )


def _named(desk: Desk, draft: Draft, board: BoardProfile, slots: list[SlotDef], line: str) -> Reading[Draft]:
    """*draft* with the card of *line* in the best of *slots*."""
    cards = [
        part
        for part in desk.parts_of_kind("card")
        if any(not misfit(slot, part, desk.rulebook) for slot in slots)
    ]
    if not cards:
        return Refused("no card goes into that slot")
    return then(card_named(line, cards, desk.rulebook), lambda part: _placed(desk, draft, board, slots, part))


def _placed(
    desk: Desk, draft: Draft, board: BoardProfile, slots: list[SlotDef], part: Part
) -> Reading[Draft]:
    able = [slot for slot in slots if not misfit(slot, part, desk.rulebook)]
    ports = {str(slot.on) for slot in board.slots if slot.on}
    carries = _carries_drives(part)
    best = min(able, key=lambda slot: ((str(slot.id) in ports) != carries, _WIDTHS.get(slot.bus, 3)))
    grown = replace(fitted(draft, best, (FitDef(part.id),)), cards=draft.cards + 1)
    return Taken(grown, (f"{part.title}: {best.title}",))


def _carries_drives(part: Part) -> bool:
    value = part.values.get("purpose")
    return value is not None and value.value in {"disk", "multi"}


# -------------------------------------------------------------------------------------- drives


def drive_questions(desk: Desk, draft: Draft, board: BoardProfile) -> Iterator[Question]:
    """A question for every drive whose port is there: on the board, or on a card that has one."""
    for slot in board.slots:
        if slot.soldered or not slot.role or kind_for(slot, desk.rulebook) != "drive":
            continue
        fits = draft.fit.get(SlotId(slot.on), ())
        carried = any(_carries_drives(desk.rulebook.parts[fit.part]) for fit in fits)
        if slot.on.startswith("board-") or carried:
            yield slot_question(desk, draft, slot, f"slot.{slot.id}", "0")


def floppy_default(desk: Desk, draft: Draft) -> str:
    """None, but not known where a card carries a controller."""
    kinds = [
        desk.rulebook.parts[fit.part].values.get("purpose") for fits in draft.fit.values() for fit in fits
    ]
    return NOT_KNOWN if any(kind is not None and kind.value == "multi" for kind in kinds) else "none"
