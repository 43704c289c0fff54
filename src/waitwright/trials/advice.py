"""What to run, what to watch and how to get back, for one trial."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from waitwright.rulebook.domain import Budget, Limit
from waitwright.rulebook.profiles import OptionDef
from waitwright.timing.bind import Bound

_SOAKS = {
    "l2": "Run a protected-mode program in extended memory, and unpack something large again and again.",
    "dram": "Run a memory test that walks patterns through all memory, then compile something large.",
    "refresh": "Run a memory test with pauses of some minutes between writing and reading back.",
    "isa": "Exercise every card at once: sound by DMA, network or serial transfers, display scrolling.",
    "ata": "Copy large files back and forth on a drive that may be lost, and compare every copy.",
    "dma": "Play sound by DMA while a floppy disk is read and compared.",
    "local-bus": "Run full-screen graphics while files are copied and compared.",
    "pci": "Run full-screen graphics while files are copied and compared.",
    "cpu": "Keep the CPU busy with long calculations whose results are checked.",
}
"""What brings out faults of each room of the rulebook (common practice, no source)."""

_AT_RISK = 0.995
_MOST_WATCHED = 3


def soak_plan(rules: Sequence[tuple[Bound[Budget] | Bound[Limit], float]], hours: float) -> tuple[str, ...]:
    """The soak test for the *rules* with their odds, riskiest first: what to run, for *hours* altogether."""
    rooms = dict.fromkeys(bound.rule.room for bound, odds in rules if odds < _AT_RISK)
    chosen = [room for room in rooms if room in _SOAKS][:_MOST_WATCHED] or ["cpu", "dram"]
    length = f"{hours:g} hour{'s' if hours != 1 else ''}"
    opening = f"Run for {length} in all, starting cold and ending warm; at least one cold start in between."
    return (opening, *(_SOAKS[room] for room in chosen))


def watch_list(rules: Sequence[tuple[Bound[Budget] | Bound[Limit], float]]) -> tuple[str, ...]:
    """What would show that a rule at risk has failed."""
    lines: list[str] = []
    for bound, odds in rules:
        if odds < _AT_RISK and len(lines) < _MOST_WATCHED:
            seen = ", ".join(bound.rule.symptoms) or "any failure"
            lines.append(f"{seen}: '{bound.title}' (holds with {100 * odds:.0f} %)")
    return tuple(lines) or (
        "Any failure at all: nothing is near its edge, so it would point away from timing.",
    )


def way_back(changed: Iterable[OptionDef]) -> tuple[str, ...]:
    """How to get back if the machine does not start."""
    changed = tuple(changed)
    lines = ["Write the present settings down before changing anything."]
    if any(option.kind == "jumper" for option in changed):
        labels = ", ".join(f"'{option.label}'" for option in changed if option.kind == "jumper")
        lines.append(f"Switch off, pull the mains plug, and put the jumper of {labels} back.")
    if any(option.kind == "setup" for option in changed):
        lines.append(
            "Load the firmware's default settings (the key or jumper is in the board's manual), "
            "then enter the proven settings again."
        )
    lines.append("If it still does not start, clear the settings memory as the board's manual tells.")
    return tuple(lines)
