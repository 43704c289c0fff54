"""The form for an outcome: what it is about, what stands in it already, and what was wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from waitwright.page.forms import Fields, one
from waitwright.report.logbook_view import LogbookView
from waitwright.report.trial_views import NextView, SuspectsView
from waitwright.timing.soak import DEFAULT_SOAK_HOURS


@dataclass(frozen=True, slots=True)
class Sheet:
    """A form to fill in.

    Attributes:
        sets: The settings that it is about, ``OPTION=CHOICE``; empty where it is about no trial.
        log: The logbook that it will be added to.
        hours: How long the machine was to run.
        measure: Measurement that stands chosen.
        given: What was typed, where the form comes back.
        errors: One clear line by field, where the form comes back.
    """

    sets: tuple[str, ...]
    log: LogbookView
    hours: float
    measure: str = ""
    given: Fields = field(default_factory=dict)
    errors: Mapping[str, str] = field(default_factory=dict)

    @property
    def number(self) -> int:
        """Number that the entry will have."""
        return self.log.next_number

    @property
    def unit(self) -> str:
        """Unit of the last score, which the next one most likely has too."""
        scores = [score for entry in self.log.entries if not entry.withdrawn for score in entry.scores]
        return scores[-1].split(" (")[0].partition(" ")[2] if scores else ""

    def value(self, name: str, otherwise: str = "") -> str:
        """What field *name* holds."""
        return one(self.given, name) if name in self.given else otherwise

    def has(self, name: str, value: str) -> bool:
        """Whether *value* is ticked in field *name*."""
        return value in self.given.get(name, ())


def trial_sheet(view: NextView, log: LogbookView) -> Sheet | None:
    """The form for the trial on offer; None where there is none."""
    if view.trial is None:
        return None
    sets = tuple(f"{setting.option}={setting.choice}" for setting in view.trial.settings)
    return Sheet(sets, log, view.trial.hours)


def reading_sheet(view: SuspectsView, log: LogbookView) -> Sheet:
    """The form for a reading, with the measurement that would tell most."""
    return Sheet((), log, DEFAULT_SOAK_HOURS, "" if view.next_test is None else view.next_test.id)
