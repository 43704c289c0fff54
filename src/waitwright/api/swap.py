"""``swap``: which part, own spares first, buys most."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from waitwright.api.check import cautions
from waitwright.api.opening import Question, find_workload, logbook_of, put_on_bench
from waitwright.api.scoring import own_pricing
from waitwright.errors import UsageError
from waitwright.explain.exchange import EMPTY
from waitwright.explain.figures import listed
from waitwright.explain.incurable import incurable
from waitwright.explain.spares import Exchange, from_market, from_spares, stock_of
from waitwright.explain.swaps import Verdict, Wanted, judge_exchanges
from waitwright.machine import FactTable, Machine
from waitwright.report.margin_view import conflict_view
from waitwright.report.swap_views import ExchangeView, PairsView, SwapsView, SwapView
from waitwright.rulebook.domain import Part
from waitwright.timing.soak import DEFAULT_SOAK_HOURS
from waitwright.workload.gain import Pricer, gain


def swap(
    question: Question,
    *,
    odds: float = 0.9,
    hours: float = DEFAULT_SOAK_HOURS,
    workload: str | None = None,
    market: bool = False,
    told: Callable[[int, int], None] = lambda done, of: None,
) -> SwapsView:
    """What each exchange of parts would bring.

    Args:
        market: Look at the grades of the catalogue in place of the owner's spares.
        told: Called with how many of how many exchanges are judged.

    Raises:
        InputError: if machine, rules or wishes are faulty, or there are no spares to look at.
    """
    bench = put_on_bench(question)
    machine = replace(bench.machine, current=bench.settings)
    work = find_workload(machine.rulebook, workload)
    exchanges = from_market(machine) if market else from_spares(machine)
    if not exchanges:
        raise UsageError(
            f"{question.machine}: the profile lists no spares that fit; add [[spare]] entries, or look at "
            "the catalogue with --market"
        )
    prices = own_pricing(logbook_of(question.machine), machine, work)
    wanted = Wanted(prices, odds, hours, question.seed)
    stock = None if market else stock_of(machine)
    base, verdicts, pairs = judge_exchanges(
        machine, exchanges, wanted, every_pair=not market, stock=stock, told=told
    )
    now = Pricer(machine, prices(machine)).total(machine.current)
    barred = incurable(machine, bench.rules) if base is None else ()
    return SwapsView(
        machine=machine.name,
        title=machine.title,
        workload=work.id,
        wanted_odds=odds,
        source="catalogue" if market else "spares",
        best_gain=None if base is None else round(gain(now, base.cost), 6),
        swaps=tuple(swap_view(machine, verdict) for verdict in verdicts),
        pairs=PairsView(pairs.judged, pairs.bounded, pairs.left),
        cautions=cautions(machine, FactTable(machine, machine.current), "swap"),
        incurable=tuple(map(conflict_view, barred)),
    )


def swap_view(machine: Machine, verdict: Verdict) -> SwapView:
    """A verdict as plain data."""
    return SwapView(
        exchanges=tuple(view for one in verdict.exchanges for view in _exchange_views(machine, one)),
        gain=None if verdict.best is None else round(verdict.gain, 6),
        extra=None if verdict.best is None else round(verdict.extra, 6),
        odds=None if verdict.best is None else round(verdict.best.odds, 6),
        opens=tuple(f"{label}: {old} -> {new}" for label, old, new in verdict.opened)
        if verdict.useful
        else (),
        verdict=_word(verdict),
    )


def _word(verdict: Verdict) -> str:
    if verdict.best is None:
        return "nothing holds"
    if verdict.rescue:
        return "makes it hold"
    if verdict.useful:
        return "faster"
    return "slower" if verdict.extra < -0.001 else "changes nothing"


def _exchange_views(machine: Machine, exchange: Exchange) -> list[ExchangeView]:
    old: dict[str, list[Part]] = {}
    for item in machine.fitted:
        old.setdefault(str(item.slot), []).append(item.part)
    slots = {str(slot.id): slot for slot in machine.board.slots}
    parts = machine.rulebook.parts
    return [
        ExchangeView(
            slot,
            slots[slot].title,
            old[slot][0].id if slot in old else "",
            listed([one.title for one in old.get(slot, ())]),
            "" if part == EMPTY else part,
            "" if part == EMPTY else parts[part].title,
            0 if part == EMPTY else slots[slot].chips,
        )
        for slot, part in exchange.slots.items()
    ]
