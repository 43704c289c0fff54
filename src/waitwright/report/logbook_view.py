"""The logbook as plain data: every trial with what was set, how it went and what was measured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from waitwright.report.margin_view import Json
from waitwright.report.trial_views import ProvenView
from waitwright.trials.logbook import Mode


@dataclass(frozen=True, slots=True)
class StepView:
    """One option that a trial had set otherwise than the profile, in the owner's words."""

    option: str
    label: str
    origin_label: str
    goal_label: str

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "option": self.option,
            "label": self.label,
            "from_label": self.origin_label,
            "to_label": self.goal_label,
        }


@dataclass(frozen=True, slots=True)
class TakenView:
    """What was measured: the value as the owner wrote it, and what it means."""

    id: str
    title: str
    value: str
    meaning: str

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {"id": self.id, "title": self.title, "value": self.value, "meaning": self.meaning}


@dataclass(frozen=True, slots=True)
class EntryView:
    """One trial, or what was measured, mended or noted between two.

    Attributes:
        outcome: ``stable`` or ``failed``; ``noted`` for what is no trial.
        time: When it was recorded, as in ``2026-01-31T18:30:00+01:00``.
        settings: Choice id of every option that the machine had then; empty where that was not told.
        steps: Options that differ from the profile; none where ``fits`` is False.
        gain: Speed over the settings of the profile minus one; None where ``fits`` is False.
        fits: False where the machine has other options by now.
        parts: Part ids by slot, where others were fitted than the profile lists; several where mixed.
        scores: As written: ``36.1 points``.
        repaired: Titles of the suspects that were mended before it.
        withdrawn: Recorded by mistake; counts for nothing.
    """

    number: int
    time: str
    settings: Mapping[str, str]
    steps: tuple[StepView, ...]
    gain: float | None
    fits: bool
    outcome: str
    symptoms: tuple[str, ...]
    hours: float | None
    scores: tuple[str, ...]
    readings: tuple[TakenView, ...]
    repaired: tuple[str, ...]
    note: str
    withdrawn: bool
    parts: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def is_trial(self) -> bool:
        """Whether settings were tried."""
        return self.outcome != "noted"

    @property
    def name(self) -> str:
        """``trial 3``, or ``entry 4`` for what is no trial."""
        return f"{'trial' if self.is_trial else 'entry'} {self.number}"

    @property
    def stable(self) -> bool:
        """Whether the machine passed."""
        return self.outcome == "stable"

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "number": self.number,
            "time": self.time,
            "settings": dict(self.settings),
            "changes": [step.to_dict() for step in self.steps],
            "gain": self.gain,
            "fits": self.fits,
            "outcome": self.outcome,
            "symptoms": list(self.symptoms),
            "hours": self.hours,
            "scores": list(self.scores),
            "readings": [reading.to_dict() for reading in self.readings],
            "repaired": list(self.repaired),
            "note": self.note,
            "withdrawn": self.withdrawn,
            "parts": {slot: list(parts) for slot, parts in self.parts.items()},
        }


@dataclass(frozen=True, slots=True)
class LogbookView:
    """All trials of one machine and what came between them, in the order in which they were recorded.

    Attributes:
        path: The file; empty for packed machines.
        offer: Number of the trial that waits for its outcome, and ``mode``: ``jump`` or ``single``; None
            where none does.
        next_number: Number that the next entry gets.
        warnings: What the owner should know of entries that do not count.
    """

    machine: str
    title: str
    path: str
    entries: tuple[EntryView, ...]
    proven: ProvenView
    offer: int | None
    mode: Mode | None
    next_number: int
    warnings: tuple[str, ...]

    @property
    def last(self) -> EntryView | None:
        """The last entry that counts, which an undo withdraws."""
        return next((entry for entry in reversed(self.entries) if not entry.withdrawn), None)

    @property
    def trials(self) -> tuple[EntryView, ...]:
        """The trials that count."""
        return tuple(entry for entry in self.entries if entry.is_trial and not entry.withdrawn)

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "machine": self.machine,
            "title": self.title,
            "path": self.path,
            "entries": [entry.to_dict() for entry in self.entries],
            "proven": self.proven.to_dict(),
            "offer": self.offer,
            "mode": self.mode,
            "next_number": self.next_number,
            "warnings": list(self.warnings),
        }
