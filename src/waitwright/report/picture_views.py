"""What pictures show beyond margins, trials and suspects, as plain data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from waitwright.report.margin_view import Json

MarkKind = Literal["now", "proven", "proposed", "asked"]


@dataclass(frozen=True, slots=True)
class MarkView:
    """A combination to point at among others.  ``gain``: speed over the settings of the profile minus one."""

    kind: MarkKind
    gain: float
    odds: float | None

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {"kind": self.kind, "gain": self.gain, "odds": self.odds}


@dataclass(frozen=True, slots=True)
class EventShareView:
    """What one event takes of the time for 1000 instructions, in microseconds, before and after."""

    id: str
    title: str
    before_us: float
    after_us: float

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "id": self.id,
            "title": self.title,
            "before_us": self.before_us,
            "after_us": self.after_us,
        }


@dataclass(frozen=True, slots=True)
class SharesView:
    """Where the time for 1000 instructions of *workload* goes, before and after a change of settings.

    Attributes:
        events: The longest before first; events that take no time on either side are left out.
        unknown: Titles of events whose time is not known; they are in no figure.
        gain: Speed after over speed before, minus one.
    """

    workload: str
    title: str
    events: tuple[EventShareView, ...]
    before_us: float
    after_us: float
    gain: float
    unknown: tuple[str, ...] = ()

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "workload": self.workload,
            "title": self.title,
            "events": [event.to_dict() for event in self.events],
            "before_us": self.before_us,
            "after_us": self.after_us,
            "gain": self.gain,
            "unknown": list(self.unknown),
        }
