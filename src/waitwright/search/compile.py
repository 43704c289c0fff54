"""Machine + rules + workload -> :class:`Problem`: options become variables, rules become tables."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from waitwright.belief.cloud import Cloud
from waitwright.belief.survival import RuleSurvival
from waitwright.ids import ChoiceId, OptionId, Settings
from waitwright.machine import Machine
from waitwright.search.problem import Constraint, Cost, Problem, Survival, Variable
from waitwright.timing.bind import BoundRules
from waitwright.timing.tables import budget_table, limit_table, logic_table
from waitwright.workload.model import EventTable


def compile_rated(machine: Machine, rules: BoundRules, events: Sequence[EventTable]) -> Problem:
    """The problem "fastest combination that every data-sheet maximum allows"."""
    return Problem(variables(machine), tuple(rated_constraints(machine, rules)), costs(machine, events))


def rated_constraints(machine: Machine, rules: BoundRules) -> Iterable[Constraint]:
    """What logic and data-sheet maxima allow: one table for each rule that decides."""
    yield from logic_constraints(machine, rules)
    place = _places(machine)
    for budget in rules.budgets:
        if not budget.rule.advisory:
            yield Constraint(budget.id, _scope(place, budget.scope), ~budget_table(machine, budget).short)
    for limit in rules.limits:
        if not limit.rule.advisory:
            yield Constraint(limit.id, _scope(place, limit.scope), ~limit_table(machine, limit).short)


def compile_likely(
    machine: Machine,
    rules: BoundRules,
    events: Sequence[EventTable],
    tables: Sequence[RuleSurvival],
    cloud: Cloud,
) -> Problem:
    """The problem "fastest combination whose odds of passing the soak test reach a level"."""
    place = _places(machine)
    return Problem(
        variables(machine),
        tuple(logic_constraints(machine, rules)),
        costs(machine, events),
        tuple(
            Survival(table.bound.id, _scope(place, table.scope), table.rows, table.draws) for table in tables
        ),
        cloud.weights,
    )


def variables(machine: Machine) -> tuple[Variable, ...]:
    """One variable for each option, in the board's order."""
    return tuple(
        Variable(
            option.id,
            len(option.choices),
            [choice.id for choice in option.choices].index(machine.current[option.id]),
        )
        for option in machine.options
    )


def costs(machine: Machine, events: Iterable[EventTable]) -> tuple[Cost, ...]:
    """One cost for each event, in picoseconds per 1000 instructions."""
    place = _places(machine)
    return tuple(Cost(table.event.id, _scope(place, table.scope), table.values) for table in events)


def logic_constraints(machine: Machine, rules: BoundRules) -> Iterable[Constraint]:
    """The exact requirements between options."""
    place = _places(machine)
    for rule in rules.logic:
        yield Constraint(rule.id, _scope(place, rule.scope), ~logic_table(machine, rule))


def held(
    machine: Machine, settings: Mapping[OptionId, ChoiceId], options: Iterable[OptionId]
) -> dict[int, int]:
    """Variables to hold at their choice in *settings*, for :func:`waitwright.search.topk.hold`."""
    place = _places(machine)
    numbers = choice_numbers(machine, settings)
    return {place[option]: numbers[place[option]] for option in options}


def choice_numbers(machine: Machine, settings: Mapping[OptionId, ChoiceId]) -> tuple[int, ...]:
    """*settings* as choice numbers in variable order."""
    return tuple(
        [choice.id for choice in option.choices].index(settings[option.id]) for option in machine.options
    )


def settings_of(machine: Machine, values: Sequence[int]) -> Settings:
    """Choice numbers in variable order as settings."""
    return {
        option.id: option.choices[value].id for option, value in zip(machine.options, values, strict=True)
    }


def _places(machine: Machine) -> dict[OptionId, int]:
    return {option.id: index for index, option in enumerate(machine.options)}


def _scope(place: Mapping[OptionId, int], scope: Sequence[OptionId]) -> tuple[int, ...]:
    return tuple(place[option] for option in scope)
