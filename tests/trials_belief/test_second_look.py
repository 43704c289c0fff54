"""The second look before trials end: when it is taken, and what it may offer."""

from __future__ import annotations

import numpy as np
import pytest

from tests.trials_belief.test_planning import MACHINES, desk, noted
from waitwright.belief.cloud import cloud_at, prior_cloud, widened
from waitwright.belief.faults import latents_with_faults, present
from waitwright.belief.latents import latents_of
from waitwright.trials.ground import Ground
from waitwright.trials.logbook import Logbook
from waitwright.trials.planner import Plan
from waitwright.trials.second_look import DOUBT, plan_next, planner_of
from waitwright.trials.standing import Standing


class Doubted:
    """Belief with wider spreads, counting how often it is asked for."""

    def __init__(self, name: str, logbook: Logbook) -> None:
        self._name, self._logbook, self.asked = name, logbook, 0

    def __call__(self) -> Standing:
        """The belief."""
        self.asked += 1
        return desk(self._name).standing(self._logbook, DOUBT)


def looked(name: str, logbook: Logbook) -> tuple[Plan, Plan, Doubted]:
    """The plan by the catalogue alone, the plan with a second look, and whether that was taken."""
    place, doubted = desk(name), Doubted(name, logbook)
    belief = place.standing(logbook)
    alone = planner_of(belief, place.shortlist, place.events).plan(belief.tried)
    return alone, plan_next(belief, place.shortlist, place.events, doubted), doubted


@pytest.mark.parametrize("name", MACHINES)
def test_no_second_look_while_all_goes_well(name: str) -> None:
    """While nothing has failed, or something is worth a trial, the catalogue is not doubted."""
    logbook = Logbook(name)
    for _ in range(12):
        alone, plan, doubted = looked(name, logbook)
        assert (plan, doubted.asked) == (alone, 0) and plan.spread == 1
        if plan.trial is None:
            break
        logbook = noted(logbook, plan, passed=True)
    assert plan.trial is None


@pytest.mark.parametrize("name", MACHINES)
def test_a_second_look_is_taken_before_trials_end(name: str) -> None:
    """After failures the end is only called once wider spreads see nothing either; what they offer is new."""
    logbook, looks, offers = Logbook(name), 0, 0
    for number in range(40):
        alone, plan, doubted = looked(name, logbook)
        looks += doubted.asked
        if plan.spread > 1:
            offers += 1
            assert doubted.asked == 1 and (alone.trial is None or alone.trial.value == 0)
            assert plan.trial is not None and plan.trial.value > 0 and plan.proven == alone.proven
            assert plan.trial.gain > plan.proven.gain
        else:
            assert plan == alone
        if plan.trial is None:
            break
        logbook = noted(logbook, plan, passed=number == 0 or plan.trial.repeat)
    assert plan.trial is None and looks > 0
    if name == "tollgate-486dx2":  # a quick machine with much to gain: one failure is not the end there
        assert offers > 0


def test_wider_unknowns_have_the_same_middle() -> None:
    """Wider unknowns are the same draws, farther out: as a widened cloud has them."""
    machine = desk(MACHINES[0]).machine
    plain = prior_cloud(machine, draws=64)
    wide = cloud_at(latents_of(machine).wider(DOUBT), plain.z, plain.weights)

    assert np.allclose(wide.factors, widened(plain, DOUBT).factors)


def test_suspects_are_no_likelier_among_wider_parts() -> None:
    """Doubting the spreads of parts leaves the suspects' own odds as they are."""
    place = desk(MACHINES[0])
    plain = prior_cloud(place.machine, draws=256, latents=latents_with_faults(place.machine))
    wide = prior_cloud(place.machine, draws=256, latents=latents_with_faults(place.machine, spread=DOUBT))

    for suspect in place.machine.rulebook.suspects.values():
        assert (present(suspect, plain) == present(suspect, wide)).all()
    names = [latent.name for latent in plain.latents.items if latent.name.startswith("suspect/")]
    assert names and all((plain.factor(name) == wide.factor(name)).all() for name in names)


def test_what_is_safe_depends_on_how_far_parts_vary() -> None:
    """Wider parts leave more rules that could stop a combination, whichever was asked about first."""
    place = desk("tollgate-486dx2")
    narrow, wide = latents_of(place.machine), latents_of(place.machine).wider(DOUBT)
    settings = dict(place.machine.current)
    for first, then in ((narrow, wide), (wide, narrow)):
        ground = Ground(place.machine, place.rules)
        for latents in (first, then):
            ground.causes(place.machine, place.rules, latents, settings)
        few, many = (ground.causes(place.machine, place.rules, one, settings) for one in (narrow, wide))
        assert {cause.rule for cause in few} < {cause.rule for cause in many}
