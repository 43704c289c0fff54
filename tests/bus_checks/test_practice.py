"""What practitioners report of ISA clocks on a 33 MHz board for both CPU families.

Common practice, no published source: with a 386 the bus ran reliably at 13.2 MHz, and the machine started
but did not run reliably at 16.5; with a 486 on the same board 16.5 ran, and 20 MHz (80/4) ran with artefacts
on the display, blamed on 70 ns display memory, 60 ns expected to cure it.  The trade says 13.2 and 16.5 of
what is 13.33 and 16.67 MHz here.  The cards are late ones that bear such clocks; no sound card, whose own
rating would be a second limit.  That the local bus takes display cards out of all this, and what that is
worth, stands in tests/published_speed.

Source: common practice, no source known.
"""

from __future__ import annotations

from functools import cache

import pytest

from tests.bus_checks.judged import soldered
from tests.workshop import OLD, named, rebuilt
from waitwright.api.check import check
from waitwright.api.opening import Question
from waitwright.api.why import why
from waitwright.belief.outlook import outlook
from waitwright.report.margin_view import BudgetView, LimitView
from waitwright.report.views import CheckView, WhyView
from waitwright.timing.bind import bind

CARDS = ("isa-1=multi-io-isa-late", "isa-3=none", "drive-isa=drive-pio-3")
AT_40 = ("cpu=486dx-40", "clock-generator=clockgen-80")
"""80 MHz over 4 is a bus clock of 20."""


@cache
def outcome(*parts: str, clock: str, display: str = "display-isa16-late-70", host: str = "33") -> CheckView:
    """The machine with well-chosen cards at an ISA clock, with the usual wait of 16-bit memory cycles."""
    sets = (f"isa-clock={clock}", f"host-clock={host}", "isa-memory=1")
    return check(Question(OLD, sets=sets, parts=(*CARDS, f"isa-2={display}", *parts)))


def odds(view: CheckView) -> float:
    """Odds of the whole machine, which must be known."""
    assert view.odds is not None
    return view.odds


def blamed(view: CheckView, below: float = 0.6) -> dict[str, tuple[str, ...]]:
    """Rules with odds under *below*, with the symptoms that they would show."""
    rules: tuple[BudgetView | LimitView, ...] = (*view.budgets, *view.limits)
    return {rule.id: rule.symptoms for rule in rules if rule.odds is not None and rule.odds < below}


def test_a_386_runs_reliably_at_13_mhz() -> None:
    """At 66.7/5 MHz the odds are better than 9 in 10, and nothing is to blame."""
    view = outcome("cpu=386dx-33", clock="clk2-5")

    assert view.clocks["isa_mhz"] == pytest.approx(13.33, abs=0.01)
    assert odds(view) >= 0.9
    assert not blamed(view)


def test_a_386_starts_and_is_not_reliable_at_16_5_mhz() -> None:
    """At 66.7/4 MHz it most likely fails, by symptoms of a machine that starts."""
    view = outcome("cpu=386dx-33", clock="clk2-4")
    reasons = blamed(view)

    assert odds(view) < 0.5
    assert set(reasons) == {"isa.start.mem16@isa-2"}
    assert all("no-start" not in symptoms for symptoms in reasons.values())


def test_a_486_on_the_same_board_runs_at_16_5_mhz() -> None:
    """With a 486 of the same clock, 66.7/4 MHz has odds of 9 in 10 and better."""
    view = outcome("cpu=486dx-33", clock="clk2-4")

    assert odds(view) >= 0.9
    assert not blamed(view)


def test_waits_do_not_help_the_386() -> None:
    """What ails the 386 at 16.5 MHz is due before the command: another wait brings nothing."""
    one, two = (
        check(
            Question(
                OLD,
                sets=("isa-clock=clk2-4", f"isa-memory={waits}"),
                parts=(*CARDS, "isa-2=display-isa16-late-70"),
            )
        )
        for waits in "12"
    )

    assert odds(two) == pytest.approx(odds(one), abs=0.05)
    assert odds(two) < 0.5


def test_display_memory_of_70_ns_shows_artefacts_at_20_mhz() -> None:
    """A 40 MHz 486 at 80/4 MHz: the one rule to blame says display memory, by artefacts alone."""
    view = outcome(*AT_40, clock="clk2-4", host="40")

    assert view.clocks["isa_mhz"] == 20
    assert blamed(view) == {"display.memory.mem16@isa-2": ("display-artefact",)}
    assert odds(view) < 0.1


