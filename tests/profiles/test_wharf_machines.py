"""What the machines of the Wharf Hall teach, claim by claim as their notes make it."""

from __future__ import annotations

from datetime import UTC, datetime

from waitwright.api.check import check
from waitwright.api.next_trial import next_trial
from waitwright.api.opening import Question, logbook_of, open_machine
from waitwright.api.rank import Wish, rank
from waitwright.api.suspect import suspect
from waitwright.api.swap import swap
from waitwright.api.why import why
from waitwright.machine import parse_settings
from waitwright.report.margin_view import BudgetView, LimitView
from waitwright.report.swap_views import SwapView
from waitwright.report.views import ResultView
from waitwright.rulebook.load import load_rulebook
from waitwright.workload.gain import Pricer
from waitwright.workload.model import event_tables, event_times

SX_FAST = (
    "early-address=yes", "page-order=turns", "row-lead=2", "column-read=3",
    "column-rest=1", "row-rest=4", "store=6",
)  # fmt: skip
"""The fast memory settings of the cacheless board."""


def best(name: str, *sets: str, workload: str = "integer", rated: bool = False) -> ResultView:
    """The fastest result for a packed machine."""
    return rank(Question(name, sets=sets), Wish(rated=rated, workload=workload)).results[0]


def best_with(name: str, *fixed: str, workload: str = "integer") -> float:
    """Gain of the fastest result over the profile's settings with the *fixed* options left as they are."""
    return rank(Question(name), Wish(fix=fixed, workload=workload)).results[0].gain


def total(name: str, *sets: str, part: str = "", workload: str = "integer") -> int:
    """Time of a unit of work under the current settings, some replaced."""
    machine = open_machine(name, load_rulebook(), (part,) if part else ())
    pricer = Pricer(machine, event_tables(machine, machine.rulebook.workloads[workload]))
    return pricer.total(machine.settings_with(parse_settings(machine, sets)))


def gain(name: str, *sets: str, part: str = "", workload: str = "integer") -> float:
    """What the replaced settings bring."""
    before = total(name, part=part, workload=workload)
    return before / total(name, *sets, part=part, workload=workload) - 1


def budget(name: str, rule: str, *sets: str) -> BudgetView:
    """One budget of a machine."""
    return next(one for one in check(Question(name, sets=sets)).budgets if one.id == rule)


def limit(name: str, rule: str, *sets: str) -> LimitView:
    """One limit of a machine."""
    return next(one for one in check(Question(name, sets=sets)).limits if one.id == rule)


def margin(name: str, rule: str, *sets: str) -> float:
    """Margin of one budget in ns."""
    found = budget(name, rule, *sets).margin_ns
    assert found is not None
    return found


def odds(name: str, *sets: str) -> float:
    """Odds that all of it lasts through a soak test."""
    found = check(Question(name, sets=sets)).odds
    assert found is not None
    return found


def exchange(name: str, *goals: str, workload: str = "integer") -> SwapView:
    """The verdict on putting exactly these parts in, whatever is taken out."""
    answer = swap(Question(name), workload=workload)
    put_in = {tuple(sorted(step.goal for step in one.exchanges if step.goal)): one for one in answer.swaps}
    return put_in[tuple(sorted(goals))]


def extra(name: str, *goals: str, workload: str = "integer") -> float:
    """What that exchange brings beyond the best settings with the parts now."""
    found = exchange(name, *goals, workload=workload).extra
    assert found is not None
    return found


# ------------------------------------------------------------------------------------- without cache


def test_without_a_cache_memory_is_the_machine() -> None:
    """On the 386SX-16, early addresses and memory bring far more to computing than the slots can."""
    name = "wharf-386sx16"
    memory = gain(name, *SX_FAST)
    slots = gain(
        name, "slot-clock=cpu-2", "slot-words=0", "slot-port-words=1", "slot-bytes=3", "port-rest=1-3",
        "hurry=heard", "dma-clock=same", "dma-pause=1", "rom-copy=both", "a20=set",
        workload="build",
    )  # fmt: skip

    assert memory > 0.7
    assert slots < memory / 5
    for step in SX_FAST:
        assert gain(name, step) > 0.01, step


