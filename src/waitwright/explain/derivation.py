"""Why some choices cannot stand together, as data: cases, and in each case a rule with its numbers.

A derivation is checked as easily as it is read.  Its cases cover every choice of the options that are not
part of the conflict; in each case one rule fails whatever the remaining options are, and the numbers are
those of the best that the remaining options can do.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from waitwright.explain.verdicts import AnyBound, Verdict, distance, distances, verdict_of
from waitwright.ids import ChoiceId, OptionId, Settings
from waitwright.machine import Machine
from waitwright.rulebook.profiles import ChoiceDef, OptionDef
from waitwright.search.feasible import reduce_all, reduce_constraint
from waitwright.search.problem import Constraint

MOST_STEPS = 64
"""A derivation with more cases convinces nobody; the rules are then named without it."""


@dataclass(frozen=True, slots=True)
class Case:
    """An option that is not part of the conflict, at any of some choices."""

    option: OptionDef
    choices: tuple[ChoiceDef, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """One case of a derivation: the rule that fails in it, with the least that it fails by.

    Attributes:
        cases: What the step supposes of options outside the conflict; none for a rule that always fails.
        verdict: The rule under ``settings``, where it fails least.
        settings: The combination that the numbers belong to.
        spread: True where other choices of the remaining options make it worse.
    """

    cases: tuple[Case, ...]
    verdict: Verdict
    settings: Settings = field(compare=False)
    spread: bool = False

    @property
    def bound(self) -> AnyBound:
        """The rule."""
        return self.verdict.bound


class Derivations:
    """Derives failures of rules on one machine.

    Args:
        asked: The combination that the question is about; numbers are taken there where it does as well
            as any other.
    """

    def __init__(
        self,
        machine: Machine,
        bounds: Mapping[str, AnyBound],
        tables: Mapping[str, Constraint],
        asked: Settings,
    ) -> None:
        self._machine = machine
        self._bounds = bounds
        self._tables = tables
        self._asked = asked
        self._options = machine.options
        self._margins: dict[str, NDArray[np.float64] | None] = {}

    def derive(self, rules: Sequence[str], held: Mapping[int, int]) -> tuple[Step, ...]:
        """Steps that show why *rules* leave nothing with the options *held* (variable to choice number).

        Empty where more than :data:`MOST_STEPS` would be needed.
        """
        constraints = [self._tables[rule] for rule in rules]
        steps: list[Step] = []
        for step in self._split(constraints, dict(held), ()):
            steps.append(step)
            if len(steps) > MOST_STEPS:
                return ()
        return tuple(_joined(steps))

    def _split(
        self, constraints: Sequence[Constraint], held: dict[int, int], cases: tuple[Case, ...]
    ) -> Iterator[Step]:
        left = reduce_all(constraints, held)
        for constraint in left:
            if not constraint.allowed.any():
                yield self._step(self._tables[constraint.id], held, cases)
                return
        variable = _branch(left)
        option = self._options[variable]
        for place, choice in enumerate(option.choices):
            yield from self._split(left, {**held, variable: place}, (*cases, Case(option, (choice,))))

    def _step(self, constraint: Constraint, held: Mapping[int, int], cases: tuple[Case, ...]) -> Step:
        bound = self._bounds[constraint.id]
        free = reduce_constraint(constraint, held).scope
        settings = dict(self._asked)
        for variable in constraint.scope:
            if variable in held:
                self._put(settings, variable, held[variable])
        table = self._distances(constraint)
        spread = False
        if table is not None and free:
            within = table[tuple(held.get(variable, slice(None)) for variable in constraint.scope)]
            best = float(within.max())
            spread = bool(within.min() < best)
            here = tuple(self._number(settings, variable) for variable in free)
            if within[here] < best:
                for variable, place in zip(free, np.argwhere(within == best)[0].tolist(), strict=True):
                    self._put(settings, variable, place)
        verdict = verdict_of(self._machine, bound, settings)
        if verdict is None:
            raise ValueError(f"{bound.id} does not fail here")
        return Step(cases, verdict, settings, spread)

    def _distances(self, constraint: Constraint) -> NDArray[np.float64] | None:
        """How far the rule is from failing, over its scope; None for logic, which holds or does not."""
        if constraint.id not in self._margins:
            self._margins[constraint.id] = distances(self._machine, self._bounds[constraint.id])
        return self._margins[constraint.id]

    def _put(self, settings: dict[OptionId, ChoiceId], variable: int, place: int) -> None:
        option = self._options[variable]
        settings[option.id] = option.choices[place].id

    def _number(self, settings: Settings, variable: int) -> int:
        option = self._options[variable]
        return [choice.id for choice in option.choices].index(settings[option.id])


def _branch(left: Sequence[Constraint]) -> int:
    """The option to tell cases by: one that most of the rules depend on, the first of these."""
    count: dict[int, int] = {}
    for constraint in left:
        for variable in constraint.scope:
            count[variable] = count.get(variable, 0) + 1
    return min(count, key=lambda variable: (-count[variable], variable))


def _joined(steps: Sequence[Step]) -> Iterator[Step]:
    """Steps in which neighbouring choices of one option fail by one rule as one step."""
    held: Step | None = None
    for step in steps:
        joined = None if held is None else _join(held, step)
        if held is not None and joined is None:
            yield held
        held = joined or step
    if held is not None:
        yield held


def _join(one: Step, other: Step) -> Step | None:
    alike = len(one.cases) == len(other.cases) > 0 and one.cases[:-1] == other.cases[:-1]
    if not alike or one.bound.id != other.bound.id or one.cases[-1].option.id != other.cases[-1].option.id:
        return None
    last = Case(one.cases[-1].option, (*one.cases[-1].choices, *other.cases[-1].choices))
    better = max((one, other), key=lambda step: distance(step.verdict))
    spread = one.spread or other.spread or distance(one.verdict) != distance(other.verdict)
    return replace(better, cases=(*one.cases[:-1], last), spread=spread)
