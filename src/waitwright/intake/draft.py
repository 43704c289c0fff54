"""A machine as far as its owner has described it, and the profile file that comes of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from waitwright.ids import ChoiceId, OptionId, PartId, SlotId
from waitwright.intake.comments import TO_ENTER, option_comment, slot_comment
from waitwright.rulebook.profiles import (
    BoardProfile,
    FitDef,
    MachineProfile,
    Proven,
    SlotDef,
    SpareDef,
)
from waitwright.rulebook.writing import exact_number
from waitwright.units import from_base

if TYPE_CHECKING:
    from tomlkit.items import InlineTable
    from tomlkit.toml_document import TOMLDocument


@dataclass(frozen=True, slots=True)
class Draft:
    """Answers so far.

    Attributes:
        asked: Keys of the questions answered, in their order.
        cpu: Part in the CPU socket.
        cache_kb: As :class:`waitwright.intake.boards_near.Wanted` has it, as are ``buses`` and ``pins``.
        board_name: Packed name, or absolute path.
        cards: How many cards were named; ``cards_done`` when there are no more.
        notes: Comments for the file, by slot.
        settings: Whether current settings are asked (``ask``) or slow ones taken (``slow``).
        absent: Options that the owner's own screen does not have.
        targets: What an edit has gone through so far; ``finished`` when nothing more is to be changed.
        file: Where to write.
        overwrite: Path of a file that may be replaced; empty for none.
        agreed: Whether the owner said to write it.
    """

    asked: tuple[str, ...] = ()
    cpu: PartId | None = None
    cache_kb: int | None = None
    buses: frozenset[str] = frozenset()
    pins: frozenset[int] = frozenset()
    board_name: str = ""
    board: BoardProfile | None = None
    fit: Mapping[SlotId, tuple[FitDef, ...]] = field(default_factory=dict)
    notes: Mapping[SlotId, str] = field(default_factory=dict)
    cards: int = 0
    cards_done: bool = False
    settings: str = ""
    current: Mapping[OptionId, ChoiceId] = field(default_factory=dict)
    labels: Mapping[str, str] = field(default_factory=dict)
    absent: frozenset[OptionId] = frozenset()
    proven: Proven | None = None
    spares: tuple[SpareDef, ...] = ()
    title: str = ""
    targets: tuple[str, ...] = ()
    finished: bool = False
    file: str = ""
    overwrite: str = ""
    agreed: bool = False

    def in_board_order(self) -> dict[SlotId, tuple[FitDef, ...]]:
        """What is fitted, in the order of the board's slots."""
        slots: tuple[SlotDef, ...] = self.board.slots if self.board is not None else ()
        return {slot.id: self.fit[slot.id] for slot in slots if self.fit.get(slot.id)}


def profile_of(draft: Draft, current: Mapping[OptionId, ChoiceId], board_name: str) -> MachineProfile:
    """The machine that *draft* describes, with *current* where it says nothing of an option.

    Raises:
        ValueError: if no board is chosen yet.
    """
    if draft.board is None:
        raise ValueError("a machine needs a board")
    return MachineProfile(
        title=draft.title,
        note="",
        board_name=board_name,
        board=draft.board,
        fit=draft.in_board_order(),
        current={
            option.id: draft.current.get(option.id, current[option.id]) for option in draft.board.options
        },
        labels=dict(draft.labels),
        proven=draft.proven,
        spares=draft.spares,
    )


def text_of(
    profile: MachineProfile,
    notes: Mapping[SlotId, str],
    absent: frozenset[OptionId] = frozenset(),
    *,
    to_enter: bool = False,
) -> str:
    """*profile* as a file for its owner to read on: one line a part, with labels beside choices.

    Args:
        notes: Comments by slot; where there is none, the slot's title stands.
        absent: Options that the owner's board does not offer.
        to_enter: Whether the machine does not have these settings yet.
    """
    import tomlkit

    doc: TOMLDocument = tomlkit.document()
    doc["schema"] = 1
    doc["title"] = profile.title
    doc["board"] = profile.board_name
    fit = tomlkit.table()
    for slot in profile.board.slots:
        if slot.id in profile.fit:
            fit.add(str(slot.id), fit_item(slot, profile.fit[slot.id]))
            fit[str(slot.id)].comment(slot_comment(slot, notes.get(slot.id, "")))
    doc["fit"] = fit
    current = tomlkit.table()
    for line in TO_ENTER if to_enter else ():
        current.add(tomlkit.comment(line))
    for option in profile.board.options:
        chosen = profile.current[option.id]
        current.add(str(option.id), str(chosen))
        there = option.id not in absent
        current[str(option.id)].comment(option_comment(option, chosen, profile.labels, there=there))
    doc["current"] = current
    if profile.labels:
        doc["labels"] = dict(profile.labels)
    if profile.proven is not None:
        doc["proven"] = proven_item(profile.proven)
    if profile.spares:
        spares = tomlkit.aot()
        for spare in profile.spares:
            spares.append(spare_item(spare))
        doc["spare"] = spares
    return tomlkit.dumps(doc)


def fit_item(slot: SlotDef, fits: tuple[FitDef, ...]) -> Any:
    """What sits in *slot*, as a value of ``[fit]``: a part id, an inline table, or a list of those."""
    import tomlkit

    tables = [fit_table(slot, fit, alone=len(fits) == 1) for fit in fits]
    if len(tables) == 1:
        return tomlkit.item(tables[0])
    listed = tomlkit.array()
    for table in tables:
        listed.append(table)
    return listed


def fit_table(slot: SlotDef, fit: FitDef, *, alone: bool) -> str | InlineTable:
    """Equal parts, as a part id where nothing else need be said, else as an inline table."""
    import tomlkit

    if alone and fit == FitDef(fit.part, slot.chips):
        return str(fit.part)
    table = tomlkit.inline_table()
    table["part"] = str(fit.part)
    table["count"] = fit.count
    if fit.size is not None:
        table["size_mb"] = plain_number(from_base(fit.size, "MB"))
    if fit.refresh is not None:
        table["refresh"] = str(fit.refresh)
    return table


def proven_item(proven: Proven) -> Any:
    """``[proven]``."""
    import tomlkit

    table = tomlkit.table()
    if proven.hours is not None:
        table["hours"] = plain_number(proven.hours)
    else:
        table["symptoms"] = list(proven.symptoms)
    return table


def spare_item(spare: SpareDef) -> Any:
    """One ``[[spare]]``."""
    import tomlkit

    table = tomlkit.table()
    table["part"] = str(spare.part)
    if spare.count != 1:
        table["count"] = spare.count
    return table


def plain_number(value: Any) -> Any:
    """An exact number as tomlkit writes it: whole, decimal digit for digit, or a ratio as text."""
    import tomlkit

    number = exact_number(value)
    return number if isinstance(number, int | str) else tomlkit.value(str(number))
