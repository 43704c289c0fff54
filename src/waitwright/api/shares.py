"""Where the time of a unit of work goes, before and after a change of settings."""

from __future__ import annotations

from fractions import Fraction

from waitwright.api.opening import Question, find_workload, logbook_of, put_on_bench
from waitwright.api.scoring import own_calibration
from waitwright.ids import Settings
from waitwright.machine import Machine
from waitwright.report.picture_views import EventShareView, SharesView
from waitwright.rulebook.domain import Event, Workload
from waitwright.units import Exact, display
from waitwright.workload.calibration import Calibration
from waitwright.workload.model import event_times


def shares(question: Question, *, workload: str | None = None) -> SharesView:
    """Time by event for *workload*: with the settings of the profile, and with those asked about.

    Raises:
        InputError: if machine, rules or wishes are faulty.
    """
    bench = put_on_bench(question)
    work = find_workload(bench.machine.rulebook, workload)
    calibration = own_calibration(logbook_of(question.machine), bench.machine, work)
    return shares_of(bench.machine, work, calibration, dict(bench.machine.current), bench.settings)


def shares_of(
    machine: Machine, work: Workload, calibration: Calibration | None, before: Settings, after: Settings
) -> SharesView:
    """Time by event for *work* on *machine* under the settings *before* and *after*.

    Args:
        calibration: What the owner's scores tell of the work; None where there are too few.
    """
    factors = {} if calibration is None else {rate.event.id: rate.median for rate in calibration.rates()}
    pairs = list(zip(event_times(machine, work, before), event_times(machine, work, after), strict=True))
    known: list[tuple[Event, Exact, Exact]] = []
    for one, two in pairs:
        if one.total is not None and two.total is not None:
            factor = Fraction(factors.get(one.event.id, 1))
            known.append((one.event, factor * one.total, factor * two.total))
    first = sum((Fraction(earlier) for _, earlier, _ in known), Fraction(0))
    second = sum((Fraction(later) for _, _, later in known), Fraction(0))
    events = [
        EventShareView(event.id, event.title, _us(earlier), _us(later))
        for event, earlier, later in known
        if earlier or later
    ]
    return SharesView(
        workload=work.id,
        title=work.title,
        events=tuple(sorted(events, key=lambda event: (-event.before_us, event.id))),
        before_us=_us(first),
        after_us=_us(second),
        gain=round(float(first / second) - 1, 6) if second else 0.0,
        unknown=tuple(one.event.title for one, two in pairs if one.total is None or two.total is None),
    )


def _us(time: Exact) -> float:
    return display(time, "us", 3)
