"""What ``swap`` and ``reach`` answer, as plain data."""

from __future__ import annotations

from dataclasses import dataclass

from waitwright.report.margin_view import ConflictView, Json
from waitwright.report.views import CautionView, ResultView


@dataclass(frozen=True, slots=True)
class ExchangeView:
    """A part put in place of another.

    Attributes:
        place: The slot in the board's words.
        origin: What sits there now, and its title; empty where the slot is.
        goal: What goes there, and its title; empty where the part is only taken out.
        count: How many chips or modules the slot takes.
    """

    slot: str
    place: str
    origin: str
    origin_title: str
    goal: str
    title: str
    count: int

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "slot": self.slot,
            "place": self.place,
            "from": self.origin,
            "from_title": self.origin_title,
            "to": self.goal,
            "title": self.title,
            "count": self.count,
        }


@dataclass(frozen=True, slots=True)
class SwapView:
    """One or two exchanges and what they bring.

    Attributes:
        gain: Best speed after them over the settings now, minus one; None where nothing holds any more.
        extra: Best speed after them over the best speed with the parts now, minus one; over the settings
            now where nothing holds with those.
        opens: Options whose choice in the best settings changes, in words.
        verdict: ``faster``, ``slower``, ``changes nothing`` or ``nothing holds``; ``makes it hold`` where
            nothing holds without them.
    """

    exchanges: tuple[ExchangeView, ...]
    gain: float | None
    extra: float | None
    odds: float | None
    opens: tuple[str, ...]
    verdict: str

    def to_dict(self) -> Json:
        """Keys of the command contract; the first part that goes in stands on top, ``exchanges`` has all."""
        first = next(exchange for exchange in self.exchanges if exchange.goal)
        return {
            "slot": first.slot,
            "from": first.origin,
            "to": first.goal,
            "exchanges": [exchange.to_dict() for exchange in self.exchanges],
            "gain": self.gain,
            "extra": self.extra,
            "odds": self.odds,
            "opens": list(self.opens),
            "verdict": self.verdict,
        }


@dataclass(frozen=True, slots=True)
class PairsView:
    """How many pairs of exchanges were judged.

    Attributes:
        ruled_out: Pairs that cannot bring more than their better half, as a judged pair of parts as good or
            better in every figure does not.
        left: Pairs left aside, of which one half is neither the best of its kind by itself nor an idle CPU
            or clock generator.
    """

    judged: int
    ruled_out: int
    left: int

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {"judged": self.judged, "ruled_out": self.ruled_out, "left": self.left}


@dataclass(frozen=True, slots=True)
class SwapsView:
    """Answer of ``swap``: what each exchange of parts would bring, most useful first.

    ``incurable`` are rules that the parts now break whatever is set.
    """

    machine: str
    title: str
    workload: str
    wanted_odds: float
    source: str
    best_gain: float | None
    swaps: tuple[SwapView, ...]
    pairs: PairsView
    cautions: tuple[CautionView, ...]
    incurable: tuple[ConflictView, ...] = ()

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "machine": self.machine,
            "title": self.title,
            "workload": self.workload,
            "pairs": self.pairs.to_dict(),
            "wanted_odds": self.wanted_odds,
            "source": self.source,
            "best_gain": self.best_gain,
            "incurable": [rule.to_dict() for rule in self.incurable],
            "swaps": [swap.to_dict() for swap in self.swaps],
            "cautions": [caution.to_dict() for caution in self.cautions],
        }


@dataclass(frozen=True, slots=True)
class ReachView:
    """Answer of ``reach``.

    Attributes:
        target: What is wanted, in ``unit``; ``needed`` is the same as speed over the settings now minus one.
        results: The least risky settings that reach it first, then safer ones that come near.
        predicted: Score expected of the first result, and its 90 % interval; None without scores.
        swaps: Exchanges that would close the rest, where the target is out of reach.
        incurable: Rules that the parts now break whatever is set.
    """

    machine: str
    title: str
    workload: str
    target: float
    unit: str
    needed: float
    results: tuple[ResultView, ...]
    predicted: tuple[float, float, float] | None
    reached: bool
    verdict: str
    swaps: tuple[SwapView, ...]
    cautions: tuple[CautionView, ...]
    incurable: tuple[ConflictView, ...] = ()

    def to_dict(self) -> Json:
        """Keys of the command contract."""
        return {
            "machine": self.machine,
            "title": self.title,
            "workload": self.workload,
            "target": self.target,
            "unit": self.unit,
            "needed": self.needed,
            "results": [result.to_dict() for result in self.results],
            "predicted": None if self.predicted is None else list(self.predicted),
            "reached": self.reached,
            "incurable": [rule.to_dict() for rule in self.incurable],
            "verdict": self.verdict,
            "swaps": [swap.to_dict() for swap in self.swaps],
            "cautions": [caution.to_dict() for caution in self.cautions],
        }
