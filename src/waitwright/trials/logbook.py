"""The logbook: every trial of one machine, and what was measured or mended between them, as frozen objects.

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
from waitwright.ids import ChoiceId, OptionId, SlotId
from waitwright.rulebook.domain import Symptom
from waitwright.rulebook.profiles import FitDef, OptionDef
from waitwright.units import Exact

Outcome = Literal["stable", "failed"]
Mode = Literal["single", "jump"]
Choices = Mapping[OptionId, ChoiceId]
Parts = Mapping[SlotId, tuple[FitDef, ...]]
"""What sits in each slot whose parts can be exchanged, as a profile lists it."""

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
        printed: Value printed on it, in base units; None where that was not told.
    """

    name: str
    values: tuple[Exact, ...]
    unit: str
    where: str = ""
    printed: Exact | None = None


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
        parts: What was fitted then; None where that was not noted, and means the parts of the profile.
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
    parts: Parts | None = None

    @property
    def contradiction(self) -> tuple[str, str] | None:
        """What cannot be true together: the attribute at fault, and why; None where all is well."""
        if self.outcome == "stable" and self.symptoms:
            return "symptoms", "a stable trial shows no symptoms"
        if self.outcome == "stable" and self.hours == 0:
            return "hours", "a trial of no time at all cannot be stable"
        return None


@dataclass(frozen=True, slots=True)
class Aside:
    """What was measured, mended or noted between two trials; no trial itself.

    Attributes:
        number: Counts on from the entry before, trial or aside; never used twice.
        time: When it was recorded, with its offset from UTC.
        settings: The choice of every option at the time; None where that was not told, and means those of
            the trial before.
        repaired: Suspects that were mended, before the readings were taken.
        note: Free words, with Unix line ends.
        withdrawn: Recorded by mistake; kept, but counts for nothing.
    """

    number: int
    time: datetime
    settings: Choices | None = None
    readings: tuple[Reading, ...] = ()
    repaired: tuple[str, ...] = ()
    note: str = ""
    withdrawn: bool = False

    @property
    def empty(self) -> bool:
        """Whether it says nothing."""
        return not (self.readings or self.repaired or self.note)


Entry = Trial | Aside
"""One entry of a logbook."""


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
    """All trials of one machine and what came between them, in the order in which they were recorded.

    Attributes:
        machine: Name of the machine (file stem of its profile).
        entries: Trials and asides, numbered upwards.
        offer: The trial that was offered last, whether or not it has been recorded since.
    """

    machine: str
    entries: tuple[Entry, ...] = ()
    offer: Offer | None = None

    @property
    def trials(self) -> tuple[Trial, ...]:
        """The trials, the withdrawn ones too."""
        return tuple(entry for entry in self.entries if isinstance(entry, Trial))

    @property
    def counting(self) -> tuple[Entry, ...]:
        """The entries that count: all but the withdrawn."""
        return tuple(entry for entry in self.entries if not entry.withdrawn)

    @property
    def standing(self) -> tuple[Trial, ...]:
        """The trials that count."""
        return tuple(trial for trial in self.trials if not trial.withdrawn)

    def repairs(self, upto: int | None = None) -> Mapping[str, int]:
        """How often each suspect had been mended by entry *upto*; by now where that is None."""
        counted = (entry for entry in self.counting if upto is None or entry.number <= upto)
        return Counter(suspect for entry in counted for suspect in entry.repaired)

    @property
    def next_number(self) -> int:
        """Number of the next entry."""
        return self.entries[-1].number + 1 if self.entries else 1

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
    parts: Parts | None = None,
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
        parts=None if parts is None else dict(parts),
    )
    if trial.contradiction is not None:
        raise UsageError(trial.contradiction[1])
    return replace(logbook, entries=(*logbook.entries, trial))


def add_aside(
    logbook: Logbook,
    *,
    time: datetime,
    settings: Choices | None = None,
    readings: Iterable[Reading] = (),
    repaired: Iterable[str] = (),
    note: str = "",
) -> Logbook:
    """The logbook with one more entry that is no trial, recorded at *time*, which tells its offset from UTC.

    Raises:
        UsageError: if it says nothing.
        ValueError: if *time* has no offset.
    """
    aside = Aside(
        number=logbook.next_number,
        time=_to_the_second(time),
        settings=None if settings is None else dict(settings),
        readings=tuple(readings),
        repaired=tuple(dict.fromkeys(repaired)),
        note=_with_plain_line_ends(note),
    )
    if aside.empty:
        raise UsageError("without an outcome there is nothing to note but a reading, a repair or a note")
    return replace(logbook, entries=(*logbook.entries, aside))


def withdraw(logbook: Logbook) -> Logbook:
    """The logbook with its last entry that counts marked as withdrawn.

    Raises:
        UsageError: if none counts.
    """
    if not logbook.counting:
        raise UsageError("there is no trial to withdraw, nor anything else")
    last = logbook.counting[-1]
    entries = (replace(entry, withdrawn=True) if entry is last else entry for entry in logbook.entries)
    return replace(logbook, entries=tuple(entries))


def call_off(logbook: Logbook) -> Logbook:
    """The logbook without the offer that waits for its outcome, if any."""
    return logbook if logbook.pending is None else replace(logbook, offer=None)


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
    lines = [
        f"{listed(numbers)}: {misfit}; kept as it is, but not counted"
        for misfit, numbers in by_reason(
            (trial.number, misfits(trial.settings, options)) for trial in logbook.standing
        ).items()
    ]
    if logbook.pending is not None:
        lines += [f"the trial on offer: {misfit}" for misfit in misfits(logbook.pending.settings, options)]
    return tuple(lines)


def by_reason(found: Iterable[tuple[int, Iterable[str]]]) -> dict[str, list[int]]:
    """What was *found* of entries, each reason with the numbers that it holds for."""
    places: dict[str, list[int]] = {}
    for number, reasons in found:
        for reason in reasons:
            places.setdefault(reason, []).append(number)
    return places


def listed(numbers: Sequence[int], what: str = "trial") -> str:
    """``trial 3``, ``trials 1, 2``; of many the first few.  *what* is the word for one of them."""
    if len(numbers) == 1:
        return f"{what} {numbers[0]}"
    more = f" and {len(numbers) - 4} more" if len(numbers) > 5 else ""
    plural = what.removesuffix("y") + ("ies" if what.endswith("y") else "s")
    return f"{plural} {', '.join(map(str, numbers[:4] if more else numbers))}{more}"
