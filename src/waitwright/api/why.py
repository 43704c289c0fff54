"""``why``: what is short or tight for one combination, what cannot stand together, what would help."""

from __future__ import annotations

from waitwright.api.check import cautions, plain
from waitwright.api.helping import DEFAULT_WANTED, help_for
from waitwright.api.judging import judge
from waitwright.api.opening import Question, find_workload, logbook_of, put_on_bench
from waitwright.api.results import change_view
from waitwright.api.scoring import own_pricing
from waitwright.explain.reasons import Reasoner
from waitwright.machine import FactTable, parse_settings
from waitwright.report.margin_view import RuleMargin, worst_first
from waitwright.report.views import WhyView
from waitwright.timing.soak import DEFAULT_SOAK_HOURS
from waitwright.workload.gain import Pricer, gain


def why(
    question: Question,
    *,
    hours: float = DEFAULT_SOAK_HOURS,
    wanted: float = DEFAULT_WANTED,
    workload: str | None = None,
) -> WhyView:
    """Every budget and limit that falls short or is tight under the asked settings, and broken logic rules.

    Then the smallest conflicts, and remedies that reach the *wanted* odds.  Odds are those of a soak test
    of *hours*, speeds those of *workload*.

    Raises:
        InputError: if machine, rules or wishes are faulty.
    """
    bench = put_on_bench(question)
    machine, settings = bench.machine, bench.settings
    judged = judge(bench, seed=question.seed, hours=hours)
    work = find_workload(machine.rulebook, workload)
    prices = own_pricing(logbook_of(question.machine), machine, work)
    pricer = Pricer(machine, prices(machine))
    changes = Reasoner(machine, bench.rules, pricer).changes(settings)

    def rated(verdict: str) -> tuple[RuleMargin, ...]:
        return tuple(sorted((rule for rule in judged.rules if rule.rated == verdict), key=worst_first))

    return WhyView(
        machine=machine.name,
        title=machine.title,
        settings=plain(settings),
        changes=tuple(map(change_view, changes)),
        workload=work.id,
        gain=round(gain(pricer.total(machine.current), pricer.total(settings)), 6),
        odds=judged.odds,
        hours=hours,
        short=rated("falls short"),
        tight=rated("tight"),
        conflicts=judged.conflicts,
        unchecked=tuple(rule.id for rule in judged.rules if rule.rated == "unchecked"),
        stands=judged.margins.stands,
        symptoms=judged.margins.symptoms,
        cautions=cautions(machine, FactTable(machine, settings), "why"),
        help=help_for(
            bench,
            judged,
            prices,
            tuple(parse_settings(machine, question.sets)),
            wanted=wanted,
            hours=hours,
            seed=question.seed,
        ),
    )
