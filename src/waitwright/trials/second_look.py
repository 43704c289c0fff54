"""What to try next, and what to ask before trials end: whether the catalogue might be wrong.

Once nothing is worth another evening although something has failed, the failure is weighed again with parts
that differ more than the catalogue says.  By the catalogue's narrow spreads one failure condemns all that
shares a part with it; parts that differ more leave some of that open, and it may be worth a trial after all.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from waitwright.trials.planner import Mode, Plan, Planner
from waitwright.trials.shortlist import Shortlist
from waitwright.trials.standing import Standing
from waitwright.workload.model import EventTable

DOUBT = 2.0
"""How far parts vary in the second look, against the catalogue's word (assumption)."""


def planner_of(belief: Standing, shortlist: Shortlist, events: Sequence[EventTable]) -> Planner:
    """The planner on top of a *belief*."""
    return Planner(belief.outlook, shortlist, events, faults=belief.fault_survivals)


def plan_next(
    belief: Standing,
    shortlist: Shortlist,
    events: Sequence[EventTable],
    doubted: Callable[[], Standing],
    mode: Mode = "jump",
) -> Plan:
    """The next trial by *belief*; where that has none of value after a failure, by a more doubtful one.

    Args:
        doubted: The same evidence with parts that vary :data:`DOUBT` times as far; asked only if needed.
    """
    tried = belief.tried
    plan = planner_of(belief, shortlist, events).plan(tried, mode)
    if _worthy(plan) or all(one.passed for one in tried):
        return plan
    second = planner_of(doubted(), shortlist, events).plan(tried, mode, proven=plan.proven)
    return replace(second, spread=DOUBT) if _worthy(second) else plan


def _worthy(plan: Plan) -> bool:
    """Whether there is more to do than to confirm what is proven."""
    return plan.trial is not None and plan.trial.value > 0
