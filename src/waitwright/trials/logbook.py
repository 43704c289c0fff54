"""The logbook: every trial of one machine, as frozen objects.

Nothing here reads a file or a clock; times come in as arguments.  A logbook never changes: the
functions return a new one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timezone
from typing import Literal

from waitwright.errors import UsageError
from waitwright.ids import ChoiceId, OptionId
from waitwright.rulebook.domain import Symptom
from waitwright.rulebook.profiles import OptionDef
from waitwright.units import Exact

Outcome = Literal["stable", "failed"]
Mode = Literal["single", "jump"]
Choices = Mapping[OptionId, ChoiceId]

ANSWER = "flag"
"""Unit of a reading that is a yes (1) or a no (0)."""


@dataclass(frozen=True, slots=True)
class Score:
    """What a measuring program told.

    Attributes:
        value: More than 0, in *unit*.
        unit: Whatever the program calls it, such as ``points`` or ``frames/s``.
        workload: Id of the kind of work that it measures; empty where that is not known.
    """

    value: Exact
    unit: str
    workload: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    """What a meter told.

    Attributes:
        name: What was measured, such as ``ripple``.
        values: In base units (:mod:`waitwright.units`); several for the elements of a network.
        unit: Name of the unit that the owner wrote; :data:`ANSWER` for a yes or no, which is 1 or 0.
        where: Free words on the place; may be empty.
    """

    name: str
    values: tuple[Exact, ...]
    unit: str
    where: str = ""


@dataclass(frozen=True, slots=True)
class Trial:
    """One combination, tried.

    Attributes:
        number: Counts up from 1; never used twice.
        time: When it was recorded, with its offset from UTC.
        settings: The choice of every option that the machine had then.
        symptoms: How it failed, where that is known; none where it was stable.
        hours: How long it ran; None where that is not known.
        repaired: Suspects that were mended just before it.
        note: Free words, with Unix line ends.
        withdrawn: Recorded by mistake; kept, but counts for nothing.
    """

    number: int
    time: datetime
    settings: Choices
    outcome: Outcome
    symptoms: tuple[Symptom, ...] = ()
    hours: Exact | None = None
    scores: tuple[Score, ...] = ()
    readings: tuple[Reading, ...] = ()
    repaired: tuple[str, ...] = ()
    note: str = ""
    withdrawn: bool = False

    @property
    def contradiction(self) -> tuple[str, str] | None:
        """What cannot be true together: the attribute at fault, and why; None where all is well."""
        if self.outcome == "stable" and self.symptoms:
            return "symptoms", "a stable trial shows no symptoms"
        if self.outcome == "stable" and self.hours == 0:
            return "hours", "a trial of no time at all cannot be stable"
        return None


@dataclass(frozen=True, slots=True)
class Offer:
    """The trial that was offered last.

    Attributes:
        number: The number that it will have.
        time: When it was offered, with its offset from UTC.
        mode: Whether it changes one option or several.
        reason: Why it is worth a trial, in words.
        hours: How long it is to run; None for the usual soak.
    """

    number: int
    time: datetime
    settings: Choices
    mode: Mode
    reason: str = ""
    hours: Exact | None = None


@dataclass(frozen=True, slots=True)
class Logbook:
    """All trials of one machine, in the order in which they were recorded.

    Attributes:
        machine: Name of the machine (file stem of its profile).
        offer: The trial that was offered last, whether or not it has been recorded since.
    """

    machine: str
    trials: tuple[Trial, ...] = ()
    offer: Offer | None = None

    @property
    def standing(self) -> tuple[Trial, ...]:
        """The trials that count: all but the withdrawn."""
        return tuple(trial for trial in self.trials if not trial.withdrawn)

    def repairs(self, upto: int | None = None) -> Mapping[str, int]:
        """How often each suspect had been mended when trial *upto* ran; by now where that is None."""
        counted = (t for t in self.standing if upto is None or t.number <= upto)
        return Counter(suspect for trial in counted for suspect in trial.repaired)

    @property
    def next_number(self) -> int:
        """Number of the next trial."""
        return self.trials[-1].number + 1 if self.trials else 1

    @property
    def pending(self) -> Offer | None:
        """The offer, while it waits for its outcome; withdrawing that outcome makes it wait again."""
        offered = self.offer
        if offered is None or any(
            trial.number >= offered.number and trial.settings == offered.settings for trial in self.standing
        ):
            return None
        return offered


def add(
    logbook: Logbook,
    *,
    time: datetime,
    settings: Choices,
    outcome: Outcome,
    symptoms: Iterable[Symptom] = (),
    hours: Exact | None = None,
    scores: Iterable[Score] = (),
    readings: Iterable[Reading] = (),
    repaired: Iterable[str] = (),
    note: str = "",
) -> Logbook:
    """The logbook with one more trial.  *time* is when it is recorded, with its offset from UTC.

    Raises:
        UsageError: if the outcome contradicts the symptoms or the hours.
        ValueError: if *time* has no offset.
    """
    trial = Trial(
        number=logbook.next_number,
        time=_to_the_second(time),
        settings=dict(settings),
        outcome=outcome,
        symptoms=tuple(dict.fromkeys(symptoms)),
        hours=hours,
        scores=tuple(scores),
        readings=tuple(readings),
        repaired=tuple(dict.fromkeys(repaired)),
        note=_with_plain_line_ends(note),
    )
    if trial.contradiction is not None:
        raise UsageError(trial.contradiction[1])
    return replace(logbook, trials=(*logbook.trials, trial))


def withdraw(logbook: Logbook) -> Logbook:
    """The logbook with its last standing trial marked as withdrawn.

    Raises:
        UsageError: if no trial stands.
    """
    if not logbook.standing:
        raise UsageError("there is no trial to withdraw")
    last = logbook.standing[-1]
    trials = (replace(trial, withdrawn=True) if trial is last else trial for trial in logbook.trials)
    return replace(logbook, trials=tuple(trials))


def offer(
    logbook: Logbook,
    *,
    time: datetime,
    settings: Choices,
    mode: Mode,
    reason: str = "",
    hours: Exact | None = None,
) -> Logbook:
    """The logbook with a new offer in place of the old, made at *time*, which tells its offset from UTC.

    Raises:
        ValueError: if *time* has no offset.
    """
    offered = Offer(
        number=logbook.next_number,
        time=_to_the_second(time),
        settings=dict(settings),
        mode=mode,
        reason=_with_plain_line_ends(reason),
        hours=hours,
    )
    return replace(logbook, offer=offered)


def _to_the_second(time: datetime) -> datetime:
    """*time* as a file keeps it: with a fixed offset in place of the rules of a time zone."""
    offset = time.utcoffset()
    if offset is None:
        raise ValueError("a trial needs a time with its offset from UTC")
    return time.replace(tzinfo=timezone(offset), microsecond=0)


def _with_plain_line_ends(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")


# ---------------------------------------------------------------------------------- changed machines


def misfits(settings: Choices, options: Sequence[OptionDef]) -> tuple[str, ...]:
    """Where *settings* are not a combination of *options*: unknown options and choices, options left out."""
    known = {option.id: {choice.id for choice in option.choices} for option in options}
    return (
        *(f"the machine has no option {name!r}" for name in settings if name not in known),
        *(
            f"option {name!r} has no choice {choice!r}"
            for name, choice in settings.items()
            if name in known and choice not in known[name]
        ),
        *(f"no choice is told for option {name!r}" for name in known if name not in settings),
    )


def warnings(logbook: Logbook, options: Sequence[OptionDef]) -> tuple[str, ...]:
    """What the owner should know of standing trials, and of a pending offer, that *options* no longer match.

    Such trials stay in the logbook as they are.  One line for each thing, with the trials that it is about.
    """
    places: dict[str, list[str]] = {}
    for trial in logbook.standing:
        for misfit in misfits(trial.settings, options):
            places.setdefault(misfit, []).append(str(trial.number))
    lines = [f"{_listed(numbers)}: {misfit}; kept as it is" for misfit, numbers in places.items()]
    if logbook.pending is not None:
        lines += [f"the trial on offer: {misfit}" for misfit in misfits(logbook.pending.settings, options)]
    return tuple(lines)


def _listed(numbers: Sequence[str]) -> str:
    if len(numbers) == 1:
        return f"trial {numbers[0]}"
    more = f" and {len(numbers) - 4} more" if len(numbers) > 5 else ""
    return f"trials {', '.join(numbers[:4] if more else numbers)}{more}"
