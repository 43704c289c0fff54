"""The course of questions for a machine that has no profile yet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from waitwright.intake.boards_near import takes
from waitwright.intake.cards import card_questions, drive_questions, floppy_default
from waitwright.intake.closing import closing_questions
from waitwright.intake.draft import Draft
from waitwright.intake.first_questions import (
    board_question,
    bus_question,
    cache_question,
    cpu_question,
    pins_question,
)
from waitwright.intake.options import clock_option, clock_question, open_options, option_question
from waitwright.intake.questions import Desk, Question
from waitwright.intake.readings import Reading, Refused, Taken, plain, shortened
from waitwright.intake.sockets import slot_question, socket_questions
from waitwright.rulebook.fits import kind_for
from waitwright.rulebook.profiles import BoardProfile

_USUAL_CARDS = 2
"""Cards in a machine, for an estimate."""


def new_course(desk: Desk, draft: Draft) -> Iterator[Question]:
    """All questions as far as they are known, in order, the answered ones included."""
    yield cpu_question(desk, draft)
    yield bus_question(draft)
    yield cache_question(draft)
    yield pins_question(draft)
    yield board_question(desk, draft)
    if draft.board is None:
        return
    board = draft.board
    clock = clock_option(board)
    if clock is not None:
        yield clock_question(desk, draft, board, clock)
    yield from socket_questions(desk, draft, board)
    yield from card_questions(desk, draft, board)
    yield from drive_questions(desk, draft, board)
    for slot in board.slots:
        if slot.role and kind_for(slot, desk.rulebook) == "floppy" and not slot.soldered:
            yield slot_question(desk, draft, slot, f"slot.{slot.id}", floppy_default(desk, draft))
    yield _settings_question(draft)
    if draft.settings == "ask":
        slow = desk.slow(draft)
        for option in open_options(board):
            yield option_question(draft, option, slow[option.id], f"set.{option.id}", keep=False)
    yield from closing_questions(desk, draft)


def still_hidden(desk: Desk, draft: Draft) -> int:
    """How many questions may follow that :func:`new_course` does not know of yet.

    Before there is a board, the one with most questions counts, and then usual cards: so what is told at
    the beginning falls as answers come in, and does not rise.  Slow settings need no questions.
    """
    if draft.board is None:
        now = sum(1 for _ in new_course(desk, draft))
        drafts = [replace(draft, board=board) for board in _possible(desk, draft)]
        return max((_with_cards(desk, one) for one in drafts), default=now) - now
    return _with_cards(desk, draft) - sum(1 for _ in new_course(desk, draft))


def _possible(desk: Desk, draft: Draft) -> list[BoardProfile]:
    """The boards that take the CPU, as far as it is known."""
    cpu = desk.part(draft.cpu)
    return [
        near.board
        for near in desk.near(draft)
        if cpu is None
        or any(takes(slot, cpu, desk.rulebook) for slot in near.board.slots if slot.role == "cpu")
    ]


def _with_cards(desk: Desk, draft: Draft) -> int:
    """All questions of *draft*, with those about usual cards and their drive."""
    keys = [question.key for question in new_course(desk, draft)]
    if draft.board is None or draft.cards_done or not any(key.startswith("card.") for key in keys):
        return len(keys)
    about_cards = sum(1 for key in keys if key.startswith("card."))
    drives = [slot for slot in draft.board.slots if slot.role and kind_for(slot, desk.rulebook) == "drive"]
    no_drive = bool(drives) and not any(f"slot.{slot.id}" in keys for slot in drives)
    return len(keys) + max(0, _USUAL_CARDS + 1 - about_cards) + no_drive


def _settings_question(draft: Draft) -> Question:
    def read(line: str) -> Reading[Draft]:
        said = plain(line)
        if said in {"enter", "ask", "yes", "y", "mine", "current"}:
            remark = "a line that your own screen does not have: answer 'not there'"
            return Taken(replace(draft, settings="ask"), (remark,))
        if said in {"slow", "no", "n", "none"}:
            remark = "these are not what the machine has now: enter them there before the first trial"
            return Taken(replace(draft, settings="slow"), (remark,))
        return Refused(f"expected slow or enter, found {shortened(line)!r}")

    count = len(open_options(draft.board)) if draft.board is not None else 0
    return Question(
        key="settings",
        text=f"{count} more settings: take slow ones to begin with, or enter what the machine has now, one "
        "question each? (slow, enter)",
        help="'slow' fills in settings that hold by data sheet as far as the parts allow. The machine does "
        "not have them yet: you set it to them before the first trial ('check' lists them). 'enter' asks for "
        "each line of the setup screen and each jumper, where you can also say what your own screen calls "
        "it; then what the machine does now is the start, and counts as tried. To a line that your screen "
        "does not have you answer 'not there'.",
        read=read,
        default="slow",
    )
