"""The planner: what it may offer, and that it stops; menus and look-ahead against plain reckoning."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache

import numpy as np
import pytest

from waitwright.api.opening import Bench, Question, find_workload, put_on_bench
from waitwright.belief.cloud import Cloud, cloud_at, prior_cloud
from waitwright.belief.outlook import Outlook
from waitwright.belief.survival import survivals
from waitwright.ids import Settings
from waitwright.search.compile import choice_numbers, compile_likely, settings_of
from waitwright.search.menu import Menu
from waitwright.search.problem import Problem
from waitwright.search.topk import fastest, frontier
from waitwright.timing.margins import margins
from waitwright.trials.ground import Ground
from waitwright.trials.logbook import Logbook, add
from waitwright.trials.lookahead import LATER, LONGER, SOUND, Ahead, telling_soak, worth
from waitwright.trials.planner import LAST_SOAK, SURE, Mode, Plan
from waitwright.trials.second_look import DOUBT, plan_next
from waitwright.trials.shortlist import Shortlist
from waitwright.trials.standing import Standing, standing
from waitwright.workload.gain import Pricer, gain
from waitwright.workload.model import event_tables

MACHINES = ("tollgate-386dx33", "tollgate-486dx2")
NOON = datetime(2026, 1, 31, 12, tzinfo=UTC)
MODES: tuple[Mode, ...] = ("jump", "single")


class Desk:
    """One packed machine with everything that planning needs."""

    def __init__(self, name: str) -> None:
        self.bench: Bench = put_on_bench(Question(name))
        self.machine, self.rules = self.bench.machine, self.bench.rules
        self.ground = Ground(self.machine, self.rules)
        self.events = event_tables(self.machine, find_workload(self.machine.rulebook, None))
        self.shortlist = Shortlist(self.ground, self.events, hours=4.0)
        self.pricer = Pricer(self.machine, self.events)

    def settings(self, values: tuple[int, ...]) -> Settings:
        """Choice numbers as settings."""
        return settings_of(self.machine, values)

    def gain(self, settings: Settings) -> float:
        """Speed over the current settings minus one."""
        return gain(self.pricer.total(self.machine.current), self.pricer.total(settings))

    def standing(self, logbook: Logbook, spread: float = 1.0) -> Standing:
        """Belief after *logbook*."""
        return standing(self.ground, logbook, hours=4.0, draws=256, spread=spread)

    def plan(self, logbook: Logbook, mode: Mode) -> Plan:
        """The next trial after *logbook*."""
        belief = self.standing(logbook)
        return plan_next(belief, self.shortlist, self.events, lambda: self.standing(logbook, DOUBT), mode)


@cache
def desk(name: str) -> Desk:
    """The desk of a packed machine, made once."""
    return Desk(name)


def noted(logbook: Logbook, plan: Plan, *, passed: bool) -> Logbook:
    """*logbook* with the outcome of the planned trial."""
    assert plan.trial is not None
    return add(
        logbook,
        time=NOON + timedelta(hours=len(logbook.trials)),
        settings=plan.trial.settings,
        outcome="stable" if passed else "failed",
        symptoms=() if passed else ("hang",),
        hours=int(plan.trial.hours) if passed else 1,
    )


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("luck", [0.0, 0.5, 1.0])
def test_offers_are_legal_new_and_faster_and_come_to_an_end(name: str, mode: Mode, luck: float) -> None:
    """Whatever the outcomes: nothing comes again that failed, nothing is slower than what is proven."""
    place, logbook = desk(name), Logbook(name)
    random = np.random.default_rng(8)
    failed: list[Settings] = []
    for _ in range(40):
        plan = place.plan(logbook, mode)
        trial = plan.trial
        if trial is None:
            break
        assert trial.settings not in failed
        assert not margins(place.machine, place.rules, trial.settings).broken
        assert place.gain(trial.settings) == pytest.approx(trial.gain)
        assert trial.gain > plan.proven.gain or trial.repeat or mode == "single"
        assert 0 <= trial.odds <= 1 and trial.hours >= 4
        if mode == "single" and not trial.repeat:
            assert len(trial.changes) == 1
        passed = bool(random.random() < luck)
        if not passed:
            failed.append(trial.settings)
        logbook = noted(logbook, plan, passed=passed)
    else:
        pytest.fail("the planner did not stop")
    assert plan.queue == ()


@pytest.mark.parametrize("name", MACHINES)
def test_the_same_logbook_gives_the_same_plan(name: str) -> None:
    """Planning is repeatable."""
    place = desk(name)
    logbook = noted(Logbook(name), place.plan(Logbook(name), "jump"), passed=False)

    assert place.plan(logbook, "jump") == place.plan(logbook, "jump")


@pytest.mark.parametrize("name", MACHINES)
def test_what_passes_becomes_proven(name: str) -> None:
    """A passed trial of high odds is the proven setting of the next plan."""
    place = desk(name)
    first = place.plan(Logbook(name), "jump")
    assert first.trial is not None and first.proven.gain == 0
    long_run = noted(Logbook(name), first, passed=True)
    again = place.plan(noted(long_run, first, passed=True), "jump")

    assert again.proven.gain == pytest.approx(first.trial.gain)


@pytest.mark.parametrize("mode", MODES)
def test_trials_end_on_a_long_soak(mode: Mode) -> None:
    """Where all passes, the last settings have run for two days and are sure, and no trial is left."""
    place, logbook = desk("tollgate-386dx33"), Logbook("tollgate-386dx33")
    plan = place.plan(logbook, mode)
    while plan.trial is not None:
        logbook = noted(logbook, plan, passed=True)
        plan = place.plan(logbook, mode)
    ran = sum(one.hours or 0 for one in logbook.trials if one.settings == plan.proven.settings)
    assert ran >= 4 * LAST_SOAK and plan.proven.sure >= SURE


def test_single_changes_come_as_far_as_a_jump() -> None:
    """Where all passes, one option after the other ends near the best that a jump may hope for.

    On this machine that takes steps which bring nothing by themselves.
    """
    place, logbook = desk("tollgate-486dx2"), Logbook("tollgate-486dx2")
    steps = []
    for _ in range(40):
        plan = place.plan(logbook, "single")
        if plan.trial is None:
            break
        steps.append(plan.trial)
        logbook = noted(logbook, plan, passed=True)
    best = max(place.gain(wish) for wish in place.shortlist.far(place.standing(Logbook("x")).outlook))
    assert plan.proven.gain > 0.95 * best
    for step in steps:
        changed = {o for o in step.settings if step.settings[o] != step.base[o]}
        assert changed == set(step.changes) and len(changed) == (0 if step.base == step.settings else 1)


def test_a_doubtful_trial_runs_for_longer() -> None:
    """Settings that one soak would not make trusted run for longer at once."""
    place = desk("tollgate-486dx2")
    logbook = noted(Logbook("tollgate-486dx2"), place.plan(Logbook("tollgate-486dx2"), "jump"), passed=True)
    offered = place.plan(logbook, "jump")
    trials = [offered.trial, *offered.queue] if offered.trial else []
    assert trials and {one.hours for one in trials} <= {4.0 * length for length in (1, *LONGER)}
    assert any(one.hours > 4 and one.sound >= 0.8 * one.odds for one in trials)


# ------------------------------------------------------------------------------------- menu


@pytest.mark.parametrize("name", MACHINES)
def test_a_menu_has_the_exact_frontier(name: str) -> None:
    """For every point of the exact frontier the menu has one as safe and as fast, to a fifth of a percent."""
    place = desk(name)
    cloud = prior_cloud(place.machine, draws=256)
    tables = survivals(place.machine, place.rules, cloud, hours=4.0)
    view = Outlook(place.machine, cloud, 4.0, tables)
    problem = _problem(place, cloud)
    menu = Menu(problem, least=0.01)
    found = [place.settings(menu.values(pick)) for pick in menu.priced(problem).frontier(0.05)]
    points = [(place.pricer.total(settings), view.odds(settings)) for settings in found]

    assert points == sorted(points)
    for one in frontier(problem, least_odds=0.05).best:
        assert min(cost for cost, odds in points if odds >= one.odds - 0.002) <= one.cost * 1.002


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("seed", range(4))
def test_the_best_of_one_draw_is_that_of_the_exact_search(name: str, seed: int) -> None:
    """With one draw the menu's optimum is the fastest combination that survives, by exact search."""
    place = desk(name)
    prior = prior_cloud(place.machine, draws=256)
    menu = Menu(_problem(place, prior), least=0.01)
    z = np.random.default_rng(seed).standard_normal((1, len(prior.latents.items)))
    truth = _problem(place, cloud_at(prior.latents, z, np.ones(1)))
    priced = menu.priced(truth)
    best = fastest(truth, count=1, odds=SOUND).best[0]
    picks = priced.optima(np.array([0]), SOUND) + priced.frontier(SOUND)

    assert min(place.pricer.total(place.settings(menu.values(pick))) for pick in picks) <= best.cost * 1.0005


