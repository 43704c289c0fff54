"""``swap``: what exchanges are made of the spares and the catalogue, and the verdict on each."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from io import StringIO
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console

from tests.workshop import MACHINES as EVERY_MACHINE
from tests.workshop import NEW, OLD, packed
from waitwright.api.new import copy_packed
from waitwright.api.opening import Question, find_workload, put_on_bench
from waitwright.api.record import Report, record
from waitwright.api.scoring import pricing
from waitwright.api.swap import swap
from waitwright.belief.outlook import outlook
from waitwright.cli.main import run
from waitwright.errors import UsageError
from waitwright.explain import swaps
from waitwright.explain.exchange import EMPTY
from waitwright.explain.figures import signed_percent
from waitwright.explain.spares import (
    Exchange,
    Grades,
    exchanged,
    figures_read,
    from_market,
    from_spares,
    stock_of,
)
from waitwright.explain.swaps import Hints, Reach, Verdict, Wanted, judge_exchanges
from waitwright.ids import PartId
from waitwright.machine import Machine
from waitwright.report.swap_views import PairsView, SwapsView, SwapView
from waitwright.report.text.swap import show_swaps
from waitwright.rulebook.profiles import SpareDef
from waitwright.search.compile import compile_likely
from waitwright.search.topk import fastest
from waitwright.timing.bind import bind
from waitwright.workload.gain import Pricer, gain

NOTICEABLE = 0.001
MACHINES = (OLD, NEW)


@cache
def answer(name: str) -> SwapsView:
    """Answer of ``swap`` for a packed machine."""
    return swap(Question(name))


@cache
def judged(name: str) -> tuple[Reach | None, tuple[Verdict, ...]]:
    """Verdicts on the spares of a packed machine."""
    machine, _ = packed(name)
    return judge_exchanges(machine, from_spares(machine), wanted(machine), stock=stock_of(machine))[:2]


def wanted(machine: Machine) -> Wanted:
    """Nine in ten, for the default workload."""
    return Wanted(pricing(find_workload(machine.rulebook, None), None), 0.9, 4.0)


def with_spares(name: str, *spares: tuple[str, int]) -> Machine:
    """A packed machine with other spares."""
    machine, _ = packed(name)
    lots = tuple(SpareDef(PartId(part), count) for part, count in spares)
    return replace(machine, profile=replace(machine.profile, spares=lots))


def beats(pair: Verdict, halves: list[Verdict]) -> bool:
    """Whether a pair is faster than the better of its halves by more than a thousandth."""
    return (1 + pair.extra) / (1 + max(half.extra for half in halves)) > 1 + NOTICEABLE


# ----------------------------------------------------------------------------------- verdicts


@pytest.mark.parametrize("name", MACHINES)
def test_each_verdict_is_that_of_the_machine_rebuilt(name: str) -> None:
    """Building the what-if machine and ranking it gives each verdict's gain."""
    machine, _ = packed(name)
    now = Pricer(machine, wanted(machine).prices(machine)).total(machine.current)
    base, verdicts = judged(name)
    assert base is not None and verdicts
    for verdict in verdicts:
        words = tuple(
            f"{slot}={part}" for exchange in verdict.exchanges for slot, part in exchange.slots.items()
        )
        other = put_on_bench(Question(name, parts=words)).machine
        rules, events = bind(other), wanted(machine).prices(other)
        view = outlook(other, rules, hours=4.0)
        problem = compile_likely(other, rules, events, view.tables, view.cloud)
        best = fastest(problem, count=1, odds=0.9).best
        assert (verdict.best is None) == (not best)
        if verdict.best is not None:
            # Speeds closer than a thousandth of the present one count as one.
            apart = Pricer(other, events).total(machine.current) // 1000
            assert best[0].cost <= verdict.best.cost < best[0].cost + apart
            assert Pricer(other, events).total(verdict.best.settings) == verdict.best.cost
            assert verdict.gain == gain(now, verdict.best.cost)
            assert verdict.extra == gain(base.cost, verdict.best.cost)
            assert verdict.best.odds >= 0.9
            assert view.odds(verdict.best.settings) == pytest.approx(verdict.best.odds, abs=0.005)


