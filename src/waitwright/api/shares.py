"""Where the time of a unit of work goes, before and after a change of settings."""

from __future__ import annotations

from fractions import Fraction

from waitwright.api.opening import Question, find_workload, put_on_bench
from waitwright.ids import Settings
from waitwright.machine import Machine
from waitwright.report.picture_views import EventShareView, SharesView
from waitwright.rulebook.domain import Workload
from waitwright.units import Exact, display
from waitwright.workload.model import EventTime, event_times


def shares(question: Question, *, workload: str | None = None) -> SharesView:
    """Time by event for *workload*: with the settings of the profile, and with those asked about.

    Raises:
        InputError: if machine, rules or wishes are faulty.
    """
    bench = put_on_bench(question)
    work = find_workload(bench.machine.rulebook, workload)
    return shares_of(bench.machine, work, dict(bench.machine.current), bench.settings)


def shares_of(machine: Machine, work: Workload, before: Settings, after: Settings) -> SharesView:
    """Time by event for *work* on *machine* under the settings *before* and *after*."""
    pairs = list(zip(event_times(machine, work, before), event_times(machine, work, after), strict=True))
    known = [(one, two) for one, two in pairs if one.total is not None and two.total is not None]
    first, second = _sum([one for one, _ in known]), _sum([two for _, two in known])
    events = [
        EventShareView(one.event.id, one.event.title, _us(one.total), _us(two.total))
        for one, two in known
        if one.total or two.total
    ]
    return SharesView(
        workload=work.id,
        title=work.title,
        events=tuple(sorted(events, key=lambda event: (-event.before_us, event.id))),
        before_us=_us(first),
        after_us=_us(second),
        gain=round(float(Fraction(first) / Fraction(second)) - 1, 6) if second else 0.0,
        unknown=tuple(one.event.title for one, two in pairs if one.total is None or two.total is None),
    )


def _sum(times: list[EventTime]) -> Exact:
    return sum((time.total or 0 for time in times), 0)


def _us(time: Exact | None) -> float:
    return display(time or 0, "us", 3)
