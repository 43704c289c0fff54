"""What slows something that the work does not count is left alone, unless that is worth it."""

from __future__ import annotations

from functools import cache

import pytest

from waitwright.api.opening import Bench, Question, find_workload, put_on_bench
from waitwright.api.rank import Wish, rank
from waitwright.belief.outlook import outlook
from waitwright.ids import ChoiceId, OptionId, Settings
from waitwright.machine import FactTable
from waitwright.timing.margins import broken, margins
from waitwright.trials.ground import Ground
from waitwright.trials.shortlist import Shortlist
from waitwright.units import Exact
from waitwright.workload.concession import WORTH, Concessions
from waitwright.workload.gain import Pricer
from waitwright.workload.model import event_tables, event_times

QUICK_DRIVES = ("fairlead-486dx4", "tidemill-486dx2", "signalbox-5x86")
"""Machines with a drive port and a bus whose pace no calculation counts."""


@cache
def bench(name: str) -> Bench:
    """A packed machine."""
    return put_on_bench(Question(name))


@cache
def concessions(name: str, work: str | None = None) -> Concessions:
    """What a kind of work does not count on it."""
    machine = bench(name).machine
    return Concessions(machine, event_tables(machine, find_workload(machine.rulebook, work)))


def idle_times(name: str, settings: Settings) -> dict[str, Exact]:
    """Exact time of each event that the default work never has."""
    machine = bench(name).machine
    times = event_times(machine, find_workload(machine.rulebook, None), settings)
    return {str(one.event.id): one.time for one in times if one.rate == 0 and one.time is not None}


@pytest.mark.parametrize("name", QUICK_DRIVES)
def test_a_slower_drive_is_a_concession_to_a_calculation(name: str) -> None:
    """A slower pace of the drive port slows disk transfers only, and is found; by exact times as well."""
    machine, found = bench(name).machine, concessions(name)
    pace = next(option for option in machine.options if "ata_pio_mode" in option.parameters)
    slowest: Settings = {**machine.current, pace.id: pace.choices[0].id}
    now, then = idle_times(name, dict(machine.current)), idle_times(name, slowest)

    assert found.without(slowest, pace.id) == machine.current
    assert {event.id for event in found.slowed(slowest, pace.id)} == {
        event for event, time in then.items() if time > now[event]
    }
    assert found.without(dict(machine.current), pace.id) is None


@pytest.mark.parametrize("name", QUICK_DRIVES)
def test_what_the_work_counts_is_no_concession(name: str) -> None:
    """Work that counts the disk has nothing to say of its port: that is priced."""
    machine = bench(name).machine
    pace = next(option for option in machine.options if "ata_pio_mode" in option.parameters)
    events = event_tables(machine, find_workload(machine.rulebook, "disk-copy"))
    assert any(table.values.any() and pace.id in table.scope for table in events)
    found = Concessions(machine, events)
    slowest: Settings = {**machine.current, pace.id: pace.choices[0].id}

    assert "disk-words" not in {event.id for event in found.slowed(slowest, pace.id)}


@pytest.mark.parametrize("name", [*QUICK_DRIVES, "tollgate-486dx2"])
@pytest.mark.parametrize("rated", [False, True])
def test_rank_makes_no_concession_that_brings_next_to_nothing(name: str, *, rated: bool) -> None:
    """Putting back what slows other things breaks a rule, or costs odds that matter, or those asked for."""
    here, found = bench(name), concessions(name)
    machine, rules = here.machine, here.rules
    view = None if rated else outlook(machine, rules, hours=4.0)
    answer = rank(Question(name), Wish(rated=rated, top=5))
    assert answer.results
    for result in answer.results:
        settings = {OptionId(option): ChoiceId(choice) for option, choice in result.settings.items()}
        for option in found.options:
            back = found.without(settings, option)
            if back is None or list(broken(rules.logic, FactTable(machine, back))):
                continue
            if view is None:
                assert not margins(machine, rules, back).stands
            else:
                assert view.odds(back) < max(0.9, (result.odds or 0) - WORTH) + 1e-6


@pytest.mark.parametrize("name", QUICK_DRIVES)
def test_what_is_left_alone_costs_no_speed(name: str) -> None:
    """The fastest listed combination is as fast as with all concessions made, and no slower elsewhere."""
    machine = bench(name).machine
    pricer = Pricer(machine, event_tables(machine, find_workload(machine.rulebook, None)))
    free = rank(Question(name), Wish(top=1)).results[0]
    literal = rank(Question(name), Wish(top=1, every=True)).results[0]
    kept, conceding = (
        {OptionId(option): ChoiceId(choice) for option, choice in one.settings.items()}
        for one in (free, literal)
    )

    assert pricer.total(kept) <= pricer.total(conceding)
    slow, slower = idle_times(name, kept), idle_times(name, conceding)
    assert all(slow[event] <= slower[event] for event in slow)


@pytest.mark.parametrize("name", QUICK_DRIVES)
def test_trials_leave_it_alone_too(name: str) -> None:
    """What may come on trial slows nothing for less than the odds that this must bring."""
    here, found = bench(name), concessions(name)
    work = find_workload(here.machine.rulebook, None)
    shortlist = Shortlist(Ground(here.machine, here.rules), event_tables(here.machine, work), hours=4.0)
    view = outlook(here.machine, here.rules, hours=4.0)
    wishes = shortlist.far(view)
    assert wishes
    for wish in wishes:
        for option in found.options:
            back = found.without(wish, option)
            if back is not None and shortlist.legal(back):
                assert view.odds(back) < view.odds(wish) - WORTH / 2
