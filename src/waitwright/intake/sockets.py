"""What sits in the board's sockets and banks: one question for each."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from waitwright.ids import PartId
from waitwright.intake.boards_near import bus_width, chip_size, memory_banks, pins_of
from waitwright.intake.draft import Draft
from waitwright.intake.options import HOST, clock_option, rated_clock
from waitwright.intake.questions import Desk, Question
from waitwright.intake.readings import Taken
from waitwright.intake.slots import read_slot, ways_of
from waitwright.rulebook.fits import fitting_parts, kind_for
from waitwright.rulebook.profiles import BoardProfile, SlotDef
from waitwright.units import Exact, from_base

_LATER = {"card", "drive", "floppy", "cpu"}
"""Kinds of parts with questions of their own place in the course."""


def socket_questions(desk: Desk, draft: Draft, board: BoardProfile) -> Iterator[Question]:
    """A question for every socket and bank that is not soldered, in the board's order."""
    for slot in board.slots:
        if _is_asked(desk, draft, slot):
            yield slot_question(desk, draft, slot, f"slot.{slot.id}", _default(desk, draft, board, slot))


def _is_asked(desk: Desk, draft: Draft, slot: SlotDef) -> bool:
    """Whether *slot* has a question of its own among those for sockets and banks."""
    kind = kind_for(slot, desk.rulebook)
    if slot.soldered or kind in _LATER:
        return False
    if slot.role.startswith("l2."):
        return draft.cache_kb != 0
    if kind == "coprocessor":
        cpu = desk.part(draft.cpu)
        own = cpu.values.get("fpu") if cpu is not None else None
        return own is None or own.value is not True
    return True


def slot_question(
    desk: Desk, draft: Draft, slot: SlotDef, key: str, default: str, shown: str = ""
) -> Question:
    """What sits in *slot*."""
    kind = kind_for(slot, desk.rulebook)
    text, help_ = _words_for(desk, draft, slot, kind)
    part = desk.rulebook.parts.get(PartId(default))
    return Question(
        key=key,
        text=text,
        help=help_,
        read=lambda line: read_slot(desk, draft, slot, line),
        default=default,
        shown_default=shown or (part.title if part is not None else ""),
        ways=ways_of(desk, slot),
    )


def _words_for(desk: Desk, draft: Draft, slot: SlotDef, kind: str) -> tuple[str, str]:
    """The question about *slot*, and its explanation."""
    title = f"{slot.title[:1].upper()}{slot.title[1:]}"
    if kind == "sram":
        shapes = _shapes(desk, slot)
        text = f"{title}, {slot.chips} chips of {shapes}: what is printed on them?"
        if slot.chips == 1:
            text = f"{title}, one chip of {shapes}: what is printed on it?"
    elif kind == "dram":
        text = _bank_words(slot, title, pins_of(slot, bus_width(desk.part(draft.cpu))))
    else:
        text = f"{title}: {_ASKS.get(kind, 'which?')}"
    return text, _HELP.get(kind, "Answer with the letter or the name, or none.")


def _shapes(desk: Desk, slot: SlotDef) -> str:
    shapes = (part.values.get("organisation") for part in fitting_parts(slot, desk.rulebook))
    return " or ".join(dict.fromkeys(str(shape.value) for shape in shapes if shape is not None))


def _bank_words(slot: SlotDef, title: str, pins: int) -> str:
    example = "4 MB -70" if pins == 72 else "1 MB -70"
    if slot.chips == 1:
        return f"{title}: which module? (such as {example})"
    of = f"{pins}-pin " if pins else ""
    return f"{title} takes {slot.chips} {of}modules: which? (such as {slot.chips} x {example})"