def test_display_memory_of_60_ns_cures_it() -> None:
    """With 60 ns nothing is left to blame, and the odds are many times better."""
    slow, fast = (
        outcome(*AT_40, clock="clk2-4", host="40", display=f"display-isa16-late-{grade}")
        for grade in ("70", "60")
    )

    assert not blamed(fast)
    assert odds(fast) > 5 * odds(slow)
    # The system itself: all but the display memory stays as it was.
    rest = [
        {rule.id: rule.odds for rule in view.budgets if not rule.id.startswith("display.memory")}
        for view in (slow, fast)
    ]
    assert rest[0] == pytest.approx(rest[1], abs=0.03)


@cache
def explained(display: str) -> WhyView:
    """What ``why`` says of the 40 MHz 486 at 80/4 MHz."""
    sets = ("isa-clock=clk2-4", "host-clock=40", "isa-memory=1")
    return why(Question(OLD, sets=sets, parts=(*CARDS, f"isa-2={display}", *AT_40)))


def test_why_blames_display_memory_and_tells_the_dma_controller_apart() -> None:
    """At 20 MHz it names display memory with artefacts, and the 8 MHz DMA controller with floppy and sound.

    The board divides its DMA clock by two at most, so that 10 MHz it is.  A machine that shows artefacts and
    nothing else has a controller that bears it, or leaves floppy and sound alone.
    """
    view = explained("display-isa16-late-70")
    shown = {rule.id: rule for rule in view.short}
    memory, controller = shown["display.memory.mem16@isa-2"], shown["dma.clock"]

    assert memory.symptoms == ("display-artefact",)
    assert isinstance(memory, BudgetView) and (memory.available_ns, memory.spent_ns) == (150, 175)
    assert {"disk-error", "sound-fault"} <= set(controller.symptoms)
    assert "display-artefact" not in controller.symptoms
    assert isinstance(controller, LimitView) and (controller.value, controller.limit) == (10, 8)
    assert view.help.survival[0].id == memory.id and view.help.survival[0].share > 0.8
    assert "sound and the floppy drive" in controller.advice
    assert any("isa-clock=" in one.change for one in view.help.remedies)


def test_with_60_ns_every_rule_of_the_display_memory_holds() -> None:
    """What is left to lose is not the display memory's; the controller's clock is the largest part of it."""
    view = explained("display-isa16-late-60")
    memory = [rule for rule in (*view.short, *view.tight) if rule.id.startswith("display.memory")]

    assert all(rule.rated == "tight" and (rule.odds or 0) > 0.98 for rule in memory)
    assert [toll.id for toll in view.help.survival][:1] == ["dma.clock"]
    assert all(one.share < 0.05 for one in view.help.survival if one.id.startswith("display.memory"))


def test_a_controller_of_the_faster_grade_leaves_nothing_to_blame() -> None:
    """On a board with the 12.5 MHz grade the machine with 60 ns display memory most likely passes."""
    machine = rebuilt(
        OLD,
        what_if={"isa-2": "display-isa16-late-60"} | dict(word.split("=") for word in (*CARDS, *AT_40)),
        board=lambda board: soldered(board, {"dma": "dma-82c37a-12"}),
    )
    settings = named(machine, isa_clock="clk2-4", host_clock="40", isa_memory="1")

    assert outlook(machine, bind(machine), only=settings).odds(settings) > 0.75


@pytest.mark.parametrize("clock", ["clk2-6", "clk2-5", "clk2-4"])
def test_the_isa_clock_does_nothing_to_a_display_card_on_the_local_bus(clock: str) -> None:
    """No margin of a card on the local bus changes with the ISA clock."""
    parts = (*CARDS, "isa-2=none", "local-1=display-vl-70")
    margins = [
        {
            rule.id: rule.margin_ns
            for rule in check(Question(OLD, sets=(f"isa-clock={choice}",), parts=parts)).budgets
            if rule.id.endswith("@local-1")
        }
        for choice in ("fixed", clock)
    ]

    assert margins[0] == margins[1]
    assert "local-bus.claim@local-1" in margins[0]


def test_a_local_bus_display_lets_the_386_go_faster() -> None:
    """Without a 16-bit memory card on the ISA bus a 386 runs it at 16.5 MHz."""
    parts = (*CARDS, "isa-2=none", "local-1=display-vl-70")
    view = check(Question(OLD, sets=("isa-clock=clk2-4",), parts=parts))

    assert odds(view) >= 0.9