def test_100_ns_modules_bear_at_16_mhz_what_they_do_not_bear_at_20() -> None:
    """By the data sheet, the fast memory settings leave 100 ns modules room at 16 MHz and none at 20.

    Source: 82C836 data sheet, revision 3.0, p. 5-8: two clocks and a half from RAS to data ask for 100 ns
    modules at 16 MHz and 80 ns modules at 20 MHz.
    """
    name = "wharf-386sx16"

    assert margin(name, "dram.row.access", *SX_FAST) > 0
    assert margin(name, "dram.row.access", *SX_FAST, "oscillator=40") < 0
    assert margin("wharf-386sx20-upgrade", "dram.row.access", *SX_FAST) > 0


def test_a_386sx_is_clearly_slower_than_a_386dx_with_cache() -> None:
    """A 386SX-16 at its best does a quarter to two fifths of the work of a 386DX-33 with cache."""
    slow = total("wharf-386sx16", *SX_FAST)
    fast = total(
        "tollgate-386dx33", "cache-read=2-1-1-1", "cache-write=2", "row-open=yes", "ras-to-cas=2",
        "cas-read=2", "ras-precharge=3", "cas-precharge=1", "memory-write=3",
    )  # fmt: skip

    assert 1 / 4 < fast / slow < 2 / 5


def test_a_narrow_bus_costs_a_quarter() -> None:
    """With the same core and no wait states, the narrow bus of a 386SX takes about a quarter of the speed.

    Source: common practice: a 386SX does about three quarters of the work of a 386DX of the same clock.
    """
    machine = open_machine("wharf-386sx16", load_rulebook())
    work = machine.rulebook.workloads["integer"]
    time = {one.event.id: one.total for one in event_times(machine, work, machine.current)}
    core, halves = time["core"], time["narrow-bus"]
    assert core is not None
    assert halves is not None

    assert 0.7 < core / (core + halves) < 0.8


def test_a_small_cache_takes_tight_loops_off_the_bus() -> None:
    """With 1 KB on chip, memory settings bring a loop less than half as much, a large program nearly all."""
    name, plain = "wharf-386sx20-upgrade", "cpu=386sx-20"

    assert gain(name, *SX_FAST) < gain(name, *SX_FAST, part=plain) / 2
    large = gain(name, *SX_FAST, workload="build"), gain(name, *SX_FAST, part=plain, workload="build")
    assert 0.8 * large[1] < large[0] < large[1]


# --------------------------------------------------------------------------------------- single chip


def test_an_old_8_bit_display_card_sets_the_pace_of_a_game() -> None:
    """The till's card takes 1117 ns an access whatever the waits, and a 16-bit card beats all settings."""
    name = "wharf-386sx33-till"
    machine = open_machine(name, load_rulebook())
    work = machine.rulebook.workloads["game-3d"]

    def bytes_take(*sets: str) -> object:
        times = event_times(machine, work, machine.settings_with(parse_settings(machine, sets)))
        return next(one.total for one in times if one.event.id == "display-bytes")

    slot = machine.constants["display.memory_slot"]
    assert slot == 1_117_000  # ps
    assert bytes_take() == bytes_take("wait-8=4") == bytes_take("wait-8=4", "card-clock=5")
    settings = best(name, workload="game-3d").gain
    for card in ("display-isa16-80", "display-isa16-zw-70"):
        assert extra(name, card, workload="game-3d") > settings


def test_the_till_computes_faster_at_25_mhz() -> None:
    """With 80 ns modules, 25 MHz without a wait is faster than what holds at 33 MHz."""
    name = "wharf-386sx33-till"
    fastest = best(name)

    assert fastest.settings["speed"] == "25"
    assert fastest.settings["taken-for"] == "60"
    assert best_with(name, "speed") < fastest.gain - 0.02


def test_left_to_itself_the_board_does_not_look_at_the_modules() -> None:
    """The board's own judgement takes all modules for the slowest, whichever are fitted."""
    name = "wharf-386sx33-band"
    for module in ("fpm-60", "fpm-100"):
        view = check(Question(name, parts=(f"sockets-1-2={module}", f"sockets-3-4={module}")))
        assert view.parameters["dram_cas_read_clocks"] == 3
        assert view.parameters["dram_precharge_clocks"] == 4
    assert best(name).settings["own-judgement"] == "n"


def test_the_slower_pair_of_modules_sets_the_pace() -> None:
    """The 70 ns pair counts for nothing beside 100 ns; two modules from the drawer open full speed."""
    name = "wharf-386sx33-band"
    spent = budget(name, "dram.row.access").delays
    assert next(delay.ns for delay in spent if delay.name == "access from RAS") == 100

    assert extra(name, "fpm-70") > 0.2
    better = rank(Question(name, parts=("sockets-3-4=fpm-70",)), Wish()).results[0]
    assert better.settings["speed"] == "33"
    assert best(name).settings["speed"] == "25"


