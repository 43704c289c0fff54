"""The course of questions for a machine that has no profile yet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

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
            yield slot_question(desk, draft, slot, f"slot.{slot.id}", floppy_default(desk, draft, slot))
    yield _settings_question(draft)
    if draft.settings == "ask":
        slow = desk.slow(draft)
        for option in open_options(board):
            yield option_question(draft, option, slow[option.id], f"set.{option.id}", keep=False)
    yield from closing_questions(desk, draft)


def still_hidden(desk: Desk, draft: Draft) -> int:
    """About how many questions will follow that :func:`new_course` does not know of yet."""
    if draft.board is None:
        near = desk.near(draft)
        if not near:
            return 0
        assumed = replace(draft, board=near[0].board)
        behind = sum(1 for _ in new_course(desk, assumed)) - sum(1 for _ in new_course(desk, draft))
        return behind + still_hidden(desk, assumed)
    return len(open_options(draft.board)) + 1 if not draft.settings else 0


def _settings_question(draft: Draft) -> Question:
    def read(line: str) -> Reading[Draft]:
        said = plain(line)
        if said in {"enter", "ask", "yes", "y", "mine", "current"}:
            return Taken(replace(draft, settings="ask"))
        if said in {"slow", "no", "n", "none"}:
            return Taken(
                replace(draft, settings="slow"),
                ("set the machine to them before the first trial: 'check' lists them",),
            )
        return Refused(f"expected enter or slow, found {shortened(line)!r}")

    count = len(open_options(draft.board)) if draft.board is not None else 0
    return Question(
        key="settings",
        text=f"{count} more settings: enter them as they are, or take slow ones? (enter, slow)",
        help="'enter' asks for each line of the setup screen and each jumper; with Enter alone you take a "
        "slow choice there. You can also say there what your own screen calls it. 'slow' fills in settings "
        "that hold by data sheet as far as the parts allow: set the machine to them before the first trial.",
        read=read,
        default="enter",
    )
