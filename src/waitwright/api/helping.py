"""What cannot stand together on the bench, and what would help."""

from __future__ import annotations

from waitwright.api.judging import Judgement
from waitwright.api.opening import Bench
from waitwright.belief.cloud import Cloud
from waitwright.belief.outlook import outlook
from waitwright.explain.conflict import Argument, Conflict, ConflictFinder, Conflicts
from waitwright.explain.remedies import Healer
from waitwright.explain.remedy import Remedy
from waitwright.explain.telling import Teller
from waitwright.explain.toll import tolls
from waitwright.explain.verdicts import AnyBound
from waitwright.ids import OptionId, Settings
from waitwright.machine import Machine
from waitwright.report.help_views import (
    ArgumentView,
    CitedRule,
    ConflictSetView,
    CorrectionView,
    HelpView,
    RemedyView,
    TollView,
)
from waitwright.workload.gain import Pricer
from waitwright.workload.model import Pricing

DEFAULT_WANTED = 0.9
"""Odds that a remedy has to reach, the same as a ranking asks for."""

_WORTH_TELLING = 0.01
"""Least share of what is lost that a rule is told for."""


def help_for(
    bench: Bench,
    judged: Judgement,
    prices: Pricing,
    asked: tuple[OptionId, ...],
    *,
    wanted: float,
    hours: float,
    seed: int,
) -> HelpView:
    """Conflicts, corrections, remedies and tolls of the settings on the bench.

    Args:
        judged: The same settings judged.
        prices: What the work costs that speeds are told for.
        asked: The options that the question sets.
        wanted: Odds that a remedy has to reach.
    """
    teller = Teller(bench.machine)
    survival = _tolls(judged, teller)
    stands = judged.margins.stands
    if stands and (judged.odds is None or judged.odds >= wanted):
        return HelpView(wanted=wanted, survival=survival, wish=True if asked else None)
    found, wish = Conflicts((), (), complete=True), True if asked else None
    if not stands:
        finder = ConflictFinder(bench.machine, bench.rules, bench.settings)
        found, wish = finder.find(), finder.stands(asked) if asked else None
    healer = _healer(bench, prices, judged.cloud, wanted=wanted, hours=hours, seed=seed)
    remedies = healer.remedies()
    return HelpView(
        conflicts=tuple(_conflict(teller, conflict) for conflict in found.found),
        corrections=tuple(
            CorrectionView(tuple(one.words for one in given_up), teller.correction(given_up))
            for given_up in found.corrections
        ),
        complete=found.complete,
        wish=wish,
        reasons=tuple(
            (margin.bound.id, teller.verdict(margin, bench.settings)) for margin in judged.margins.short
        ),
        remedies=tuple(_remedy(teller, remedy) for remedy in remedies),
        remedies_complete=healer.complete,
        survival=survival,
        wanted=wanted,
    )


def _healer(
    bench: Bench, prices: Pricing, cloud: Cloud | None, *, wanted: float, hours: float, seed: int
) -> Healer:
    view = outlook(bench.machine, bench.rules, seed=seed, hours=hours, cloud=cloud)
    pricers: list[tuple[Machine, Pricer]] = []

    def price(machine: Machine, settings: Settings) -> int:
        pricer = next((pricer for known, pricer in pricers if known is machine), None)
        if pricer is None:
            pricer = Pricer(machine, prices(machine))
            pricers.append((machine, pricer))
        return pricer.total(settings)

    return Healer(bench.machine, bench.rules, bench.settings, view, wanted=wanted, price=price, seed=seed)


def _tolls(judged: Judgement, teller: Teller) -> tuple[TollView, ...]:
    titles = {rule.id: rule.title for rule in judged.rules}
    odds = {rule.id: rule.odds for rule in judged.rules if rule.odds is not None and not rule.advisory}
    return tuple(
        TollView(
            toll.rule,
            titles[toll.rule],
            toll.odds,
            round(toll.share, 6),
            teller.toll(toll, titles[toll.rule]),
        )
        for toll in tolls(odds)
        if toll.share >= _WORTH_TELLING
    )


def _conflict(teller: Teller, conflict: Conflict) -> ConflictSetView:
    return ConflictSetView(
        conflict.words,
        teller.conflict(conflict),
        tuple(_argument(teller, argument) for argument in conflict.arguments),
    )


def _argument(teller: Teller, argument: Argument) -> ArgumentView:
    return ArgumentView(tuple(map(_cited, argument.rules)), teller.argument(argument))


def _cited(bound: AnyBound) -> CitedRule:
    return CitedRule(bound.id, bound.title, bound.rule.provenance.source, bound.rule.advice)


def _remedy(teller: Teller, remedy: Remedy) -> RemedyView:
    return RemedyView(
        kind=remedy.tier if len(remedy.changes) == 1 else "pair",
        change=remedy.words,
        odds=round(remedy.odds, 6),
        gain=round(remedy.gain, 6),
        stands=remedy.stands,
        sentence=teller.remedy(remedy),
    )