@pytest.mark.parametrize("name", MACHINES)
def test_verdicts_stand_in_order_and_pairs_beat_their_halves(name: str) -> None:
    """The most useful comes first, and a pair is only there where it brings more than its better half."""
    _, verdicts = judged(name)
    single = {verdict.exchanges[0].role: verdict for verdict in verdicts if len(verdict.exchanges) == 1}

    assert [one.extra for one in verdicts] == sorted((one.extra for one in verdicts), reverse=True)
    assert len(single) == len(from_spares(packed(name)[0]))
    for verdict in verdicts:
        if len(verdict.exchanges) == 2:
            assert beats(verdict, [single[half.role] for half in verdict.exchanges])


def test_hints_change_no_answer() -> None:
    """The best settings are the same with and without hints, good ones, hopeless ones and worse ones."""
    machine, _ = packed(OLD)
    best = swaps.best_of(machine, wanted(machine))
    assert best is not None
    hopeless = {option.id: option.choices[-1].id for option in machine.options}
    for exchange in (from_spares(machine)[0], from_market(machine)[-1]):
        other = exchanged(machine, (exchange,))
        alone = swaps.best_of(other, wanted(machine))
        assert alone is not None
        for hints in ((best.settings,), (dict(machine.current), hopeless), (alone.settings, best.settings)):
            assert swaps.best_of(other, wanted(machine), Hints(None, hints)) == alone


def test_a_faster_cpu_needs_its_generator() -> None:
    """The 40 MHz CPU and the 80 MHz generator change nothing alone, and much together."""
    found = {
        tuple(sorted(exchange.role for exchange in verdict.exchanges)): verdict for verdict in judged(OLD)[1]
    }

    assert not found[("cpu",)].useful and not found[("clockgen",)].useful
    both = found[("clockgen", "cpu")]
    assert both.useful and both.extra > 0.1
    assert ("Host clock", "33 MHz", "40 MHz") in both.opened


def test_opened_settings_are_the_difference_of_the_best() -> None:
    """What is told to change is exactly what the two best combinations differ in."""
    machine, _ = packed(OLD)
    base, verdicts = judged(OLD)
    assert base is not None
    for verdict in verdicts:
        if verdict.best is not None:
            labels = [
                option.label
                for option in machine.options
                if base.settings[option.id] != verdict.best.settings[option.id]
            ]
            assert [label for label, _, _ in verdict.opened] == labels


def test_what_if_parts_and_settings_stay() -> None:
    """An exchange is made on top of ``--part`` and ``--set``."""
    bench = put_on_bench(Question(OLD, parts=("cpu=486dx-33",), sets=("isa-clock=clk2-6",)))
    machine = replace(bench.machine, current=bench.settings)
    changed = exchanged(machine, from_spares(machine)[:1])

    assert any(item.part.id == "486dx-33" for item in changed.fitted)
    assert any(item.part.id == "display-vl-70" for item in changed.fitted)
    assert changed.current == bench.settings


# ----------------------------------------------------------------------- what can be exchanged

CHIPS = ("sram-32kx8-8", "sram-32kx8-12", "sram-32kx8-15", "fpm-60", "fpm-50", "486dx2-66", "386dx-40")
LOTS = st.lists(st.tuples(st.sampled_from(CHIPS), st.integers(1, 9)), max_size=6)