def test_no_hidden_refresh_beside_the_sound_card() -> None:
    """Hidden refresh breaks a rule while a sound card plays by DMA, however wide the margins."""
    name = "wharf-386sx33-band"
    view = why(Question(name, sets=("refresh-aside=y",)))

    assert [one.id for one in view.conflicts] == ["refresh.hidden.dma-sound@bay-3"]
    assert not [rule for rule in view.short if not rule.advisory]
    assert best(name).settings["refresh-aside"] == "n"
    assert best("wharf-386sx33-till").settings["refresh-aside"] == "y"


# ---------------------------------------------------------------------------------- 386DX with cache


def test_3_ns_and_48_ns_are_two_kinds_of_short() -> None:
    """The network card lacks 3 ns at 8.33 MHz and hardly minds; at 11.1 MHz it lacks 48 and mostly fails.

    Source: SC400/SC410 data sheet, publication 21028, t13 (132 ns), against CS8900A figures (135 ns).
    """
    name, rule = "wharf-386dx33-net", "isa.read.io16@a3"
    near, far = ("bus-clock=cpu-4", "at-io16=1"), ("bus-clock=cpu-3", "at-io16=1")

    assert margin(name, rule, *near) == -3
    assert odds(name, *near) > 0.99
    assert margin(name, rule, *far) == -48
    assert (budget(name, rule, *far).odds or 1) < 0.5
    assert odds(name, *far) < 0.5
    for cure in (("bus-clock=cpu-4", "at-io16=2"), ("bus-clock=crystal", "at-io16=1")):
        assert margin(name, rule, *cure) > 0


def test_the_tags_decide_whether_a_read_needs_a_wait() -> None:
    """At 33 MHz the 25 ns cache chips bear a read without wait state, and the 20 ns tag chips do not."""
    name = "wharf-386dx33-net"

    assert margin(name, "l2.read.first.data", "cache-hit=0ws") > 0
    assert margin(name, "l2.read.tag", "cache-hit=0ws") < 0


def test_slow_cache_chips_choose_the_clock() -> None:
    """25 ns chips keep a 386DX-40 at 33 MHz: at 40, two T-states are a gamble and three are slower."""
    name = "wharf-386dx40-chips"
    fastest = best(name)

    assert fastest.settings["generator"] == "33"
    assert fastest.settings["cache-read"] == "2"
    assert odds(name, "cache-read=2") > 0.99
    assert 0.4 < odds(name, "generator=40", "cache-read=2") < 0.9
    assert total(name, "generator=40", "cache-read=3") > total(name, "cache-read=2")


def test_one_tag_chip_opens_40_mhz_and_four_cache_chips_do_not() -> None:
    """A 15 ns tag alone brings ten times what new cache chips of 15 ns bring."""
    name = "wharf-386dx40-chips"
    answer = swap(Question(name))
    by_slots = {tuple(sorted(step.slot for step in one.exchanges)): one for one in answer.swaps}
    tag, chips = by_slots["tag",], by_slots["cache",]
    assert tag.extra is not None
    assert chips.extra is not None

    assert tag.extra > 10 * chips.extra
    assert any("40 MHz" in change for change in tag.opens)
    assert not any("40 MHz" in change for change in chips.opens)


def test_copying_files_is_bound_by_the_drive_and_its_bus() -> None:
    """With a mode 0 drive, the slots' lines bring a file copy more than those of cache and memory."""
    name = "wharf-386dx40-drive"
    machine = open_machine(name, load_rulebook())
    fastest = best(name, workload="disk-copy").settings
    slots = {"at-clock", "at-memory", "at-port", "at-byte", "io-recovery", "short-cycle", "dma-select"}
    changed = {option: choice for option, choice in fastest.items() if machine.current[option] != choice}  # type: ignore[index]
    lines = {
        inside: [f"{option}={choice}" for option, choice in changed.items() if (option in slots) is inside]
        for inside in (True, False)
    }

    assert gain(name, *lines[True], workload="disk-copy") > gain(name, *lines[False], workload="disk-copy")
    drive = machine.rulebook.parts["drive-pio-0"].values
    assert {drive[row].value for row in ("command_width16", "cycle16")} == {165_000, 600_000}  # ps
    opened = exchange(name, "drive-pio-2", workload="disk-copy")
    assert opened.opens == ("Slot command, port words: three clocks -> two clocks",)
    assert opened.extra is not None
    assert 0 < opened.extra < 0.1


