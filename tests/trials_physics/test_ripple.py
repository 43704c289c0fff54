"""Capacitors against ripple: the closed form against itself, common practice and a circuit simulator."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from math import inf, pi, sqrt
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from waitwright.rulebook.load import load_rulebook
from waitwright.trials.ripple import SUPPLY_PATH, Branch, capacitor, impedance, ripple_ratio

PARTS = load_rulebook().parts
OLD = capacitor(PARTS["cap-electrolytic-aged-47uf"])
BULK = capacitor(PARTS["cap-electrolytic-1000uf"])
CERAMIC = capacitor(PARTS["cap-ceramic-chip-100nf"])
LEADED = capacitor(PARTS["cap-ceramic-leaded-100nf"])

SETS: Mapping[str, Sequence[Branch]] = {
    "bulk alone": (BULK,),
    "ceramic alone": (CERAMIC,),
    "bulk and ceramic": (BULK, CERAMIC),
    "bulk and leaded ceramic": (BULK, LEADED),
    "aged and ceramic": (capacitor(PARTS["cap-electrolytic-aged-1000uf"]), CERAMIC),
    "aged on the board, behind its supply": (SUPPLY_PATH, OLD),
    "mended board behind its supply": (SUPPLY_PATH, OLD, BULK, CERAMIC),
    "all sorts": (
        Branch(0.02, 80e-9),
        Branch(0.3, 20e-9, 220e-6),
        Branch(0.1, 5e-9, 1e-6),
        Branch(0.05, 2e-9, 1e-8),
    ),
}


# ----------------------------------------------------------------------------------- closed form


def test_catalogue_parts_become_branches() -> None:
    """Capacitance and resistance are the catalogue's; 0.1 uF that resonates at 15.9 MHz has 1 nH."""
    assert CERAMIC.farads == pytest.approx(1e-7) and CERAMIC.ohms == pytest.approx(0.03)
    assert CERAMIC.henries == pytest.approx(1.0e-9, rel=0.01)
    assert BULK.farads == pytest.approx(1e-3) and BULK.henries == pytest.approx(15e-9, rel=0.01)


def test_other_parts_are_no_capacitors() -> None:
    """A part without the rows of a capacitor is refused by name."""
    with pytest.raises(ValueError, match="has no capacitance"):
        capacitor(next(part for part in PARTS.values() if part.kind == "cpu"))


@pytest.mark.parametrize("branch", [BULK, CERAMIC, LEADED, OLD])
def test_one_capacitor_at_three_frequencies(branch: Branch) -> None:
    """Far below resonance it is its capacitance, at resonance its resistance, far above its inductance."""
    resonance = 1 / (2 * pi * sqrt(branch.henries * branch.farads))
    low, high = 1.0, 1e10

    assert impedance([branch], resonance) == pytest.approx(branch.ohms)
    assert impedance([branch], low) == pytest.approx(1 / (2 * pi * low * branch.farads), rel=0.01)
    assert impedance([branch], high) == pytest.approx(2 * pi * high * branch.henries, rel=0.01)


def test_a_path_without_capacitor() -> None:
    """The supply's path is resistance and inductance alone."""
    assert inf == SUPPLY_PATH.farads
    assert impedance([SUPPLY_PATH], 1e-3) == pytest.approx(SUPPLY_PATH.ohms)


@given(st.floats(1e2, 1e8), st.integers(1, 6))
def test_equal_branches_share(frequency: float, count: int) -> None:
    """Equal capacitors in parallel have the impedance of one, divided by their number."""
    assert impedance([BULK] * count, frequency) == pytest.approx(impedance([BULK], frequency) / count)


@given(st.floats(1e2, 1e8), st.permutations([SUPPLY_PATH, OLD, BULK, CERAMIC]))
def test_order_of_branches(frequency: float, branches: list[Branch]) -> None:
    """The order of capacitors along a point does not matter."""
    assert impedance(branches, frequency) == pytest.approx(
        impedance([SUPPLY_PATH, OLD, BULK, CERAMIC], frequency)
    )


@given(st.floats(1e2, 1e8))
def test_ratios_chain(frequency: float) -> None:
    """Two changes one after the other multiply, and no change is a ratio of one."""
    steps = ([OLD], [OLD, BULK], [OLD, BULK, CERAMIC])
    product = 1.0
    for before, after in pairwise(steps):
        product *= ripple_ratio(before, after, frequency)

    assert ripple_ratio(steps[0], steps[-1], frequency) == pytest.approx(product)
    assert ripple_ratio([BULK], [BULK], frequency) == 1.0


