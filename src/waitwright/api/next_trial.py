"""``next``: the trial to make now, and what stands behind it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from fractions import Fraction

from waitwright.api.check import cautions, setting_views, touched_rooms
from waitwright.api.lessons import lessons
from waitwright.api.opening import Question
from waitwright.api.results import change_view
from waitwright.api.suspect import next_test
from waitwright.api.trial_notes import trial_notes
from waitwright.api.trial_room import TrialRoom, enter
from waitwright.belief.evidence import joint_survivals
from waitwright.explain.figures import chance, several, signed_percent
from waitwright.explain.incurable import incurable
from waitwright.explain.reasons import Reasoner
from waitwright.explain.sentences import incurable_sentence
from waitwright.explain.verdicts import AnyBound
from waitwright.ids import ChoiceId, OptionId
from waitwright.machine import FactTable
from waitwright.report.margin_view import conflict_view
from waitwright.report.trial_views import NextView, ProvenView, QueuedView, TrialView
from waitwright.report.views import ChangeView
from waitwright.timing.soak import DEFAULT_SOAK_HOURS
from waitwright.trials.logbook import Logbook, call_off, offer
from waitwright.trials.planner import FAULT_STOPS, Candidate, Mode, Plan
from waitwright.workload.gain import Pricer

_NOTICEABLE = 0.02
"""Share of the odds below which it is not told what takes it."""

_OPEN = 0.6
"""Odds below which a trial is more of a question than of a step."""


def next_trial(
    question: Question,
    *,
    now: datetime,
    mode: Mode = "jump",
    hours: float = DEFAULT_SOAK_HOURS,
    workload: str | None = None,
    keep: bool = True,
) -> NextView:
    """The next trial; it is noted in the logbook as the one on offer.

    Where there is none to make, the one on offer is called off.  Nothing is noted for packed machines, and
    none for parts that are not fitted.

    Args:
        keep: Whether to note it; False only looks.

    Raises:
        InputError: if machine, rules, wishes or logbook are faulty.
    """
    room = enter(question, hours=hours, workload=workload)
    fault = room.standing.any_fault()
    failures = any(not one.passed for one in room.standing.tried)
    measure = failures and fault > FAULT_STOPS
    plan = room.plan(mode)
    barred = incurable(room.machine, room.bench.rules)
    trial = None if barred or measure or plan.trial is None else _trial_view(room, plan, plan.trial)
    book = room.logbook
    if keep and room.store is not None and not question.parts:
        book = room.store.change(lambda found: _noted(found, trial, mode, now))
    facts = FactTable(room.machine, plan.trial.settings if plan.trial else room.machine.current)
    return NextView(
        machine=room.machine.name,
        title=room.machine.title,
        workload=room.workload.id,
        mode=mode,
        hours=hours,
        trial=trial,
        queue=() if barred or measure else tuple(_queued(room, one) for one in plan.queue),
        proven=_proven(room, barred),
        fault=round(fault, 6),
        lessons=lessons(room),
        verdict="none" if barred else "measure" if measure else "done" if trial is None else "trial",
        advice=incurable_sentence(barred) or _advice(measure=measure, plan=plan),
        kept=room.store is not None and not question.parts,
        fitted=not question.parts,
        warnings=replace(room, logbook=book).warnings,
        test=next_test(room, question.machine) if measure else None,
        cautions=cautions(room.machine, facts, "next", _touched(room, trial)),
        incurable=tuple(map(conflict_view, barred)),
    )


def _noted(book: Logbook, trial: TrialView | None, mode: Mode, now: datetime) -> Logbook:
    """*book* with *trial* on offer, or with none where there is none to make."""
    if trial is None:
        return call_off(book)
    wanted = {OptionId(setting.option): ChoiceId(setting.choice) for setting in trial.settings}
    length = Fraction(str(trial.hours))
    return offer(book, time=now, settings=wanted, mode=mode, hours=length, reason=trial.reason)


def _proven(room: TrialRoom, barred: Sequence[AnyBound]) -> ProvenView:
    """The best settings so far; none are sound where a rule is broken whatever is set."""
    proven = room.proven()
    return replace(proven, sure=0.0, stable=False) if barred else proven


def _trial_view(room: TrialRoom, plan: Plan, candidate: Candidate) -> TrialView:
    notes = trial_notes(room, candidate.settings, candidate.changes, candidate.hours)
    return TrialView(
        id=room.logbook.next_number,
        settings=setting_views(replace(room.bench, settings=candidate.settings)),
        changes=_changes(room, candidate),
        odds=round(candidate.odds, 6),
        gain=round(candidate.gain, 6),
        step=round(_step(plan, candidate), 6),
        hours=candidate.hours,
        soak=notes.soak,
        watch=notes.watch,
        recover=notes.recover,
        reason=_reason(plan, candidate) + _beside_timing(room, plan, candidate),
        repeat=candidate.repeat,
    )


def _changes(room: TrialRoom, candidate: Candidate) -> tuple[ChangeView, ...]:
    """The changed options against the settings that it is a change of, with what each brings."""
    base = replace(room.machine, current=dict(candidate.base))
    pricer = Pricer(base, room.events)
    reasoner = Reasoner(base, room.bench.rules, pricer, room.standing.outlook)
    return tuple(map(change_view, reasoner.changes(candidate.settings)))


def _queued(room: TrialRoom, candidate: Candidate) -> QueuedView:
    return QueuedView(_changes(room, candidate), round(candidate.odds, 6), round(candidate.gain, 6))


def _step(plan: Plan, candidate: Candidate) -> float:
    """Speed of a candidate over the proven settings minus one."""
    return (1 + candidate.gain) / (1 + plan.proven.gain) - 1


def _touched(room: TrialRoom, trial: TrialView | None) -> frozenset[str]:
    """Rooms of the rulebook on which the changes of a trial bear."""
    changes = () if trial is None else trial.changes
    return touched_rooms(room.bench.rules, (OptionId(change.option) for change in changes))


def _reason(plan: Plan, candidate: Candidate) -> str:
    """Why this trial, in a sentence or two."""
    odds = f"holds with {chance(candidate.odds)}"
    if candidate.repeat:
        return (
            "These settings passed, but one soak does not tell a sound machine from a nearly sound one. "
            f"Use them for {candidate.hours:g} hours, day and night or in ordinary work: {odds}."
        )
    step = several(len(candidate.changes), "change")
    base = plan.proven.settings
    origin = "the proven settings" if candidate.base == base else "settings that passed before"
    faster = _step(plan, candidate)
    over = "them" if candidate.base == base else "the proven ones"
    reason = f"{step} from {origin}, {signed_percent(faster)} over {over}, {odds}."
    if faster <= 0:
        reason += " It brings nothing by itself; it opens the way to steps that do."
    if plan.spread > 1:
        return (
            f"{reason} That is, if parts differ {plan.spread:g} times as much as the catalogue says; by its "
            "word, what failed speaks against this as well. A long shot before the search ends: if it "
            "fails, it most likely fails early."
        )
    if candidate.odds < _OPEN:
        reason += " A failure would teach something too: it splits the question where it is open."
    return reason


def _beside_timing(room: TrialRoom, plan: Plan, candidate: Candidate) -> str:
    """What the odds would be but for suspects, where these take a noticeable part of them."""
    view = room.standing.outlook
    if plan.spread > 1:
        return ""
    [survival] = joint_survivals(room.machine, view.tables, [candidate.settings], view.cloud.draws)
    timing = float(view.cloud.weights @ survival ** (candidate.hours / view.hours))
    if timing - candidate.odds < _NOTICEABLE:
        return ""
    return f" By timing alone it would with {chance(timing)}; what else may be wrong takes the rest."


def _advice(*, measure: bool, plan: Plan) -> str:
    if measure:
        return (
            "Something beside timing is the more likely cause. "
            "Run 'suspect' and measure before any further trial."
        )
    if plan.trial is None:
        return (
            "Nothing worth another evening is left: "
            "what untried combinations are expected to bring does not repay another trial."
        )
    return ""