def _problem(place: Desk, cloud: Cloud) -> Problem:
    tables = survivals(place.machine, place.rules, cloud, hours=4.0)
    return compile_likely(place.machine, place.rules, place.events, tables, cloud)


@pytest.mark.parametrize("name", MACHINES)
def test_neighbours_differ_in_one_option_and_are_all_there(name: str) -> None:
    """The near shortlist is every legal single change of the given settings."""
    place = desk(name)
    current = dict(place.machine.current)
    near = place.shortlist.near(current)
    numbers = choice_numbers(place.machine, current)

    for wish in near:
        assert sum(a != b for a, b in zip(choice_numbers(place.machine, wish), numbers, strict=True)) == 1
        assert not margins(place.machine, place.rules, wish).broken
    legal = sum(
        not margins(place.machine, place.rules, {**current, option.id: choice.id}).broken
        for option in place.machine.options
        for choice in option.choices
        if choice.id != current[option.id]
    )
    assert len(near) == legal


# -------------------------------------------------------------------------------- look-ahead


def test_a_sure_step_is_worth_its_gain() -> None:
    """A combination that passes in every draw is worth exactly its improvement."""
    judged = worth(np.ones((1, 4)), np.ones(1), np.array([0.2]), np.full(4, 0.25), proven=0.05)
    assert judged.value == pytest.approx([0.15])