@given(lots=LOTS)
@settings(max_examples=60)
def test_no_exchange_takes_more_than_there_is_nor_mixes_a_bank(lots: list[tuple[str, int]]) -> None:
    """Each bank is filled whole, from one lot, and no part is used oftener than it lies in the box."""
    machine = with_spares(OLD, *lots)
    chips = {str(slot.id): slot.chips for slot in machine.board.slots}
    stock = stock_of(machine)
    for exchange in from_spares(machine):
        taken = dict.fromkeys(stock, 0)
        lots_left = {part: sorted((n for p, n in lots if p == part), reverse=True) for part in stock}
        for slot, part in exchange.slots.items():
            taken[part] += chips[slot]
            place = next(i for i, left in enumerate(lots_left[part]) if left >= chips[slot])
            lots_left[part][place] -= chips[slot]
        assert exchange.counts == {part: count for part, count in taken.items() if count}
        assert all(count <= stock[part] for part, count in taken.items())
        changed = exchanged(machine, [exchange])
        for slot in exchange.slots:
            there = [item for item in changed.fitted if item.slot == slot]
            assert len(there) == 1 and there[0].count == chips[slot]


@given(lots=LOTS, costs=st.dictionaries(st.sampled_from(CHIPS), st.integers(400, 1200)))
@settings(max_examples=60)
def test_pairs_share_no_slot_and_no_spare(lots: list[tuple[str, int]], costs: dict[str, int]) -> None:
    """Two exchanges at once take other slots, other roles, and together no more than the box holds."""
    machine = with_spares(OLD, *lots)
    stock, told = stock_of(machine), []

    def best_of(changed: Machine, *_: object) -> Reach:
        cost = sum(costs.get(item.part.id, 1000) for item in changed.fitted)
        return Reach(dict(changed.current), cost, 0.95)

    singles = from_spares(machine)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(swaps, "best_of", best_of)
        _, verdicts, _ = judge_exchanges(
            machine, singles, wanted(machine), stock=stock, told=lambda done, of: told.append((done, of))
        )

    alone = {id(verdict.exchanges[0]): verdict for verdict in verdicts if len(verdict.exchanges) == 1}
    assert len(alone) == len(singles)
    for verdict in verdicts:
        if len(verdict.exchanges) == 2:
            first, second = verdict.exchanges
            assert first.role != second.role and not set(first.slots) & set(second.slots)
            for part in stock:
                assert first.counts.get(part, 0) + second.counts.get(part, 0) <= stock[part]
            assert beats(verdict, [alone[id(half)] for half in verdict.exchanges])
    assert [done for done, _ in told] == list(range(1, len(told) + 1))
    assert not told or told[-1][0] == told[-1][1]


def test_four_chips_of_one_make_and_four_of_another_fill_two_banks() -> None:
    """Two lots of equal chips fill both banks, two makes share them, and neither mixes inside a bank."""
    equal = from_spares(with_spares(OLD, ("sram-32kx8-15", 4), ("sram-32kx8-15", 4)))
    makes = from_spares(with_spares(OLD, ("sram-32kx8-15", 4), ("sram-32kx8-12", 4)))

    assert {"cache-0": "sram-32kx8-15", "cache-1": "sram-32kx8-15"} in [one.slots for one in equal]
    assert {"cache-0": "sram-32kx8-15", "cache-1": "sram-32kx8-12"} in [one.slots for one in makes]


def test_nine_chips_serve_two_banks_and_the_tag_at_once() -> None:
    """Of nine chips eight fill the banks and one the tag socket; of eight the tag socket gets none."""

    def both(count: int) -> bool:
        machine = with_spares(OLD, ("sram-32kx8-15", count))
        seen: list[tuple[str, ...]] = []

        def best_of(changed: Machine, *_: object) -> Reach:
            fast = sum(item.part.id == "sram-32kx8-15" for item in changed.fitted)
            return Reach(dict(changed.current), 1000 - 100 * fast, 0.95)

        with pytest.MonkeyPatch.context() as patched:
            patched.setattr(swaps, "best_of", best_of)
            singles = from_spares(machine)
            _, verdicts, _ = judge_exchanges(machine, singles, wanted(machine), stock=stock_of(machine))
        seen = [tuple(exchange.role for exchange in verdict.exchanges) for verdict in verdicts]
        return ("l2.data", "l2.tag") in seen

    assert both(9) and not both(8)


