"""Questions as data, and what lies on the desk while they are answered."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from waitwright.ids import PartId, Settings, SlotId
from waitwright.intake.boards_near import NearBoard, Wanted, rank_boards
from waitwright.intake.draft import Draft
from waitwright.intake.readings import Reading, Refused, Taken
from waitwright.rulebook.domain import Part, Rulebook
from waitwright.rulebook.profiles import BoardProfile, FitDef, SlotDef

NOTHING = frozenset({"none", "no", "nothing", "empty", "-"})
"""Answers that leave a place empty."""

Standing = Literal["free", "file", "folder", "no folder"]


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    Attributes:
        key: Its name, the same whenever it is asked again.
        text: What is asked, one or two lines.
        help: What ``?`` explains.
        read: From an answer to the draft with that answer in it.
        default: The answer that Enter stands for; empty where one must be given.
        shown_default: How that is told, where it is not told as it stands.
        ways: Answers to choose from, by letter or in words.
    """

    key: str
    text: str
    help: str
    read: Callable[[str], Reading[Draft]]
    default: str = ""
    shown_default: str = ""
    ways: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Desk:
    """What is known before the first answer.

    Attributes:
        boards: Packed boards by name.
        read_board: Reads a board profile from an own path.
        standing: What stands at a path already.
        slow: Settings that should hold, made for what a draft has fitted.
        file: Where to write, when the owner has said so already.
    """

    rulebook: Rulebook
    boards: Mapping[str, BoardProfile]
    read_board: Callable[[str], BoardProfile]
    standing: Callable[[str], Standing]
    slow: Callable[[Draft], Settings]
    file: str = ""
    _parts: dict[str, list[Part]] = field(default_factory=dict, repr=False, compare=False)
    _near: dict[object, list[NearBoard]] = field(default_factory=dict, repr=False, compare=False)

    def parts_of_kind(self, kind: str) -> list[Part]:
        """The catalogue's parts of one kind, in its order."""
        if kind not in self._parts:
            self._parts[kind] = [part for part in self.rulebook.parts.values() if part.kind == kind]
        return self._parts[kind]

    def near(self, draft: Draft) -> list[NearBoard]:
        """The packed boards, the closest to what *draft* tells first; each ranking is made once."""
        key = (draft.cpu, draft.cache_kb, draft.buses, draft.pins)
        if key not in self._near:
            wanted = Wanted(self.part(draft.cpu), draft.cache_kb, draft.buses, draft.pins)
            self._near[key] = rank_boards(self.boards, wanted, self.rulebook)
        return self._near[key]

    def part(self, part_id: PartId | None) -> Part | None:
        """The part with that id; None for None."""
        return None if part_id is None else self.rulebook.parts[part_id]


def fitted(draft: Draft, slot: SlotDef, fits: tuple[FitDef, ...], note: str = "") -> Draft:
    """*draft* with *fits* in *slot*, and *note* as the comment on it."""
    by_slot: dict[SlotId, tuple[FitDef, ...]] = {**draft.fit, slot.id: fits}
    notes = {key: text for key, text in draft.notes.items() if key != slot.id}
    if note:
        notes[slot.id] = note
    return replace(draft, fit=by_slot, notes=notes)


def emptied(draft: Draft, slot: SlotDef) -> Draft:
    """*draft* with nothing in *slot*."""
    keep = {key: fits for key, fits in draft.fit.items() if key != slot.id}
    return replace(draft, fit=keep, notes={key: text for key, text in draft.notes.items() if key != slot.id})


def line_of_text(line: str, what: str, most: int = 300) -> Reading[str]:
    """*line* as a text that a profile may hold."""
    text = line.strip()
    if not text:
        return Refused(f"expected {what}")
    if len(text) > most:
        return Refused(f"{what} has at most {most} characters")
    if not text.isprintable():
        return Refused(f"{what} is one line of plain text; this one holds a control character")
    return Taken(text)
