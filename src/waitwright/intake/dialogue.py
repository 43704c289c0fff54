"""The dialogue: from one answer to the next question, without a terminal and without side effects."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

from waitwright.intake.draft import Draft
from waitwright.intake.questions import Question
from waitwright.intake.readings import Reading, Refused, Taken, Unclear, Way, choose, letters, plain

LONGEST = 1000
"""An answer has no more characters than this."""

Course = Callable[[Draft], Iterator[Question]]
"""All questions of a draft in order, as far as they are known, the answered ones included."""


@dataclass(frozen=True, slots=True)
class State:
    """Where the dialogue stands.

    Attributes:
        past: The drafts before each answer, for ``back``.
        unclear: What is asked back at the moment.
        wrong: Wrong answers to the present question.
    """

    draft: Draft
    past: tuple[Draft, ...] = ()
    unclear: Unclear[Draft] | None = None
    wrong: int = 0


@dataclass(frozen=True, slots=True)
class Turn:
    """What to say now.

    Attributes:
        said: Remarks and explanations, a line each.
        question: What is asked next; None when the dialogue is over.
        ways: Answers to choose from, lettered.
        number: Of the question, counted from 1.
        about: How many there will be, as far as that is known; 0 where nobody can tell.
    """

    state: State
    said: tuple[str, ...]
    question: Question | None
    ways: tuple[str, ...]
    number: int
    about: int
    ended: Literal["", "done", "gave up"] = ""

    @property
    def asks(self) -> str:
        """The question's text, or what is asked back."""
        if self.state.unclear is not None:
            return self.state.unclear.asks
        return self.question.text if self.question is not None else ""

    @property
    def default(self) -> str:
        """What Enter stands for, in words; empty where an answer must be given."""
        if self.question is None or self.state.unclear is not None:
            return ""
        return self.question.shown_default or self.question.default


@dataclass(frozen=True, slots=True)
class Dialogue:
    """A course of questions.

    Attributes:
        patience: So many wrong answers to one question end it; None for any number.
        hidden: About how many questions will follow that the course does not know of yet; None where
            nobody can tell.
    """

    course: Course
    patience: int | None = None
    hidden: Callable[[Draft], int] | None = None

    def begin(self, draft: Draft) -> Turn:
        """The first question."""
        return self._turn(State(draft), ())

    def answer(self, state: State, line: str) -> Turn:
        """What follows when *line* is answered to the question of *state*."""
        question = self._open(state.draft)
        if question is None:
            return self._turn(state, ())
        said = plain(line[:LONGEST])
        if said == "?":
            return self._turn(state, (question.help,))
        if said == "back":
            return self._back(state)
        if len(line) > LONGEST:
            return self._refused(state, f"an answer of more than {LONGEST} characters")
        if state.unclear is not None:
            return self._settle(state, question, _which(state.unclear, question, line))
        if not said:
            if not question.default:
                return self._refused(state, "this needs an answer; ? explains it")
            line = question.default
        return self._settle(state, question, question.read(line))

    def _settle(self, state: State, question: Question, reading: Reading[Draft]) -> Turn:
        if isinstance(reading, Refused):
            return self._refused(state, reading.reason)
        if isinstance(reading, Unclear):
            return self._turn(replace(state, unclear=reading), ())
        draft = replace(reading.value, asked=(*reading.value.asked, question.key))
        return self._turn(State(draft, (*state.past, state.draft)), reading.remarks)

    def _back(self, state: State) -> Turn:
        if state.unclear is not None:
            return self._turn(replace(state, unclear=None), ())
        if not state.past:
            return self._turn(state, ("this is the first question",))
        return self._turn(State(state.past[-1], state.past[:-1]), ())

    def _refused(self, state: State, reason: str) -> Turn:
        wrong = replace(state, wrong=state.wrong + 1)
        turn = self._turn(wrong, (reason,))
        if self.patience is not None and wrong.wrong >= self.patience:
            return replace(turn, ended="gave up")
        return turn

    def _open(self, draft: Draft) -> Question | None:
        done = frozenset(draft.asked)
        return next((question for question in self.course(draft) if question.key not in done), None)

    def _turn(self, state: State, said: tuple[str, ...]) -> Turn:
        done = frozenset(state.draft.asked)
        questions = list(self.course(state.draft))
        still_open = [question for question in questions if question.key not in done]
        question = still_open[0] if still_open else None
        ways: tuple[str, ...] = ()
        if state.unclear is not None:
            ways = tuple(label for label, _ in state.unclear.ways)
        elif question is not None:
            ways = question.ways
        return Turn(
            state,
            said,
            question,
            ways,
            len(done) + 1,
            0 if self.hidden is None else len(done) + len(still_open) + self.hidden(state.draft),
            "" if question is not None else "done",
        )


def _which(unclear: Unclear[Draft], question: Question, line: str) -> Reading[Draft]:
    """The way that *line* names, with its remarks; else *line* as a new answer to the question itself."""
    if not line.strip():
        return Refused("this needs an answer: the letter will do; 'back' takes the last one back")
    chosen = choose(line, [Way(label, taken) for label, taken in unclear.ways], "answer")
    if isinstance(chosen, Taken):
        return chosen.value
    if isinstance(chosen, Refused):
        afresh = question.read(line)
        return chosen if isinstance(afresh, Refused) else afresh
    return Refused("that still fits several: answer with the letter")


def lettered(ways: tuple[str, ...]) -> list[str]:
    """*ways* with the letters that choose them."""
    return [f"{letter}) {way}" for letter, way in zip(letters(len(ways)), ways, strict=False)]