def test_a_card_takes_the_place_of_the_one_with_its_purpose() -> None:
    """A local-bus display card goes into a local-bus slot, and the old card comes out."""
    (exchange,) = from_spares(with_spares(OLD, ("display-vl-70", 1)))

    assert exchange == Exchange("display", {"isa-2": EMPTY, "local-1": "display-vl-70"}, {"display-vl-70": 1})


def test_two_cards_for_two_free_slots_can_be_fitted_together() -> None:
    """Two local-bus cards of different use each have a slot, not both the same one."""
    display, port = from_spares(with_spares(OLD, ("display-vl-70", 1), ("drive-port-vl", 1)))

    assert display.slots["local-1"] == "display-vl-70"
    assert port.slots["local-2"] == "drive-port-vl"


def test_pairs_of_a_large_market_are_of_what_promises_most() -> None:
    """Of many exchanges the best of each role are paired, and an idle CPU with each generator."""
    machine, _ = packed(OLD)
    fast = {"386dx-40": 0, "486dx2-66": 300, "sram-32kx8-8": 50, "fpm-60": 10, "fpm-50": 5}
    judged: list[frozenset[str]] = []

    def best_of(changed: Machine, *_: object) -> Reach:
        fresh = frozenset(str(item.part.id) for item in changed.fitted if item.fresh)
        judged.append(fresh)
        return Reach(dict(changed.current), 1000 - sum(fast.get(part, 0) for part in fresh), 0.95)

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(swaps, "best_of", best_of)
        singles = from_market(machine)
        _, verdicts, pairs = judge_exchanges(machine, singles, wanted(machine), every_pair=False)

    found = set(judged)
    assert {"486dx2-66", "sram-32kx8-8"} in found and {"fpm-60", "sram-32kx8-8"} in found
    assert {"386dx-40", "clockgen-80"} in found
    assert not any({"fpm-50", "sram-32kx8-15"} & pair for pair in found if len(pair) > 1)
    assert len(judged) < len(singles) * len(singles) / 4
    alone = [one for one in verdicts if len(one.exchanges) == 1]
    assert len(alone) == len(singles)
    couples = [
        (one, other)
        for place, one in enumerate(singles)
        for other in singles[place + 1 :]
        if one.role != other.role and not set(one.slots) & set(other.slots)
    ]
    assert pairs.possible == len(couples)
    assert 0 < pairs.judged < len(judged)


GRADES = ("cache-0", "tag", "simm-0")


def grades_on(name: str) -> Grades:
    """Compares exchanges on a packed machine."""
    machine, rules = packed(name)
    return Grades(machine, figures_read(machine, rules))


def test_a_better_grade_is_never_slower() -> None:
    """What is as good in every figure reaches what the other does, on the real machine."""
    machine, _ = packed(OLD)
    grades = grades_on(OLD)
    singles = [one for one in from_market(machine) if set(one.slots) & set(GRADES)]
    best = {
        place: swaps.best_of(exchanged(machine, (one,)), wanted(machine)) for place, one in enumerate(singles)
    }
    ordered = [
        (one, other)
        for one in best
        for other in best
        if one != other and grades.as_good(singles[one], singles[other])
    ]

    assert ordered
    for one, other in ordered:
        mine, its = best[one], best[other]
        assert mine is not None and its is not None
        assert mine.cost <= its.cost * (1 + NOTICEABLE)


