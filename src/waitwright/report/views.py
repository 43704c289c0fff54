"""What each command answers, as plain data: one view feeds text, JSON and HTML."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from waitwright.report.help_views import HelpView
from waitwright.report.margin_view import BudgetView, ConflictView, Json, LimitView, RuleMargin


@dataclass(frozen=True, slots=True)
class SettingView:
    """One line of the setup screen, or one jumper, in the owner's words."""

    option: str
    choice: str
    label: str
    choice_label: str
    kind: str
    inert: bool = False


@dataclass(frozen=True, slots=True)
class CautionView:
    """A safety note."""

    id: str
    text: str

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {"id": self.id, "text": self.text}


@dataclass(frozen=True, slots=True)
class CheckView:
    """Answer of ``check``: clocks, parameters and every margin of the settings."""

    machine: str
    title: str
    note: str
    board: str
    clocks: Mapping[str, float]
    settings: tuple[SettingView, ...]
    parameters: Mapping[str, float | str | bool | None]
    budgets: tuple[BudgetView, ...]
    limits: tuple[LimitView, ...]
    conflicts: tuple[ConflictView, ...]
    cautions: tuple[CautionView, ...]
    odds: float | None
    hours: float | None

    @property
    def stands(self) -> bool:
        """True when nothing that decides is broken by rated values."""
        return not self.conflicts and all(rule.rated != "falls short" or rule.advisory for rule in self.rules)

    @property
    def rules(self) -> tuple[RuleMargin, ...]:
        """Every budget and limit."""
        return (*self.budgets, *self.limits)

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "machine": self.machine,
            "title": self.title,
            "board": self.board,
            "clocks": dict(self.clocks),
            "settings": {setting.option: setting.choice for setting in self.settings},
            "inert": [setting.option for setting in self.settings if setting.inert],
            "parameters": dict(self.parameters),
            "budgets": [budget.to_dict() for budget in self.budgets],
            "limits": [limit.to_dict() for limit in self.limits],
            "conflicts": [conflict.to_dict() for conflict in self.conflicts],
            "cautions": [caution.to_dict() for caution in self.cautions],
            "odds": self.odds,
            "soak_h": self.hours,
        }


@dataclass(frozen=True, slots=True)
class ChangeView:
    """One changed option of a proposal.

    Attributes:
        origin: Choice id now; ``goal``: choice id proposed.  The labels are the owner's words.
        share: Part of the gain that this change brings; the shares of all changes add up to the gain.
        reason: What it buys and what it costs, in one or two sentences.
    """

    option: str
    origin: str
    goal: str
    label: str
    origin_label: str
    goal_label: str
    kind: str
    share: float
    reason: str

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "option": self.option,
            "from": self.origin,
            "to": self.goal,
            "label": self.label,
            "from_label": self.origin_label,
            "to_label": self.goal_label,
            "kind": self.kind,
            "share": self.share,
            "reason": self.reason,
        }


@dataclass(frozen=True, slots=True)
class TightView:
    """A budget or limit with little left over, for the list under a proposal; ``margin`` is in ``unit``."""

    id: str
    title: str
    margin: float
    unit: str
    odds: float | None = None

    @property
    def margin_ns(self) -> float | None:
        """The margin of a budget; None for a limit, which is not told in nanoseconds."""
        return self.margin if self.unit == "ns" else None

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "id": self.id,
            "title": self.title,
            "margin_ns": self.margin_ns,
            "margin": self.margin,
            "unit": self.unit,
            "odds": self.odds,
        }


@dataclass(frozen=True, slots=True)
class ResultView:
    """One proposed combination.  ``gain``: speed over the current settings minus one (0.12 = 12 % faster)."""

    settings: Mapping[str, str]
    changes: tuple[ChangeView, ...]
    gain: float
    odds: float | None
    tightest: tuple[TightView, ...]
    reasons: tuple[str, ...]

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "settings": dict(self.settings),
            "changes": [change.to_dict() for change in self.changes],
            "gain": self.gain,
            "odds": self.odds,
            "tightest": [tight.to_dict() for tight in self.tightest],
            "reasons": list(self.reasons),
        }


@dataclass(frozen=True, slots=True)
class SpaceView:
    """Size of the search space: all combinations, those that the rules allow, sizes of the groups.

    ``legal`` counts what exact requirements (and, by rated verdicts, all limits) allow; None where counting
    would take too long.
    """

    raw: int
    legal: int | None
    groups: tuple[int, ...]
    conditions: int

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "raw": self.raw,
            "legal": self.legal,
            "groups": list(self.groups),
            "conditions": self.conditions,
        }


