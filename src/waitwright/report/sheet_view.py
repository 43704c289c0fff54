"""All that goes on a machine's sheet, as plain data: the views of the commands, and what to enter next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from waitwright.report.controls_view import SlotView
from waitwright.report.logbook_view import EntryView, LogbookView
from waitwright.report.margin_view import Json
from waitwright.report.picture_views import MarkView, SharesView
from waitwright.report.trial_views import NextView, SuspectsView
from waitwright.report.views import CautionView, ChangeView, CheckView, ResultView, SettingView

TaskKind = Literal["trial", "asked", "proven"]

_LIKELY = 0.1
"""Odds from which on a suspect is worth a measurement."""


@dataclass(frozen=True, slots=True)
class TaskView:
    """The settings to enter.

    Attributes:
        kind: The next trial; settings that were asked for; or the proven ones where no trial is worth making.
        number: Number of the trial in the logbook; None where it is none.
        settings: Every option in the owner's order and words.
        changes: Options that differ from the proven settings.
        gain: Speed over the settings of the profile minus one.
        odds: Probability of passing.
        reason: Why these, in a sentence or two.
    """

    kind: TaskKind
    number: int | None
    settings: tuple[SettingView, ...]
    changes: tuple[ChangeView, ...]
    gain: float
    odds: float | None
    hours: float
    soak: tuple[str, ...]
    watch: tuple[str, ...]
    recover: tuple[str, ...]
    reason: str

    @property
    def lines(self) -> tuple[tuple[SettingView, ChangeView | None], ...]:
        """Each setting with its change, if it is one of those to make."""
        changed = {change.option: change for change in self.changes}
        return tuple((setting, changed.get(setting.option)) for setting in self.settings)

    def to_dict(self) -> Json:
        """Plain data."""
        return {
            "kind": self.kind,
            "number": self.number,
            "settings": {setting.option: setting.choice for setting in self.settings},
            "changes": [change.to_dict() for change in self.changes],
            "gain": self.gain,
            "odds": self.odds,
            "hours": self.hours,
            "soak": list(self.soak),
            "watch": list(self.watch),
            "recover": list(self.recover),
            "reason": self.reason,
        }


@dataclass(frozen=True, slots=True)
class SheetView:
    """A machine's sheet.

    Attributes:
        made: When it was made: ``2026-03-01 21:40``.
        workload: Id and title of the kind of work that gains are told for.
        slots: What is fitted, place by place.
        now: The settings of the profile with their margins; ``then``: those to enter.
        short: For each rule that the settings to enter break by data sheet, why, in a sentence.
        curve: Speed against odds, the fastest first; ``marks`` says where some settings stand on it.
        cautions: What to take care of when settings are entered and tried.
        measuring: What else to take care of when something is measured or repaired.
    """

    machine: str
    title: str
    made: str
    workload: tuple[str, str]
    slots: tuple[SlotView, ...]
    task: TaskView
    next: NextView
    now: CheckView
    then: CheckView
    short: tuple[str, ...]
    curve: tuple[ResultView, ...]
    marks: tuple[MarkView, ...]
    shares: SharesView
    logbook: LogbookView
    suspects: SuspectsView
    cautions: tuple[CautionView, ...]
    measuring: tuple[CautionView, ...]

    @property
    def counted(self) -> tuple[EntryView, ...]:
        """The trials that count."""
        return self.logbook.trials

    @property
    def in_doubt(self) -> bool:
        """Whether a suspect is so likely that a measurement is worth its time before the next trial."""
        return self.next.verdict == "measure" or any(
            suspect.odds >= _LIKELY for suspect in self.suspects.suspects
        )

    def to_dict(self) -> Json:
        """Plain data."""
        return {
            "machine": self.machine,
            "title": self.title,
            "made": self.made,
            "workload": self.workload[0],
            "fit": {slot.slot: slot.now for slot in self.slots},
            "task": self.task.to_dict(),
            "next": self.next.to_dict(),
            "now": self.now.to_dict(),
            "then": self.then.to_dict(),
            "short": list(self.short),
            "curve": [point.to_dict() for point in self.curve],
            "marks": [mark.to_dict() for mark in self.marks],
            "shares": self.shares.to_dict(),
            "logbook": self.logbook.to_dict(),
            "suspects": self.suspects.to_dict(),
            "cautions": [caution.to_dict() for caution in self.cautions],
            "measuring": [caution.to_dict() for caution in self.measuring],
        }