def test_grades_are_compared_in_every_figure() -> None:
    """A shorter time is as good; another family, another place or one longer time is not."""
    grades = grades_on(OLD)

    def tag(part: str) -> Exchange:
        return Exchange("l2.tag", {"tag": part}, {part: 1})

    assert grades.as_good(tag("sram-32kx8-12"), tag("sram-32kx8-15"))
    assert not grades.as_good(tag("sram-32kx8-15"), tag("sram-32kx8-12"))
    assert grades.as_good(tag("sram-32kx8-15"), tag("sram-32kx8-15"))
    other = Exchange("l2.data", {"cache-0": "sram-32kx8-12"}, {"sram-32kx8-12": 4})
    assert not grades.as_good(other, tag("sram-32kx8-15"))
    assert grades.improves(tag("sram-32kx8-12"))
    assert not grades.improves(Exchange("display", {"isa-2": EMPTY, "local-1": "display-vl-70"}, {}))
    assert not grades.improves(Exchange("coprocessor", {"fpu": "387dx-33"}, {"387dx-33": 1}))


def test_what_is_ruled_out_brings_nothing() -> None:
    """Pairs of lesser grades than a judged pair that brings nothing are counted, not judged."""
    machine, _ = packed(OLD)

    def best_of(changed: Machine, *_: object) -> Reach:
        return Reach(dict(changed.current), 1000, 0.95)

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(swaps, "best_of", best_of)
        singles = [one for one in from_market(machine) if one.role in {"l2.data", "l2.tag"}]
        _, verdicts, pairs = judge_exchanges(machine, singles, wanted(machine), every_pair=False)

    assert len(singles) == 8 and len(verdicts) == 8
    assert (pairs.judged, pairs.bounded, pairs.left) == (1, 15, 0)


def test_a_drive_is_tried_on_each_port() -> None:
    """A spare drive replaces the one on the card, and takes its place on a free port of the board."""
    machine = with_spares(NEW, ("drive-pio-4", 1))
    places = [one.slots for one in from_spares(machine)]

    assert {"drive-local": "drive-pio-4"} in places
    assert {"drive-local": EMPTY, "drive-isa": "drive-pio-4"} in places
    assert len(places) == 2


@pytest.mark.parametrize("name", EVERY_MACHINE)
def test_spares_of_every_packed_machine_fit(name: str) -> None:
    """Each exchange that the spares allow makes a machine, and each spare has a use or is fitted already."""
    machine, _ = packed(name)
    found = from_spares(machine)
    for exchange in found:
        assert exchanged(machine, (exchange,)).board is machine.board
    used = {part for exchange in found for part in exchange.counts}
    fitted = {item.part.id for item in machine.fitted}
    assert {spare.part for spare in machine.profile.spares} <= used | fitted


@pytest.mark.parametrize("name", MACHINES)
def test_the_market_holds_no_grade_that_is_slower_throughout(name: str) -> None:
    """Of what is fitted no grade with longer times is looked at, and every faster chip is."""
    machine, _ = packed(name)
    parts = {part for exchange in from_market(machine) for part in exchange.counts}
    fitted = {item.part.id for item in machine.fitted}

    assert not parts & fitted
    assert {"sram-32kx8-15", "sram-32kx8-12", "fpm-60"} <= parts
    assert not parts & {"sram-32kx8-25", "sram-32kx8-35", {OLD: "386dx-16", NEW: "486dx2-50"}[name]}


# ------------------------------------------------------------------------------------ answers


@pytest.mark.parametrize("name", MACHINES)
def test_keys_of_the_contract(name: str) -> None:
    """Each swap tells slot, from, to, gain, odds and what it opens, as plain data."""
    view = answer(name)
    machine, _ = packed(name)
    slots = {slot.id for slot in machine.board.slots}
    for one in view.to_dict()["swaps"]:
        assert {"slot", "from", "to", "gain", "odds", "opens", "exchanges", "verdict"} <= set(one)
        assert one["slot"] in slots and one["to"] in machine.rulebook.parts
        assert one["from"] == "" or one["from"] in machine.rulebook.parts
        assert isinstance(one["opens"], list)
        assert one["verdict"] in {"faster", "changes nothing", "slower", "nothing holds"}
        if one["verdict"] == "changes nothing":
            assert not one["opens"] and abs(one["extra"]) <= NOTICEABLE