@dataclass(frozen=True, slots=True)
class RankView:
    """Answer of ``rank``.

    ``own_scores`` tells how many runs of the owner's the speeds come from, 0 for those of the named work.
    ``incurable`` are rules that every combination breaks, where none is found: a part has to change.
    ``listing`` is ``worthwhile`` where combinations that another one beats in speed, odds and number of
    changes are left out, else ``every speed``.
    """

    machine: str
    title: str
    workload: str
    rated: bool
    wanted_odds: float | None
    space: SpaceView
    baseline_settings: Mapping[str, str]
    baseline_odds: float | None
    baseline_stands: bool
    results: tuple[ResultView, ...]
    verdict: str
    bound_gain: float | None
    cautions: tuple[CautionView, ...]
    elapsed_s: float
    hours: float | None = None
    listing: str = "worthwhile"
    apart: float = 0.0
    curve: tuple[ResultView, ...] = ()
    curve_complete: bool = True
    own_scores: int = 0
    incurable: tuple[ConflictView, ...] = ()

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "machine": self.machine,
            "title": self.title,
            "workload": self.workload,
            "own_scores": self.own_scores,
            "rated": self.rated,
            "wanted_odds": self.wanted_odds,
            "space": self.space.to_dict(),
            "baseline": {
                "settings": dict(self.baseline_settings),
                "odds": self.baseline_odds,
                "stands": self.baseline_stands,
            },
            "results": [result.to_dict() for result in self.results],
            "verdict": self.verdict,
            "bound_gain": self.bound_gain,
            "incurable": [rule.to_dict() for rule in self.incurable],
            "cautions": [caution.to_dict() for caution in self.cautions],
            "elapsed_s": self.elapsed_s,
            "soak_h": self.hours,
            "listing": self.listing,
            "apart": self.apart,
            "curve": [point.to_dict() for point in self.curve],
            "curve_complete": self.curve_complete,
        }


@dataclass(frozen=True, slots=True)
class WhyView:
    """Answer of ``why`` for one combination: what falls short, what is tight, what cannot stand together.

    ``gain`` is the speed of *settings* over the current ones minus one, for ``workload``; ``odds`` are
    those of a soak test of ``hours``.
    """

    machine: str
    title: str
    settings: Mapping[str, str]
    changes: tuple[ChangeView, ...]
    workload: str
    gain: float
    odds: float | None
    hours: float
    short: tuple[RuleMargin, ...]
    tight: tuple[RuleMargin, ...]
    conflicts: tuple[ConflictView, ...]
    unchecked: tuple[str, ...]
    stands: bool
    symptoms: tuple[str, ...]
    cautions: tuple[CautionView, ...]
    help: HelpView = field(default_factory=HelpView)

    @property
    def can_hold(self) -> bool:
        """False where choices shut each other out, or a rated limit is missed and the odds are too low.

        Data-sheet limits alone rule nothing out: most parts do better.  Nor do low odds alone, as long as
        every part is promised to do what is asked of it.
        """
        return not self.conflicts and (self.stands or (self.odds or 0.0) >= self.help.wanted)

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "machine": self.machine,
            "title": self.title,
            "settings": dict(self.settings),
            "changes": [change.to_dict() for change in self.changes],
            "workload": self.workload,
            "gain": self.gain,
            "odds": self.odds,
            "soak_h": self.hours,
            "short": [rule.to_dict() for rule in self.short],
            "tight": [rule.to_dict() for rule in self.tight],
            "conflict_rules": [conflict.to_dict() for conflict in self.conflicts],
            "unchecked": list(self.unchecked),
            "stands": self.stands,
            "can_hold": self.can_hold,
            "symptoms": list(self.symptoms),
            "cautions": [caution.to_dict() for caution in self.cautions],
            **self.help.to_dict(),
        }


@dataclass(frozen=True, slots=True)
class RuleView:
    """One rule or part for ``rules``."""

    id: str
    kind: str
    title: str
    source: str
    basis: str
    detail: tuple[str, ...] = ()

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "id": self.id,
            "kind": self.kind,
            "title": self.title,
            "source": self.source,
            "basis": self.basis,
            "detail": list(self.detail),
        }


@dataclass(frozen=True, slots=True)
class RulesView:
    """Answer of ``rules``."""

    rules: tuple[RuleView, ...]
    findings: tuple[str, ...] = ()

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {"rules": [rule.to_dict() for rule in self.rules], "findings": list(self.findings)}
