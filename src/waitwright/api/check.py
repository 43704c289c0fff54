"""``check``: clocks, effective parameters and every margin of one combination."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from waitwright.api.judging import judge
from waitwright.api.opening import Bench, Question, put_on_bench
from waitwright.expr import Value, evaluate
from waitwright.ids import ChoiceId, OptionId
from waitwright.machine import FactTable, Machine
from waitwright.report.views import CautionView, CheckView, SettingView
from waitwright.rulebook.domain import Budget, Limit
from waitwright.timing.bind import Bound, BoundRules
from waitwright.timing.soak import DEFAULT_SOAK_HOURS
from waitwright.units import UNITS, display

CLOCKS = {
    "host_mhz": "host_clock",
    "core_mhz": "core_clock",
    "clk2_mhz": "clk2_clock",
    "isa_mhz": "isa_clock",
    "dma_mhz": "dma_clock",
    "pci_mhz": "pci_clock",
}
"""Keys of the command contract, and the facts behind them."""


def check(question: Question, *, hours: float | None = DEFAULT_SOAK_HOURS) -> CheckView:
    """Validate the machine and show every margin of its settings, with the odds of a soak of *hours*.

    With *hours* None data-sheet limits alone are asked, which takes less time.

    Raises:
        InputError: if machine, rules or wishes are faulty.
    """
    bench = put_on_bench(question)
    machine, facts = bench.machine, FactTable(bench.machine, bench.settings)
    judged = judge(bench, seed=question.seed, hours=hours)
    return CheckView(
        machine=machine.name,
        title=machine.title,
        note=machine.profile.note,
        board=machine.board.title,
        clocks=clocks(machine, facts),
        settings=setting_views(bench),
        parameters={
            name: _shown(facts(name), parameter.unit)
            for name, parameter in machine.rulebook.parameters.items()
        },
        budgets=judged.budgets,
        limits=judged.limits,
        conflicts=judged.conflicts,
        cautions=cautions(machine, facts, "check"),
        odds=judged.odds,
        hours=hours,
    )


def plain(settings: Mapping[OptionId, ChoiceId]) -> dict[str, str]:
    """Settings as the JSON contract has them: option id to choice id."""
    return {str(option): str(choice) for option, choice in settings.items()}


def clocks(machine: Machine, facts: FactTable) -> dict[str, float]:
    """The clocks that this machine has, in MHz."""
    shown: dict[str, float] = {}
    for key, name in CLOCKS.items():
        if name == "pci_clock" and not any(slot.bus == "pci" for slot in machine.board.slots):
            continue
        value = facts(name)
        if isinstance(value, int | Fraction):
            shown[key] = display(value, "MHz", 3)
    if any(slot.bus == "vl" for slot in machine.board.slots):
        shown["vl_mhz"] = shown["host_mhz"]
    return shown


def setting_views(bench: Bench) -> tuple[SettingView, ...]:
    """The settings in the owner's words and order; those that an automatic mode overrides are marked."""
    machine = bench.machine
    overridden = overridden_options(bench)
    return tuple(
        SettingView(
            option.id,
            bench.settings[option.id],
            option.label,
            option.choice(bench.settings[option.id]).label,
            option.kind,
            option.id in overridden,
        )
        for option in machine.options
    )


def overridden_options(bench: Bench) -> frozenset[str]:
    """Options that do nothing because an automatic mode sets every parameter of theirs."""
    machine = bench.machine
    facts = FactTable(machine, bench.settings)
    taken = {
        parameter
        for automatic in machine.board.automatics
        if evaluate(automatic.when, facts) is True
        for parameter in automatic.sets
    }
    return frozenset(option.id for option in machine.options if set(option.parameters) <= taken)


def cautions(
    machine: Machine, facts: FactTable, command: str, touched: Iterable[str] = ()
) -> tuple[CautionView, ...]:
    """Safety notes that belong to *command* on this machine.

    Args:
        touched: Rooms of the rulebook on which the changes that are proposed bear.
    """
    rooms = frozenset(touched)
    return tuple(
        CautionView(caution.id, caution.text)
        for caution in machine.rulebook.cautions.values()
        if command in caution.commands
        and (not caution.rooms or not rooms.isdisjoint(caution.rooms))
        and (caution.when is None or facts.value(caution.when) is True)
    )


def touched_rooms(rules: BoundRules, changed: Iterable[OptionId]) -> frozenset[str]:
    """Rooms of the rulebook with a rule that depends on one of the *changed* options."""
    options = frozenset(changed)
    bounds: list[Bound[Budget] | Bound[Limit]] = [*rules.budgets, *rules.limits]
    return frozenset(bound.rule.room for bound in bounds if options.intersection(bound.scope))


def _shown(value: Value, unit: str) -> float | str | bool | None:
    """A parameter's value in its own unit."""
    if isinstance(value, bool | str) or value is None:
        return value
    return display(value, unit, 4) if unit in UNITS else float(value)