def text(view: SwapsView) -> str:
    """What a console of 80 columns shows."""
    out = StringIO()
    show_swaps(view, Console(file=out, width=80, highlight=False, color_system=None))
    return out.getvalue()


@pytest.mark.parametrize("name", MACHINES)
def test_text_fits_and_names_each_exchange_once(name: str) -> None:
    """80 columns, each place in the board's words, useful gains with the view's figures."""
    view = answer(name)
    shown = text(view)
    flat = " ".join(shown.split())

    assert all(len(line) <= 80 and line == line.rstrip() for line in shown.splitlines())
    for one in view.swaps:
        for exchange in one.exchanges:
            if exchange.goal:
                assert exchange.place in flat
                assert exchange.title.rpartition(", ")[2] in flat
        if one.verdict == "faster":
            assert f"{signed_percent(one.extra or 0)} more, {signed_percent(one.gain or 0)} over" in flat
    lines = [line for line in shown.splitlines() if line.startswith("  - ")]
    assert len(lines) == len(set(lines))


def test_nothing_changes_and_it_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    """Spares that bring nothing are listed as such, in so many words, with exit code 1."""
    code = run(["swap", NEW])
    out = capsys.readouterr().out

    assert code == 1
    assert "Nothing in the spares box makes this machine faster." in out
    assert "Would change nothing that anybody notices" in out
    assert all(one.verdict != "faster" for one in answer(NEW).swaps)


def test_what_failed_in_the_logbook_counts(tmp_path: Path) -> None:
    """After a crash on record of the best settings, they are no longer the best with or without spares."""
    path = tmp_path / "mill.toml"
    copy_packed(OLD, path)
    before = swap(Question(str(path)))
    best = best_settings(Question(str(path)))
    failed = Report("failed", symptoms=("memory-error",), hours=0.1)
    record(Question(str(path), sets=best), failed, now=datetime(2026, 2, 3, tzinfo=UTC))
    after = swap(Question(str(path)))

    assert before.best_gain is not None and after.best_gain is not None
    assert after.best_gain < before.best_gain
    assert best_settings(Question(str(path))) != best
    gains = [{swap_id(one): one.gain for one in view.swaps} for view in (before, after)]
    assert gains[0].keys() & gains[1].keys()
    assert all(gains[1][key] != gains[0][key] for key in gains[0].keys() & gains[1].keys())


def best_settings(question: Question) -> tuple[str, ...]:
    """The fastest settings of the machine as it is, as ``--set`` takes them."""
    bench = put_on_bench(question)
    best = swaps.best_of(bench.machine, wanted(bench.machine))
    assert best is not None
    return tuple(f"{option}={choice}" for option, choice in best.settings.items())


def swap_id(one: SwapView) -> tuple[tuple[str, str], ...]:
    """Slots and parts of an exchange."""
    return tuple((exchange.slot, exchange.goal) for exchange in one.exchanges)


def test_pairs_set_aside_are_told() -> None:
    """How many pairs were not judged, and why, stands in the text and in the data."""
    view = replace(answer(OLD), pairs=PairsView(3, 2, 1))
    flat = " ".join(text(view).split())

    assert "3 pairs of exchanges were judged. 2 more bring no more than one part alone" in flat
    assert "1 more was left aside" in flat
    assert view.to_dict()["pairs"] == {"judged": 3, "ruled_out": 2, "left": 1}
    assert "left aside" not in text(answer(OLD))


def test_no_spares_at_all_is_bad_input() -> None:
    """Spares that are all fitted already leave nothing to look at: one line says what to do."""
    parts = (
        "cpu=486dx-50", "local-1=display-vl-60", "cache-0=sram-32kx8-15", "cache-1=sram-32kx8-15",
        "tag=sram-32kx8-15",
    )  # fmt: skip
    with pytest.raises(UsageError, match="--market"):
        swap(Question(NEW, parts=parts))