_ASKS = {
    "coprocessor": "which? (such as 387-33, or none)",
    "clockgen": "up to how many MHz? (such as 66.667)",
    "cpu": "which CPU? (such as 486DX2-66)",
    "card": "which card? (such as 'vl display -70', or none)",
    "drive": "which PIO mode does the drive keep? (0 to 4, slow, none)",
    "floppy": "which controller? (in doubt: not known; none without a floppy drive)",
}
_HELP = {
    "sram": (
        "The whole number, such as UM61256-20, or what stands behind its dash: -15 is 15 ns, -20 is 20 ns. "
        "'2 x 61256-20' if not all are there, 'same' as the bank before, 'none' for empty sockets."
    ),
    "dram": (
        "Size of one module, and what stands behind the dash on its chips: -7 and -70 are 70 ns, -10 is "
        "100 ns. A label such as 4x36-60 or 1Mx9-70 tells size, parity and speed. Add 'EDO' if it says so. "
        "More modules than the bank takes go on into the next. A mixed bank: '2 x 1 MB -70, 2 x 1 MB -80'. "
        "'same' as the bank before, 'none' for an empty bank."
    ),
    "coprocessor": "Its type and MHz, or none for an empty socket.",
    "clockgen": (
        "What is printed on the oscillator can, or the highest clock of the generator chip. A 386 is fed "
        "twice its clock."
    ),
    "cpu": "As printed on it: type and MHz.",
    "card": "Kind, bus and memory speed: 'vl display -70', '16-bit sound', or none.",
    "floppy": (
        "The number on the largest chip of the card, or of the board, that serves the drives. 'not known' "
        "takes the controller that bears the shortest wait, so nothing is promised that yours might not "
        "keep. 'none' if there is no floppy drive."
    ),
    "drive": (
        "Drives before about 1994 keep mode 0 to 2; 'slow' is for the very first ones. In doubt answer 0. "
        "'none' if no such drive is there, or only SCSI ones."
    ),
}


def _default(desk: Desk, draft: Draft, board: BoardProfile, slot: SlotDef) -> str:
    kind = kind_for(slot, desk.rulebook)
    if slot.role == "l2.data":
        return _cache_default(desk, draft, board, slot)
    if slot.role in {"l2.tag", "l2.dirty"}:
        filled = any(draft.fit.get(one.id) for one in board.slots if one.role == "l2.data")
        again = isinstance(read_slot(desk, draft, slot, "same"), Taken)
        return "same" if again else ("" if filled else "none")
    if kind == "dram":
        return "" if memory_banks(board)[0].id == slot.id else "none"
    if kind == "clockgen":
        return str(_generator_for(desk, draft, board, slot) or "")
    if kind == "coprocessor":
        return "none"
    return next((str(part.id) for part in fitting_parts(slot, desk.rulebook)), "none")


def _cache_default(desk: Desk, draft: Draft, board: BoardProfile, slot: SlotDef) -> str:
    """None for the first bank; then the same again, until the size that the owner named is there."""
    banks = [one for one in board.slots if one.role == "l2.data"]
    before = banks[: banks.index(slot)]
    if not before:
        return ""
    filled = sum(
        fit.count * int(from_base(size, "KB"))
        for one in before
        for fit in draft.fit.get(one.id, ())
        if (size := chip_size(desk.rulebook.parts[fit.part]))
    )
    if not filled or (draft.cache_kb is not None and filled >= draft.cache_kb):
        return "none"
    again = isinstance(read_slot(desk, draft, slot, "same"), Taken)
    return "same" if again else ("none" if draft.cache_kb is None else "")


def _generator_for(desk: Desk, draft: Draft, board: BoardProfile, slot: SlotDef) -> PartId | None:
    """The slowest generator for *slot* that reaches the clock pin's frequency; None where none does."""
    clock = _pin_clock(desk, draft, board)
    able: list[tuple[Exact, PartId]] = []
    for part in fitting_parts(slot, desk.rulebook):
        most = part.values.get("clk2_clock")
        if most is not None and isinstance(most.value, int | Fraction) and most.value >= clock:
            able.append((most.value, part.id))
    return min(able)[1] if able else None


def _pin_clock(desk: Desk, draft: Draft, board: BoardProfile) -> Exact:
    """What the generator puts out: a CPU that is fed twice its clock needs twice the host clock."""
    option = clock_option(board)
    chosen = draft.current.get(option.id) if option is not None else None
    value = option.choice(chosen).sets.get(HOST) if option is not None and chosen is not None else None
    host = value if isinstance(value, int | Fraction) else rated_clock(desk.rulebook, draft) or 0
    cpu = desk.part(draft.cpu)
    doubled = cpu.values.get("clk2_input") if cpu is not None else None
    return 2 * host if doubled is not None and doubled.value is True else host
