"""Words that all renderings share: rooms, clocks, verdicts counted, the soak test."""

from __future__ import annotations

from collections.abc import Iterable

from waitwright.explain.figures import several
from waitwright.report.margin_view import BudgetView, RuleMargin

ROOMS = {
    "cpu": "CPU and clocks",
    "l2": "Second-level cache",
    "dram": "Main memory",
    "refresh": "Refresh",
    "isa": "ISA bus",
    "ata": "Drives",
    "dma": "DMA",
    "local-bus": "Local bus",
    "pci": "PCI",
}
"""Rooms of the rulebook in the order in which they are shown."""

CLOCK_NAMES = {
    "host_mhz": "host",
    "core_mhz": "CPU core",
    "clk2_mhz": "CPU clock pin",
    "isa_mhz": "ISA",
    "dma_mhz": "DMA",
    "pci_mhz": "PCI",
    "vl_mhz": "local bus",
}
"""Clocks by their keys in the command contract."""


def tally(rules: Iterable[RuleMargin]) -> str:
    """How many of the deciding *rules* hold, are tight, fall short, are unchecked."""
    deciding = [rule.rated for rule in rules if not rule.advisory]
    told = [
        several(count, one, many)
        for verdict, one, many in (
            ("holds", "holds", "hold"),
            ("tight", "is tight", "are tight"),
            ("falls short", "falls short", "fall short"),
            ("unchecked", "is unchecked for want of a figure", "are unchecked for want of a figure"),
        )
        if (count := deciding.count(verdict))
    ]
    return ", ".join(told) or "no rule applies"


def soak(hours: float) -> str:
    """The soak test in words: ``a soak test of 4 hours``."""
    shown = f"{hours:g}"
    return f"a soak test of {shown} hour{'' if shown == '1' else 's'}"


def unit_of(rule: RuleMargin) -> str:
    """The unit of a rule's figures."""
    return "ns" if isinstance(rule, BudgetView) else rule.unit


def margin_of(rule: RuleMargin) -> float | None:
    """A rule's margin in its own unit."""
    return rule.margin_ns if isinstance(rule, BudgetView) else rule.margin
