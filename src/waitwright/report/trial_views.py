"""What ``next``, ``record`` and ``suspect`` answer, as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from waitwright.report.margin_view import ConflictView, Json
from waitwright.report.score_views import CalibrationView, ClaimView
from waitwright.report.views import CautionView, ChangeView, SettingView

LIKELY = 0.02
"""Odds from which a suspect is shown to people whatever was measured."""


@dataclass(frozen=True, slots=True)
class TrialView:
    """A trial on offer.

    Attributes:
        id: Number that it will have in the logbook.
        hours: How long to run it.
        step: Speed over the proven settings minus one.
        settings: Every option in the owner's order and words; changed ones are in ``changes``.
        changes: Options that differ from the proven settings.
        soak: What to run, and for how long.
        watch: What to look out for, riskiest first.
        recover: How to get back if the machine does not start.
        reason: Why this trial.
        repeat: True when it repeats settings that passed, for longer, to be sure of them.
    """

    id: int
    settings: tuple[SettingView, ...]
    changes: tuple[ChangeView, ...]
    odds: float
    gain: float
    step: float
    hours: float
    soak: tuple[str, ...]
    watch: tuple[str, ...]
    recover: tuple[str, ...]
    reason: str
    repeat: bool

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "id": self.id,
            "settings": {setting.option: setting.choice for setting in self.settings},
            "changes": [change.to_dict() for change in self.changes],
            "odds": self.odds,
            "gain": self.gain,
            "step": self.step,
            "hours": self.hours,
            "soak": list(self.soak),
            "watch": list(self.watch),
            "recover": list(self.recover),
            "reason": self.reason,
            "repeat": self.repeat,
        }


@dataclass(frozen=True, slots=True)
class QueuedView:
    """A trial that may come after the one on offer."""

    changes: tuple[ChangeView, ...]
    odds: float
    gain: float

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "changes": [change.to_dict() for change in self.changes],
            "odds": self.odds,
            "gain": self.gain,
        }


@dataclass(frozen=True, slots=True)
class ProvenView:
    """The best settings so far.

    Attributes:
        gain: Speed over the settings of the profile minus one.
        sure: Probability that they are sound.
        stable: True once they passed and one is sure of them.
    """

    settings: Mapping[str, str]
    gain: float
    sure: float
    stable: bool

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {"settings": dict(self.settings), "gain": self.gain, "sure": self.sure, "stable": self.stable}


@dataclass(frozen=True, slots=True)
class NextView:
    """Answer of ``next``.

    Attributes:
        trial: None when no trial is worth an evening, or something should be measured first.
        lessons: What was concluded from the trials so far.
        warnings: What the owner should know of entries in the logbook that do not count.
        kept: Whether a trial is noted in the logbook as the one on offer.
        fitted: False where it was asked about parts that are not fitted.
        test: The measurement to make before any further trial, where there is to be one.
        verdict: ``trial``, ``done`` or ``measure``; ``none`` where no combination can hold.
        advice: What to do when there is no trial.
        incurable: Rules that every combination breaks: a part has to change before any trial.
    """

    machine: str
    title: str
    workload: str
    mode: str
    hours: float
    trial: TrialView | None
    queue: tuple[QueuedView, ...]
    proven: ProvenView
    fault: float
    lessons: tuple[str, ...]
    verdict: str
    advice: str
    kept: bool
    cautions: tuple[CautionView, ...]
    incurable: tuple[ConflictView, ...] = ()
    warnings: tuple[str, ...] = ()
    fitted: bool = True
    test: TestView | None = None

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "machine": self.machine,
            "title": self.title,
            "workload": self.workload,
            "mode": self.mode,
            "soak_h": self.hours,
            "trial": None if self.trial is None else self.trial.to_dict(),
            "queue": [queued.to_dict() for queued in self.queue],
            "proven": self.proven.to_dict(),
            "fault": self.fault,
            "lessons": list(self.lessons),
            "warnings": list(self.warnings),
            "test": None if self.test is None else self.test.to_dict(),
            "verdict": self.verdict,
            "advice": self.advice,
            "incurable": [rule.to_dict() for rule in self.incurable],
            "offer_kept": self.kept,
            "cautions": [caution.to_dict() for caution in self.cautions],
        }


@dataclass(frozen=True, slots=True)
class RecordView:
    """Answer of ``record``.

    Attributes:
        entry: Number of what was recorded or withdrawn.
        trial: The same where that is a trial; None when only readings, repairs or a note were recorded.
        outcome: ``stable``, ``failed`` or ``withdrawn``; ``noted`` for what is no trial.
        lessons: What it changed in belief, in sentences.
        claims: The new scores against earlier ones.
        calibration: What all scores of that kind say of the work; None where they are too few.
    """

    machine: str
    entry: int
    trial: int | None
    outcome: str
    logbook: str
    proven: ProvenView
    lessons: tuple[str, ...]
    warnings: tuple[str, ...]
    claims: tuple[ClaimView, ...] = ()
    calibration: CalibrationView | None = None

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "machine": self.machine,
            "entry": self.entry,
            "trial": self.trial,
            "outcome": self.outcome,
            "logbook": self.logbook,
            "proven": self.proven.to_dict(),
            "lessons": list(self.lessons),
            "warnings": list(self.warnings),
            "claims": [claim.to_dict() for claim in self.claims],
            "calibration": None if self.calibration is None else self.calibration.to_dict(),
        }


@dataclass(frozen=True, slots=True)
class TestView:
    """A measurement that would tell: how, what its readings mean, and how much it is expected to tell.

    Attributes:
        bands: What readings mean, in the unit of the meter where that is known.
        record: The command that puts a reading into the logbook.
        expected: What readings are compared with at the settings of the machine; empty where that is fixed.
    """

    id: str
    title: str
    how: str
    unit: str
    bands: tuple[str, ...]
    bits: float
    minutes: float
    record: str
    expected: str = ""

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "id": self.id,
            "title": self.title,
            "how": self.how,
            "unit": self.unit,
            "bands": list(self.bands),
            "bits": self.bits,
            "minutes": self.minutes,
            "record": self.record,
            "expected": self.expected,
        }


@dataclass(frozen=True, slots=True)
class SuspectView:
    """One suspect with the evidence for and against it.

    Attributes:
        found: Whether the latest reading at some place shows such a fault, and it was not mended since.
        mended: Whether it was mended before.
        mend: The command that tells of its repair.
    """

    id: str
    title: str
    odds: float
    prior: float
    signs: str
    evidence: tuple[str, ...]
    test: TestView | None
    remedy: str
    found: bool = False
    mended: bool = False
    mend: str = ""

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "id": self.id,
            "title": self.title,
            "odds": self.odds,
            "prior": self.prior,
            "signs": self.signs,
            "evidence": list(self.evidence),
            "test": None if self.test is None else self.test.to_dict(),
            "remedy": self.remedy,
            "found": self.found,
            "mended": self.mended,
            "mend": self.mend,
        }


@dataclass(frozen=True, slots=True)
class SuspectsView:
    """Answer of ``suspect``.

    Attributes:
        suspects: Most likely first.
        timing_odds: Probability that nothing but timing is the matter.
        next_test: The measurement that is expected to tell most for its minutes.
        failed: Whether the machine is known to have failed.
        hints: What else would tell of the last failure.
        warnings: What the owner should know of entries in the logbook that do not count.
    """

    machine: str
    title: str
    suspects: tuple[SuspectView, ...]
    timing_odds: float
    next_test: TestView | None
    lessons: tuple[str, ...]
    cautions: tuple[CautionView, ...]
    warnings: tuple[str, ...] = ()
    failed: bool = True
    hints: tuple[str, ...] = ()

    @property
    def due(self) -> bool:
        """Whether anything needs to be measured now."""
        return self.failed or any(one.found or one.odds >= LIKELY for one in self.suspects)

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "machine": self.machine,
            "title": self.title,
            "suspects": [suspect.to_dict() for suspect in self.suspects],
            "timing_odds": self.timing_odds,
            "failed": self.failed,
            "next_test": None if self.next_test is None else self.next_test.to_dict(),
            "due": self.due,
            "hints": list(self.hints),
            "lessons": list(self.lessons),
            "warnings": list(self.warnings),
            "cautions": [caution.to_dict() for caution in self.cautions],
        }