@pytest.mark.parametrize(("ohms", "henries", "farads"), [(0, 1e-9, 1), (-1, 0, 1), (1, -1e-9, 1), (1, 0, 0)])
def test_impossible_branches(ohms: float, henries: float, farads: float) -> None:
    """A branch without resistance, or with a negative value, is refused."""
    with pytest.raises(ValueError, match="a branch needs"):
        Branch(ohms, henries, farads)


def test_nothing_in_parallel() -> None:
    """Without any branch there is no impedance."""
    with pytest.raises(ValueError, match="one branch or more"):
        impedance([], 1e6)


# ------------------------------------------------------------------------------- common practice


@pytest.mark.parametrize("khz", [20, 30, 40, 50])
def test_a_bulk_capacitor_halves_the_supply_s_ripple(khz: float) -> None:
    """Common practice, no source: 1000 uF at the CPU halves the ripple of a switching supply.

    Source: common practice, no source.
    """
    assert 0.4 < ripple_ratio([OLD], [OLD, BULK], khz * 1e3) < 0.6


@pytest.mark.parametrize("mhz", [10, 16, 25, 33])
def test_a_ceramic_takes_most_of_the_rest(mhz: float) -> None:
    """Common practice, no source: 0.1 uF in parallel takes most of the rest at the clock's frequencies.

    Source: common practice, no source.
    """
    assert ripple_ratio([OLD, BULK], [OLD, BULK, CERAMIC], mhz * 1e6) < 0.3


def test_an_aged_electrolytic_does_little() -> None:
    """With ten times the series resistance a bulk capacitor hardly lowers the ripple."""
    aged = capacitor(PARTS["cap-electrolytic-aged-1000uf"])

    assert ripple_ratio([OLD], [OLD, aged], 40e3) > 0.8


def test_long_leads_cost_the_ceramic_its_use() -> None:
    """Above its resonance a leaded ceramic is worse than one on the shortest leads."""
    with_chip, with_leads = (ripple_ratio([OLD, BULK], [OLD, BULK, one], 16e6) for one in (CERAMIC, LEADED))

    assert with_leads > 5 * with_chip


def test_a_resonance_can_make_ripple_worse() -> None:
    """Electrolytic inductance and ceramic capacitance in parallel resonate; more resistance damps it."""
    hertz = 1 / (2 * pi * sqrt((BULK.henries + CERAMIC.henries) * CERAMIC.farads))
    damped = replace(BULK, ohms=0.5)

    assert ripple_ratio([BULK], [BULK, CERAMIC], hertz) > 2
    assert ripple_ratio([damped], [damped, CERAMIC], hertz) < 1.2


# ----------------------------------------------------------------------------- circuit simulator


def netlist(sets: Mapping[str, Sequence[Branch]], output: Path) -> str:
    """Every set of branches on a node of its own, each fed with one ampere: its volts are ohms."""
    lines = ["* impedance of branches in parallel"]
    for number, branches in enumerate(sets.values()):
        lines.append(f"I{number} 0 n{number} DC 0 AC 1")
        for place, branch in enumerate(branches):
            name = f"{number}_{place}"
            end = "0" if branch.farads == inf else f"c{name}"
            lines.append(f"R{name} n{number} r{name} {branch.ohms!r}")
            lines.append(f"L{name} r{name} {end} {branch.henries!r}")
            if branch.farads != inf:
                lines.append(f"C{name} {end} 0 {branch.farads!r}")
                lines.append(f"Rdc{name} {end} 0 1e12")  # the operating point needs a path for direct current
    nodes = " ".join(f"vm(n{number})" for number in range(len(sets)))
    control = [".control", "set wr_singlescale", "set numdgt=12", "ac dec 25 1k 100meg"]
    return "\n".join([*lines, *control, f"wrdata {output.name} {nodes}", "quit", ".endc", ".end", ""])


@pytest.mark.skipif(
    shutil.which("ngspice") is None, reason="needs the circuit simulator ngspice (Debian package ngspice)"
)
def test_impedance_agrees_with_a_circuit_simulator(tmp_path: Path) -> None:
    """An AC analysis by ngspice finds the same impedances within 0.1 %, from 1 kHz to 100 MHz.

    Second opinion: ngspice, AC analysis.
    """
    circuit, output = tmp_path / "branches.cir", tmp_path / "ohms.data"
    circuit.write_text(netlist(SETS, output), "utf-8")
    command = [shutil.which("ngspice") or "", "-b", circuit.name]

    subprocess.run(command, cwd=tmp_path, capture_output=True, timeout=60, check=False)

    rows = [[float(cell) for cell in line.split()] for line in output.read_text("utf-8").splitlines()]
    assert len(rows) == 126 and len(rows[0]) == len(SETS) + 1
    for frequency, *ohms in rows:
        for (name, branches), found in zip(SETS.items(), ohms, strict=True):
            assert impedance(branches, frequency) == pytest.approx(found, rel=1e-3), (name, frequency)
