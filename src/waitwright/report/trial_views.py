"""What ``next``, ``record`` and ``suspect`` answer, as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from waitwright.report.margin_view import ConflictView, Json
from waitwright.report.score_views import CalibrationView, ClaimView
from waitwright.report.views import CautionView, ChangeView, SettingView


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
        trial: Number of the trial recorded or withdrawn; None when only readings were recorded.
        lessons: What it changed in belief, in sentences.
        claims: The new scores against earlier ones.
        calibration: What all scores of that kind say of the work; None where they are too few.
    """

    machine: str
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
    """A measurement that would tell: how, what its readings mean, and how much it is expected to tell."""

    id: str
    title: str
    how: str
    unit: str
    bands: tuple[str, ...]
    bits: float
    minutes: float
    record: str

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
        }


@dataclass(frozen=True, slots=True)
class SuspectView:
    """One suspect with the evidence for and against it."""

    id: str
    title: str
    odds: float
    prior: float
    signs: str
    evidence: tuple[str, ...]
    test: TestView | None
    remedy: str

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
        }


@dataclass(frozen=True, slots=True)
class SuspectsView:
    """Answer of ``suspect``.

    Attributes:
        suspects: Most likely first.
        timing_odds: Probability that nothing but timing is the matter.
        next_test: The measurement that is expected to tell most for its minutes.
    """

    machine: str
    title: str
    suspects: tuple[SuspectView, ...]
    timing_odds: float
    next_test: TestView | None
    lessons: tuple[str, ...]
    cautions: tuple[CautionView, ...]

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "machine": self.machine,
            "title": self.title,
            "suspects": [suspect.to_dict() for suspect in self.suspects],
            "timing_odds": self.timing_odds,
            "next_test": None if self.next_test is None else self.next_test.to_dict(),
            "lessons": list(self.lessons),
            "cautions": [caution.to_dict() for caution in self.cautions],
        }
