"""What the tests of the intake share: a desk with the packed boards, and answers typed one by one."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache, partial

from waitwright.api.new import make_desk
from waitwright.intake.course import new_course, still_hidden
from waitwright.intake.dialogue import Dialogue, Turn
from waitwright.intake.draft import Draft
from waitwright.intake.questions import Desk
from waitwright.intake.readings import Reading, Refused, Taken, Unclear
from waitwright.rulebook.domain import Part
from waitwright.rulebook.load import load_rulebook


@cache
def desk() -> Desk:
    """Everything that questions are answered from, with the file settled."""
    return make_desk(load_rulebook(), "somewhere-new.toml")


def parts(kind: str) -> list[Part]:
    """The catalogue's parts of one kind."""
    return desk().parts_of_kind(kind)


@cache
def new_dialogue(patience: int | None = None) -> Dialogue:
    """The dialogue about a new machine."""
    return Dialogue(partial(new_course, desk()), patience, partial(still_hidden, desk()))


def answered(dialogue: Dialogue, answers: Iterable[str], draft: Draft | None = None) -> Turn:
    """Where *dialogue* stands after *answers*; it stops by itself where it ends."""
    turn = dialogue.begin(draft or Draft())
    for answer in answers:
        if turn.ended:
            break
        turn = dialogue.answer(turn.state, answer)
    return turn


def meant(reading: Reading[Part]) -> object:
    """A reading in short: the part's id, the labels to choose from, or None where it was refused."""
    if isinstance(reading, Taken):
        return str(reading.value.id)
    if isinstance(reading, Unclear):
        return [label for label, _ in reading.ways]
    assert isinstance(reading, Refused)
    assert reading.reason and "\n" not in reading.reason
    return None
