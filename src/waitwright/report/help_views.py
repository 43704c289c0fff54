"""What cannot stand together and what would help, as plain data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class CitedRule:
    """A rule that a proof rests on, with its source."""

    id: str
    title: str
    source: str
    advice: str

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {"id": self.id, "title": self.title, "source": self.source, "advice": self.advice}


@dataclass(frozen=True, slots=True)
class ArgumentView:
    """One proof: its rules are enough, and its sentences tell case by case why."""

    rules: tuple[CitedRule, ...]
    sentences: tuple[str, ...]

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {"rules": [rule.to_dict() for rule in self.rules], "sentences": list(self.sentences)}


@dataclass(frozen=True, slots=True)
class ConflictSetView:
    """Choices and parts that cannot stand together: ``OPTION=CHOICE`` and ``part:SLOT=PART``."""

    members: tuple[str, ...]
    sentence: str
    arguments: tuple[ArgumentView, ...]

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "members": list(self.members),
            "sentence": self.sentence,
            "arguments": [argument.to_dict() for argument in self.arguments],
        }


@dataclass(frozen=True, slots=True)
class CorrectionView:
    """What to give up so that every conflict is lifted; ``phrase`` tells it in words."""

    members: tuple[str, ...]
    phrase: str


@dataclass(frozen=True, slots=True)
class RemedyView:
    """Something that cures.  ``gain``: speed against the combination as asked, minus one.

    ``kind`` is setting, jumper, clock (a slower one), mode (the board chooses), card, drive, chip, cpu, or
    pair for two changes.
    """

    kind: str
    change: str
    odds: float
    gain: float
    stands: bool
    sentence: str

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "kind": self.kind,
            "change": self.change,
            "odds": self.odds,
            "gain": self.gain,
            "stands": self.stands,
            "sentence": self.sentence,
        }


@dataclass(frozen=True, slots=True)
class TollView:
    """What one rule takes from the odds; the shares of all rules add up to 1."""

    id: str
    title: str
    odds: float
    share: float
    sentence: str

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {"id": self.id, "title": self.title, "odds": self.odds, "share": self.share}


@dataclass(frozen=True, slots=True)
class HelpView:
    """Why a combination cannot be, and what to do.

    Attributes:
        complete: True when these are all smallest conflicts.
        wish: Whether the asked choices stand together in some combination; None where unknown or where
            nothing was asked.
        reasons: A sentence for each rule that falls short, by rule id.
        remedies_complete: False where pairs with a part were left untried because they were too many.
        wanted: Odds that a remedy has to reach.
    """

    conflicts: tuple[ConflictSetView, ...] = ()
    corrections: tuple[CorrectionView, ...] = ()
    complete: bool = True
    wish: bool | None = None
    reasons: tuple[tuple[str, str], ...] = ()
    remedies: tuple[RemedyView, ...] = ()
    remedies_complete: bool = True
    survival: tuple[TollView, ...] = ()
    wanted: float = 0.9

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "conflicts": [list(conflict.members) for conflict in self.conflicts],
            "conflict_proofs": [conflict.to_dict() for conflict in self.conflicts],
            "conflicts_complete": self.complete,
            "corrections": [list(correction.members) for correction in self.corrections],
            "wish_stands": self.wish,
            "reasons": [{"id": rule, "sentence": sentence} for rule, sentence in self.reasons],
            "remedies": [remedy.to_dict() for remedy in self.remedies],
            "remedies_complete": self.remedies_complete,
            "wanted_odds": self.wanted,
            "survival": [toll.to_dict() for toll in self.survival],
        }
