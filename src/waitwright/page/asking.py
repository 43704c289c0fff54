"""Every question that the page asks the api, with what it is called while it is worked out."""

from __future__ import annotations

from datetime import datetime

from waitwright.api.check import check
from waitwright.api.controls import controls
from waitwright.api.logbook import logbook
from waitwright.api.next_trial import next_trial
from waitwright.api.opening import Question
from waitwright.api.rank import Wish, rank
from waitwright.api.shares import shares
from waitwright.api.suspect import suspect
from waitwright.api.swap import swap
from waitwright.api.why import why
from waitwright.page.answers import Ask, Told
from waitwright.report.controls_view import ControlsView
from waitwright.report.logbook_view import LogbookView
from waitwright.report.picture_views import SharesView
from waitwright.report.swap_views import SwapsView
from waitwright.report.trial_views import NextView, SuspectsView
from waitwright.report.views import CheckView, RankView, WhyView
from waitwright.search.bestfirst import SearchObserver
from waitwright.trials.planner import Mode


def ask_controls(question: Question) -> Ask[ControlsView]:
    """What can be chosen."""
    return Ask(("controls", question), lambda told: controls(question), "Reading the profile")


def ask_check(question: Question) -> Ask[CheckView]:
    """Every margin."""
    return Ask(("check", question), lambda told: check(question), "Adding up the delays")


def ask_logbook(question: Question) -> Ask[LogbookView]:
    """Every trial."""
    return Ask(("logbook", question), lambda told: logbook(question), "Reading the logbook")


def ask_suspects(question: Question) -> Ask[SuspectsView]:
    """What is not a matter of timing."""
    return Ask(("suspects", question), lambda told: suspect(question), "Weighing the suspects")


def ask_why(question: Question, hours: float, workload: str | None) -> Ask[WhyView]:
    """One combination, taken apart."""
    return Ask(
        ("why", question, hours, workload),
        lambda told: why(question, hours=hours, workload=workload),
        "Taking the settings apart",
    )


def ask_shares(question: Question, workload: str | None) -> Ask[SharesView]:
    """Where the time goes, now and with what is asked about."""
    return Ask(
        ("shares", question, workload),
        lambda told: shares(question, workload=workload),
        "Adding up the time",
    )


def ask_next(question: Question, mode: Mode, workload: str | None) -> Ask[NextView]:
    """The trial to make now; it is noted in the logbook as the one on offer."""
    return Ask(
        ("next", question, mode, workload),
        lambda told: next_trial(question, now=datetime.now().astimezone(), mode=mode, workload=workload),
        "Planning the next trial",
        slow=True,
    )


def ask_rank(question: Question, wish: Wish) -> Ask[RankView]:
    """The fastest settings."""
    return Ask(
        ("rank", question, wish),
        lambda told: rank(question, wish, _Progress(told)),
        "Searching all combinations",
        slow=True,
    )


def ask_swap(question: Question, *, odds: float, workload: str | None, market: bool) -> Ask[SwapsView]:
    """Which part buys most."""
    return Ask(
        ("swap", question, odds, workload, market),
        lambda told: swap(question, odds=odds, workload=workload, market=market, told=told),
        "Judging exchanges of parts",
        slow=True,
    )


class _Progress(SearchObserver):
    """Tells how many of how many branches are opened."""

    def __init__(self, told: Told) -> None:
        self._told = told

    def opened(self, conditions: int, of: int) -> None:
        """Pass it on."""
        self._told(conditions, of)