def test_a_bus_is_as_fast_as_all_of_its_cards_together() -> None:
    """Each of the laboratory's 8-bit cards bears 10 MHz with odds of 85 %, all together do not."""
    name, fast = "wharf-386dx25-lab", "expansion-clock=5"
    for rule in ("isa.clock.port@narrow-1", "isa.clock.other@narrow-2", "isa.clock.port@narrow-3"):
        one = limit(name, rule, fast).odds
        assert one is not None
        assert 0.82 < one < 0.88
    assert odds(name, fast) < 0.5


def test_35_ns_chips_do_at_25_mhz() -> None:
    """By data sheets 35 ns cache chips and 20 ns tags need no idle state at 25 MHz; tags of 25 ns do.

    Source: common practice of the time, 35 ns cache chips at 20 to 25 MHz.
    """
    name = "wharf-386dx25-lab"
    rules = ("l2.read.first.data", "l2.read.first.enable", "l2.read.tag")

    assert all(margin(name, rule, "cache-idle=0") >= 0 for rule in rules)
    slower = check(Question(name, sets=("cache-idle=0",), parts=("tag=sram-8kx8-25",)))
    assert next(one.rated for one in slower.budgets if one.id == "l2.read.tag") == "falls short"


def test_a_doubled_core_triples_an_index_and_not_the_work() -> None:
    """The doubled part runs a tight loop over three times as fast, a game or compiler less than twice."""
    name, plain = "wharf-386dx25-double", "cpu=386dx-25"

    assert total(name, part=plain) > 3 * total(name)
    for workload in ("game-3d", "build"):
        assert 1 < total(name, part=plain, workload=workload) / total(name, workload=workload) < 2


def test_stores_and_memory_weigh_more_behind_a_doubled_core() -> None:
    """Behind the doubled core faster stores and memory bring more than behind the plain one, cache less."""
    name, plain = "wharf-386dx25-double", "cpu=386dx-25"
    for workload in ("integer", "build", "game-3d"):
        for step in ("memory-store=3", "column-strobe=2"):
            doubled, single = (gain(name, step, part=part, workload=workload) for part in ("", plain))
            assert doubled > single or (workload == "integer" and step == "column-strobe=2")
        doubled, single = (gain(name, "cache-idle=0", part=part, workload=workload) for part in ("", plain))
        assert doubled < single


# --------------------------------------------------------------------------------------- the logbook


def test_the_ledger_tells_of_a_search_that_came_to_its_end() -> None:
    """The first bold trial brought most, one failed, its sound half was kept, long soaks settled it."""
    name = "wharf-386dx33-ledger"
    book = logbook_of(name)
    first, bold, failed, half, night, days = book.standing
    steps = [{o: c for o, c in after.settings.items() if before.settings[o] != c} for before, after in (
        (first, bold), (bold, failed), (bold, half), (half, night), (night, days),
    )]  # fmt: skip

    stable, fails = "stable", "failed"
    assert [trial.outcome for trial in book.standing] == [stable, stable, fails, stable, stable, stable]
    assert (days.time - first.time).days <= 6 * 7
    assert steps[2].items() < steps[1].items()
    assert not steps[3]
    assert not steps[4]
    assert (night.hours, days.hours) == (12, 48)
    scores = [trial.scores[0].value for trial in (first, bold, half)]
    assert scores[1] - scores[0] > 0.9 * (scores[2] - scores[0])
    proven = gain(name, *(f"{option}={choice}" for option, choice in night.settings.items()))
    assert abs(float(scores[2] / scores[0]) - 1 - proven) < 0.02


def test_the_ledger_has_nothing_left_to_try() -> None:
    """After its logbook ``next`` is done, and ``suspect`` lays the failure to the timing of cache writes."""
    question = Question("wharf-386dx33-ledger")
    view = next_trial(question, now=datetime(2025, 10, 21, 20, 0, tzinfo=UTC))

    assert view.verdict == "done"
    assert view.proven.stable
    assert view.proven.gain > 0.5
    told = suspect(question)
    assert told.timing_odds > 0.99
    assert "Cache write" in told.lessons[0]