def test_a_hopeless_step_is_worth_what_it_teaches() -> None:
    """What never passes teaches nothing new here and only delays the other choice."""
    survivals = np.array([[0.0, 0.0], [1.0, 1.0]])
    judged = worth(survivals, np.ones(2), np.array([0.5, 0.2]), np.full(2, 0.5), proven=0.0)
    assert judged.value[0] < judged.value[1]
    assert judged.odds == pytest.approx([0.0, 1.0])


def test_of_two_bold_steps_the_more_telling_one_wins() -> None:
    """At the same odds and gain, the one whose failure still leaves something to go for is worth more."""
    telling, mute = [1.0, 1.0, 0.0, 0.0], [1.0, 0.0, 1.0, 0.0]
    fallback = [0.0, 0.0, 1.0, 1.0]
    judged = worth(
        np.array([telling, mute, fallback]), np.ones(3), np.array([0.3, 0.3, 0.2]), np.full(4, 0.25), 0.0
    )
    assert judged.value[0] > judged.value[1]


def test_a_step_is_worth_what_it_opens() -> None:
    """A step that gains nothing is worth more the nearer it comes to what may be gone for."""
    sure = np.ones((3, 4))
    ahead = Ahead(np.ones((1, 4)), np.array([0.3]), np.array([[0.9], [0.81], [0.729]]), np.array([0.729]))
    judged = worth(sure, np.ones(3), np.array([-0.02, -0.01, 0.05]), np.full(4, 0.25), 0.0, ahead)
    assert judged.value == pytest.approx([0.9 * 0.3, 0.81 * 0.3, 0.05 + 0.729 * 0.25])


def test_what_has_to_be_confirmed_counts_for_less() -> None:
    """A goal that would pass by luck as often as by soundness is worth its share, later still."""
    goal = Ahead(np.array([[1.0, 1.0, 0.8, 0.8]]), np.array([0.3]), np.ones((1, 1)), np.ones(1))
    judged = worth(np.ones((1, 4)), np.ones(1), np.array([0.0]), np.full(4, 0.25), 0.0, goal)
    assert judged.value == pytest.approx([LATER * 0.5 * 0.3])


def test_telling_takes_longer_the_more_doubt_there_is() -> None:
    """A longer soak is asked for where more draws are nearly sound, and none where no length would tell."""
    weights = np.full(10, 0.1)
    lengths = [
        telling_soak(np.array([0.999] * (10 - doubtful) + [0.7] * doubtful), weights, 0.98, LONGER)
        for doubtful in range(1, 8)
    ]
    found = [length for length in lengths if length is not None]
    assert found == sorted(found) and len(set(found)) > 1 and set(found) <= set(LONGER)
    assert telling_soak(np.full(10, 0.9), weights, 0.98, LONGER) is None
