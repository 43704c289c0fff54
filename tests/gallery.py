"""A small invented machine in views: what pictures and sheets are drawn from in tests."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from waitwright.report.controls_view import SlotView
from waitwright.report.logbook_view import EntryView, LogbookView, StepView, TakenView
from waitwright.report.margin_view import BudgetView, DelayView, LimitView, RuleMargin
from waitwright.report.picture_views import EventShareView, MarkView, SharesView
from waitwright.report.sheet_view import SheetView, TaskView
from waitwright.report.trial_views import NextView, ProvenView, SuspectsView, SuspectView, TestView
from waitwright.report.views import CautionView, ChangeView, CheckView, ResultView, SettingView


def budget(name: str, has: float, needs: tuple[float, ...], **more: Any) -> BudgetView:
    """A budget of one window and some delays in ns, each of which usually takes three quarters."""
    spent = round(sum(needs), 2)
    margin = round(has - spent, 2)
    view = BudgetView(
        id=name,
        title=f"Path {name}: word out, word back",
        room="l2",
        available_ns=has,
        spent_ns=spent,
        margin_ns=margin,
        rated="falls short" if margin < 0 else "tight" if margin < has / 20 else "holds",
        odds=0.42 if margin < 0 else 0.998,
        windows=(DelayView("clocks of the read", "", has, "definition"),),
        delays=tuple(
            DelayView(f"delay {place} of {name}", "cpu", time, "sheet A", round(0.75 * time, 2))
            for place, time in enumerate(needs)
        ),
        symptoms=("hang",),
        advice="Give it one more clock.",
        source="sheet A, table 3",
        advisory=False,
        clock="host clock",
        period_ns=30.0,
        typical_ns=round(0.75 * spent, 2),
    )
    return replace(view, **more)


def limit(name: str, value: float, most: float, unit: str, **more: Any) -> LimitView:
    """A quantity with an upper bound."""
    margin = round(most - value, 3)
    view = LimitView(
        id=name,
        title=f"Limit {name}",
        room="cpu",
        value=value,
        limit=most,
        unit=unit,
        margin=margin,
        rated="falls short" if margin < 0 else "holds",
        odds=0.97,
        sense="at most",
        symptoms=("hang",),
        advice="",
        source="sheet B, p. 4",
        advisory=False,
    )
    return replace(view, **more)


BUDGETS = (
    budget("l2.tag", 60.0, (15.0, 6.5, 20.0, 16.0, 7.0)),
    budget("row.data", 90.0, (18.0, 70.0, 0.0)),
    budget("isa.read", 768.25, (10.0, 15.0, 90.0), clock="ISA bus clock", period_ns=139.68),
    budget("dma.card", 13000.0, (585.0, 1955.56), clock="", period_ns=None),
    budget("blank", 50.0, (20.0,), available_ns=None, margin_ns=None, rated="unchecked", odds=None),
)
LIMITS = (limit("core clock", 33.333, 33.333, "MHz"), limit("refreshed rows", 60.0, 15.625, "us"))
RULES: tuple[RuleMargin, ...] = (*BUDGETS, *LIMITS)

SETTINGS = (
    SettingView("host-clock", "33", "Oscillator", "33 MHz", "jumper"),
    SettingView("read", "2", "Rhythm of reads", "2-2-2-2", "setup"),
    SettingView("rows", "yes", "Rows left open", "yes", "setup"),
    SettingView("auto", "on", "Pace of the slots", "slow", "setup", inert=True),
)
CHANGES = (
    ChangeView("read", "3", "2", "Rhythm of reads", "3-2-2-2", "2-2-2-2", "setup", 0.31, "Buys 31 %."),
    ChangeView("rows", "no", "yes", "Rows left open", "no", "yes", "setup", 0.05, "Buys 5 %. Leaves 2 ns."),
)


def entry(number: int, gain: float | None, outcome: str, *symptoms: str, **more: Any) -> EntryView:
    """A trial in the logbook."""
    view = EntryView(
        number=number,
        time=f"2026-03-{number:02d}T21:40:00+01:00",
        settings={"read": "2"},
        steps=(StepView("read", "Rhythm of reads", "3-2-2-2", "2-2-2-2"),),
        gain=gain,
        fits=gain is not None,
        outcome=outcome,
        symptoms=symptoms,
        hours=4.0,
        scores=("36.1 points",) if outcome == "stable" else (),
        readings=(),
        repaired=(),
        note="",
        withdrawn=False,
    )
    return replace(view, **more)


ENTRIES = (
    entry(1, 0.18, "stable"),
    entry(2, 0.45, "failed", "memory-error", hours=0.5, note='with "<fast>" memory & all'),
    entry(3, 0.6, "stable", withdrawn=True),
    entry(4, 0.33, "stable", readings=(TakenView("ripple", "supply ripple", "60 mV", "fine"),)),
    entry(5, None, "stable"),
    entry(6, 0.36, "failed", "hang"),
)

TEST = TestView(
    "ripple",
    "supply ripple",
    "Measure at the CPU.",
    "mV",
    ("up to 50 mV: fine", "above: too much"),
    0.3,
    10.0,
    "--measure 'ripple=VALUE mV'",
)
SUSPECTS = SuspectsView(
    machine="attic",
    title="The attic machine",
    suspects=(
        SuspectView("ripple", "supply ripple at the CPU", 0.22, 0.04, "", ("hang",), TEST, "new capacitors"),
        SuspectView("contact", "dirty contact of a module", 0.01, 0.03, "", (), None, "clean it"),
        SuspectView("heat", "overheating", 0.0004, 0.02, "", (), None, "a fan"),
    ),
    timing_odds=0.76,
    next_test=TEST,
    lessons=(),
    cautions=(CautionView("mains", "Pull the mains plug."), CautionView("probe", "Cover the probe's tip.")),
)
SHARES = SharesView(
    workload="loops",
    title="Loops of integers",
    events=(
        EventShareView("core", "CPU at work", 180.0, 180.0),
        EventShareView("l2", "reads from the second-level cache", 92.4, 30.0),
        EventShareView("row", "memory rows opened for reads", 33.0, 21.5),
        EventShareView("refresh", "refresh, while the CPU waits", 0.9, 0.35),
    ),
    before_us=306.3,
    after_us=231.85,
    gain=0.321113,
    unknown=("display writes",),
)
CURVE = tuple(
    ResultView({}, (), gain, odds, (), ())
    for gain, odds in ((0.61, 0.55), (0.5, 0.97), (0.36, 0.992), (0.1, 0.99995))
)
MARKS = (MarkView("now", 0.0, 0.9996), MarkView("proven", 0.33, 0.995), MarkView("proposed", 0.36, 0.992))


def check(**more: Any) -> CheckView:
    """The answer of ``check`` for the attic machine."""
    view = CheckView(
        machine="attic",
        title="The attic machine",
        note="",
        board="Millpond: board with a cache",
        clocks={"host_mhz": 33.333, "core_mhz": 33.333, "isa_mhz": 7.159},
        settings=SETTINGS,
        parameters={},
        budgets=BUDGETS,
        limits=LIMITS,
        conflicts=(),
        cautions=(CautionView("advice", "All of this is advice."),),
        odds=0.9996,
        hours=4.0,
    )
    return replace(view, **more)


PROVEN = ProvenView({"read": "3"}, 0.33, 0.99, stable=True)
CARE = (CautionView("advice", "All of this is advice."), CautionView("mains", "Pull the mains plug."))


def sheet(**more: Any) -> SheetView:
    """The sheet of the attic machine, before its seventh trial."""
    task = TaskView(
        kind="trial",
        number=7,
        settings=SETTINGS,
        changes=CHANGES,
        gain=0.36,
        odds=0.88,
        hours=4.0,
        soak=("Run for 4 hours in all.",),
        watch=("hang: 'Path l2.tag'",),
        recover=("Write the present settings down.", "Load the default settings."),
        reason="2 changes from the proven settings.",
    )
    view = SheetView(
        machine="attic",
        title="The attic machine",
        made="2026-03-08 21:40",
        workload=("loops", "Loops of integers"),
        slots=(
            SlotView("cpu", "CPU socket", "386DX, 33 MHz", "", soldered=False, parts=()),
            SlotView("logic", "board logic", "gate array", "", soldered=True, parts=()),
        ),
        task=task,
        next=NextView(
            "attic",
            "The attic machine",
            "loops",
            "jump",
            4.0,
            None,
            (),
            PROVEN,
            0.2,
            ("Ripple is suspected.",),
            "trial",
            "",
            kept=True,
            cautions=CARE,
        ),
        now=check(),
        then=check(),
        short=("15.5 ns are left in 'Path l2.tag'; it needs 20 ns: short by 4.5 ns.",),
        curve=CURVE,
        marks=MARKS,
        shares=SHARES,
        logbook=LogbookView(
            machine="attic",
            title="The attic machine",
            path="attic.logbook.toml",
            entries=ENTRIES,
            proven=PROVEN,
            offer=7,
            mode="jump",
            next_number=7,
            warnings=(),
        ),
        suspects=SUSPECTS,
        cautions=CARE,
        measuring=(CautionView("probe", "Cover the probe's tip."),),
    )
    return replace(view, **more)
