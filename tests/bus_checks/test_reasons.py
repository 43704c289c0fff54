"""What ``why`` says of each bus: the signal path, the time there and needed, the symptom, the way out.

Times are worked out here from the clocks and the figures of parts; where a figure is published, the document
stands beside it.  What each sum is made of is checked in tests/published.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from io import StringIO

import pytest
from rich.console import Console

from tests.workshop import NEW, OLD
from waitwright.api.judging import judge
from waitwright.api.opening import Question, put_on_bench
from waitwright.api.why import why
from waitwright.explain.members import TIERS
from waitwright.explain.telling import Teller
from waitwright.report.margin_view import BudgetView, LimitView, RuleMargin
from waitwright.report.text.why import show_why
from waitwright.report.views import WhyView

NET, PCI = "wharf-386dx33-net", "fairlead-486dx4"
FAST = "isa-clock=clk2-4"
"""16.67 MHz on a 33 MHz board, 25 MHz on a 50 MHz one."""


@cache
def asked(name: str, sets: tuple[str, ...] = (), parts: tuple[str, ...] = ()) -> WhyView:
    """The answer to a question."""
    return why(Question(name, sets=sets, parts=parts))


@cache
def told(name: str, sets: tuple[str, ...], parts: tuple[str, ...]) -> dict[str, tuple[RuleMargin, str]]:
    """What falls short by data sheet, as ``why`` shows it, with its sentence: what it says without odds."""
    bench = put_on_bench(Question(name, sets=sets, parts=parts))
    judged, teller = judge(bench, seed=0, hours=None), Teller(bench.machine)
    sentences = {m.bound.id: teller.verdict(m, bench.settings) for m in judged.margins.short}
    return {rule.id: (rule, sentences[rule.id]) for rule in judged.rules if rule.rated == "falls short"}


@dataclass(frozen=True)
class Path:
    """A signal path that falls short.

    Attributes:
        has: Nanoseconds that there are.
        needs: Nanoseconds of each delay, in the order in which the signal meets them.
        shows: Symptoms on the bench.
        helps: What the advice names first.
    """

    name: str
    rule: str
    has: Fraction | float
    needs: tuple[float, ...]
    shows: tuple[str, ...]
    helps: str
    sets: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()


T60, T40, T90 = 60, 40, 90
"""ISA periods at 16.67, 25 and 11.11 MHz, in ns."""

PATHS = {
    # CS8900A data sheet DS271F2, pp. 114-115: 135 ns from I/O command to data; P21028 figures leave 132 at
    # 8.33 MHz and one wait, and 45 ns less where one and a half clocks are of 90 ns.
    "network card, 16-bit port": Path(
        NET, "isa.read.io16@a3", 1.5 * T90, (15, 33, 135), ("port-error", "hang"), "wait state",
        ("bus-clock=cpu-3", "at-io16=1"),
    ),
    "network card of another make": Path(
        OLD, "isa.read.io16@isa-3", 1.5 * T60, (12, 15, 120), ("port-error", "hang"), "wait state",
        (FAST, "isa-io=1"), ("isa-3=network-isa16",),
    ),
    "serial card, 8-bit port": Path(
        OLD, "isa.read.io8@isa-3", 4.5 * T40, (10, 15, 200), ("port-error", "hang"), "wait state",
        (FAST, "isa-8bit=4", "host-clock=50"), ("isa-3=serial-isa8-old",),
    ),
    "16-bit decode window": Path(
        OLD, "isa.decode.mem16@isa-2", T40, (18, 25), ("display-artefact", "hang"), "bus clock",
        (FAST, "host-clock=50"),
    ),
    "zero-wait request": Path(
        OLD, "isa.zero-wait.request@isa-2", T40 / 2, (6, 20), ("display-artefact", "hang"), "zero-wait",
        (FAST, "isa-zero-wait=granted", "host-clock=50"),
    ),
    "zero-wait command": Path(
        OLD, "isa.zero-wait.width@isa-2", T60, (10, 55), ("display-artefact", "hang"), "zero-wait",
        (FAST, "isa-zero-wait=granted"),
    ),
    "display memory": Path(
        OLD, "display.memory.mem16@isa-2", 2 * T60, (175,), ("display-artefact",), "zero-wait",
        (FAST, "isa-memory=0"),
    ),
    # ATA PIO mode 0: 165 ns command, 600 ns cycle (the kernel's table of mode timing).
    "drive on the ISA bus, command": Path(
        OLD, "ata.isa.width16@drive-isa", 1.5 * T60, (12, 165), ("disk-error", "hang"), "wait state",
        (FAST, "isa-io=1"),
    ),
    "drive on the ISA bus, cycle": Path(
        OLD, "ata.isa.cycle16@drive-isa", 1.5 * T60 + 2 * T60 + 0.5 * T60 + 120, (600,),
        ("disk-error", "hang"), "recovery", (FAST, "isa-io=1", "isa-rest=2-4"),
    ),
    "drive registers, 8-bit": Path(
        OLD, "ata.isa.width8@drive-isa", 4.5 * T60, (10, 290), ("disk-error", "hang"), "wait state",
        (FAST, "isa-8bit=4"),
    ),
    # PIO mode 2 of 100 ns against what mode 3 gives: 80 ns, here in whole PCI clocks of 30.
    "drive on a port": Path(
        PCI, "ata.port.width16@drive", 3 * 30, (100,), ("disk-error", "hang"), "",
        ("drive-mode=4",), ("drive=drive-pio-2",),
    ),
    # SC400 local-bus figures (P21028, table 39): claim valid 20 ns after the address, ready 3 to 18 ns.
    "local bus, claim": Path(
        NEW, "local-bus.claim@local-1", 25, (14, 20, 8), ("no-start", "hang", "display-artefact"), "",
        ("host-clock=40", "local-claim=1"),
    ),
    "local bus, ready straight": Path(
        NEW, "local-bus.ready.cpu@local-1", 20, (18, 5), ("hang", "reboot"), "",
        ("host-clock=50", "local-ready=straight"),
    ),
    "local bus, ready through the logic": Path(
        NEW, "local-bus.ready.logic@local-2", 20, (18, 7), ("hang", "reboot", "disk-error"), "",
        ("host-clock=50",),
    ),
    # PCI: 11 + 10 + 2 + 7 = 30 ns, from memory with high confidence.
    "PCI above its clock": Path(
        PCI, "pci.path@pci-1", 25, (11, 10, 2, 7), ("hang", "display-artefact", "no-start"), "PCI clock",
        ("host-clock=40", "pci-clock=all"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", PATHS.values(), ids=PATHS.keys())
def test_each_path_is_told_with_its_times_symptom_and_advice(case: Path) -> None:
    """The ledger has the time there is and each delay, and a sentence tells what is missing."""
    rule, sentence = told(case.name, case.sets, case.parts)[case.rule]
    assert isinstance(rule, BudgetView)

    assert rule.available_ns == pytest.approx(float(case.has), abs=0.011)
    assert tuple(line.ns for line in rule.delays) == pytest.approx(case.needs, abs=0.011)
    missing = sum(case.needs) - float(case.has)
    assert rule.margin_ns == pytest.approx(-missing, abs=0.02)
    assert all(line.name and line.source for line in (*rule.windows, *rule.delays))
    assert rule.symptoms == case.shows
    assert case.helps in rule.advice
    assert f"'{rule.title}'" in sentence
    assert sentence.endswith(f"short by {missing:g} ns.")


LATE = ("isa-1=multi-io-isa-late", "isa-3=none", "drive-isa=drive-pio-3")
"""Cards and a drive that bear a fast bus clock."""

WAYS_OUT = {
    "zero-wait cycle of the display": (
        OLD, ("isa-clock=clk2-5", "isa-zero-wait=granted"), LATE, "isa-zero-wait=ignored"
    ),
    "display memory with one wait too few": (
        OLD, ("isa-clock=clk2-5", "isa-memory=0"), (*LATE, "isa-2=display-isa16-late-70"), "isa-memory=1"
    ),
    "network card": (NET, ("bus-clock=cpu-3", "at-io16=1"), (), "bus-clock=crystal"),
    "drive on a port": (PCI, ("drive-mode=4",), ("drive=drive-pio-2",), "drive-mode="),
    "PCI with the whole bus clock": (PCI, ("host-clock=40", "pci-clock=all"), (), "host-clock=33"),
    "local bus at 50 MHz": (NEW, ("host-clock=50",), (), "host-clock=33"),
    "claim sampled too early": (NEW, ("local-claim=1",), (), "local-claim=2"),
}  # fmt: skip
"""Where a machine stands, and what a practitioner would try first."""


@pytest.mark.parametrize(("name", "sets", "parts", "first"), WAYS_OUT.values(), ids=WAYS_OUT.keys())
def test_the_gentlest_way_out_comes_first(
    name: str, sets: tuple[str, ...], parts: tuple[str, ...], first: str
) -> None:
    """A wait, a refused request or a divided clock comes before another clock of the machine or a part."""
    remedies = asked(name, sets, parts).help.remedies
    hardness = [TIERS.index(one.kind) for one in remedies if one.kind in TIERS]

    assert remedies[0].change.startswith(first)
    assert hardness == sorted(hardness)


@dataclass(frozen=True)
class Rating:
    """A rating that is passed, in the unit of the rule."""

    name: str
    rule: str
    value: float
    limit: float
    shows: tuple[str, ...]
    sets: tuple[str, ...]
    parts: tuple[str, ...] = ()


RATINGS = {
    # 82C37A data sheet, 1997: 8 MHz.
    "DMA at the full bus clock": Rating(
        OLD, "dma.clock", 16.667, 8, ("disk-error", "sound-fault", "hang"), ("dma-clock=full", FAST)
    ),
    "DMA at the full, nominal bus clock": Rating(
        OLD, "dma.clock", 8.333, 8, ("disk-error", "sound-fault", "hang"),
        ("dma-clock=full", "isa-clock=clk2-8")
    ),
    "old serial card": Rating(
        OLD, "isa.clock.port@isa-3", 16.667, 8.333, ("port-error", "hang"), (FAST,),
        ("isa-3=serial-isa8-old",),
    ),
    "sound card": Rating(OLD, "isa.clock.sound@isa-3", 16.667, 10, ("sound-fault", "hang"), (FAST,)),
    # Local-bus loads at 50 MHz: one by the second revision, none in slots by the first.
    "local-bus loads": Rating(
        NEW, "local-bus.loads", 2, 1, ("no-start", "hang", "disk-error"), ("host-clock=50",)
    ),
    "PCI card": Rating(
        PCI, "pci.clock@pci-1", 40, 33.333, ("hang", "display-artefact", "no-start"),
        ("host-clock=40", "pci-clock=all")
    ),
    "PIO mode of the port": Rating(
        PCI, "ata.port.mode@drive", 4, 2, ("disk-error", "hang"), ("drive-mode=4",),
        ("drive=drive-pio-2",),
    ),
    # Intel386 DX, 33 MHz: CLK2 of 15 ns at least, 33.3 MHz of core clock.
    "386 above its CLK2": Rating(
        OLD, "cpu.core-clock", 40, 33.333, ("no-start", "hang", "reboot"), ("host-clock=40",)
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", RATINGS.values(), ids=RATINGS.keys())
def test_each_rating_is_told_with_its_symptom(case: Rating) -> None:
    """The value, the rating, the symptom and some advice are there."""
    rule, sentence = told(case.name, case.sets, case.parts)[case.rule]
    assert isinstance(rule, LimitView)

    assert (rule.value, rule.limit) == pytest.approx((case.value, case.limit), abs=0.001)
    assert rule.symptoms == case.shows
    assert rule.advice and rule.source
    assert "against at most" in sentence


@pytest.mark.parametrize(
    ("part", "shown"),
    [
        ("network-isa16", "port-error"),
        ("sound-isa16", "sound-fault"),
        ("drive-port-isa", "disk-error"),
        ("display-isa16-70", "display-artefact"),
    ],
)
def test_a_card_shows_what_cards_of_its_use_show(part: str, shown: str) -> None:
    """Of one rule for all cards the symptoms are those of the card in the slot."""
    parts = ("isa-2=none", f"isa-3={part}")
    cards = {"port-error", "sound-fault", "disk-error", "display-artefact"}
    found = told(OLD, (FAST, "isa-io=1", "isa-memory=0"), parts)
    mine = [rule for name, (rule, _) in found.items() if name.endswith("@isa-3")]

    assert mine
    assert all(set(rule.symptoms) & cards == {shown} for rule in mine)


def test_the_board_itself_hangs_where_the_display_only_suffers() -> None:
    """Display memory too slow shows artefacts alone; the way through the board's logic can hang it all."""
    shown = {name: set(rule.symptoms) for name, (rule, _) in told(OLD, (FAST, "isa-memory=0"), ()).items()}

    assert shown["display.memory.mem16@isa-2"] == {"display-artefact"}
    assert "hang" in shown["isa.start.mem16@isa-2"]


def test_what_to_expect_is_what_most_likely_fails() -> None:
    """The symptoms of the rule that takes most of the odds come first, unlikely ones behind or not at all."""
    out = StringIO()
    console = Console(file=out, width=80, highlight=False, color_system=None)
    show_why(asked(OLD, ("isa-clock=clk2-5", "isa-zero-wait=granted", "isa-memory=1")), console)
    shown = " ".join(out.getvalue().split()).partition("where they fail: ")[2]

    assert shown.startswith("display-artefact")
