"""Smallest sets of choices and parts that cannot stand together by data-sheet limits.

Two notions meet here.  *Choices* are in conflict when no combination of the other options on this machine
satisfies every rule that decides.  *Parts* belong to a conflict as its argument sees it, that is, under the
rules of its derivation alone: put another part of the catalogue in the place of any one member, or leave
the slot empty where that may be, and these rules can be met with the choices of the conflict.  So every
member counts, and dropping any one lifts the conflict.

What the silicon asks for is never given up: soldered parts and the rules themselves are no members.  Rules
that nothing on the screen can meet on this machine are conflicts of parts alone; they are told first and
take no part in the others.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice, product

from waitwright.explain.derivation import Derivations, Step
from waitwright.explain.exchange import Exchanger, bears_on, names_of
from waitwright.explain.members import Choice, Member, PartGroup, choices_of, part_groups
from waitwright.explain.minimal import Members, all_minima, hitting_sets, preference, smallest
from waitwright.explain.verdicts import AnyBound, deciding, fails, verdict_of
from waitwright.ids import OptionId, Settings
from waitwright.machine import Machine
from waitwright.search.compile import choice_numbers, rated_constraints, variables
from waitwright.search.enumerate import CallBudget
from waitwright.search.feasible import Feasibility, reduce_all
from waitwright.search.problem import Constraint, Problem
from waitwright.timing.bind import BoundRules, only

DEFAULT_BUDGET = 2_000_000
"""Units of work (conditions, groups, rows) before an answer is "unknown"."""

MOST_EXCHANGES = 300
"""Exchanges of parts that are tried for one argument before its parts are taken as they are."""

_MOST_PART_SETS = 6


@dataclass(frozen=True, slots=True)
class Argument:
    """Why the members of a conflict cannot stand together; its rules alone are enough.

    Attributes:
        rules: Ids of the rules; without any one of them the argument breaks down.
        steps: The derivation; empty where it would have too many cases to be read.
    """

    rules: tuple[AnyBound, ...]
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Conflict:
    """Members that cannot stand together, the most easily given up first, with one argument or more."""

    members: tuple[Member, ...]
    arguments: tuple[Argument, ...]

    @property
    def choices(self) -> tuple[Choice, ...]:
        """The choices among the members."""
        return tuple(member for member in self.members if isinstance(member, Choice))

    @property
    def parts(self) -> tuple[PartGroup, ...]:
        """The parts among the members."""
        return tuple(member for member in self.members if isinstance(member, PartGroup))

    @property
    def rules(self) -> tuple[AnyBound, ...]:
        """Every rule that some argument rests on."""
        return tuple({bound.id: bound for one in self.arguments for bound in one.rules}.values())

    @property
    def words(self) -> tuple[str, ...]:
        """The members as the command line writes them."""
        return tuple(member.words for member in self.members)


@dataclass(frozen=True, slots=True)
class Conflicts:
    """What cannot stand together in one combination.

    Attributes:
        found: The preferred one first: the one whose hardest member is given up most easily.
        corrections: Smallest sets of members that lift every conflict when all of them are given up: the
            other choices then stand in some combination; with parts among them, some one exchange of
            these parts makes it stand.
        complete: True when these are all there are.
    """

    found: tuple[Conflict, ...]
    corrections: tuple[tuple[Member, ...], ...]
    complete: bool


Found = dict[tuple[Member, ...], list[Argument]]
"""Arguments by the members that they speak of."""


class ConflictFinder:
    """Finds conflicts on one machine."""

    def __init__(
        self, machine: Machine, rules: BoundRules, asked: Settings, *, budget: int = DEFAULT_BUDGET
    ) -> None:
        """Explain conflicts with numbers taken at the combination *asked* where that can be."""
        self._machine = machine
        self._bounds = deciding(rules)
        self._asked = asked
        self._budget = CallBudget(budget)
        self._place = {option.id: place for place, option in enumerate(machine.options)}
        numbers = choice_numbers(machine, asked)
        self._number = dict(enumerate(numbers))
        found = {one.id: one for one in rated_constraints(machine, rules)}
        # Rules in an order of their own, so that nothing depends on the order in which files are read:
        # those that fail now come first, for their numbers can be seen in the ledger.
        order = sorted(found, key=lambda rule: (self._allows(found[rule]), rule))
        self._tables = {rule: found[rule] for rule in order}
        self._derivations = Derivations(machine, self._bounds, self._tables, asked)
        self._groups = part_groups(machine)
        self._exchanger = Exchanger(machine)
        self._hopeless = tuple(self._unmeetable())
        lost = {rule for argument in self._hopeless for rule in argument}
        self._left = {rule: table for rule, table in self._tables.items() if rule not in lost}
        self._feasible = self._feasibility(self._left.values())

    def stands(self, options: Iterable[OptionId]) -> bool | None:
        """Whether the asked choices of *options* stand together in some combination; None if unknown."""
        if self._hopeless:
            return False
        return self._feasible.stands({self._place[o]: self._number[self._place[o]] for o in options})

    def find(self, options: Iterable[OptionId] | None = None) -> Conflicts:
        """Conflicts among the asked choices of *options* (all where None) and the parts."""
        wanted = [option.id for option in self._machine.options] if options is None else list(options)
        members = choices_of(self._machine, ((option, self._asked[option]) for option in wanted))
        variable = [self._place[member.option.id] for member in members]

        def oracle(chosen: Members) -> bool | None:
            return self._feasible.stands({variable[i]: self._number[variable[i]] for i in chosen})

        minima = all_minima(range(len(members)), oracle, self._hints(variable))
        found: Found = {}
        for rules in self._hopeless:
            self._add(found, (), rules)
        for conflict in minima.conflicts:
            choices = tuple(members[i] for i in sorted(conflict))
            for rules in self._arguments({variable[i]: self._number[variable[i]] for i in conflict}):
                self._add(found, choices, rules)
        conflicts, hits = self._settle(found, [*members, *self._groups])
        if not minima.complete or hits is None:
            proper = [] if self._hopeless else minima.corrections
            known = tuple(tuple(members[i] for i in sorted(one)) for one in proper)
            return Conflicts(conflicts, known, complete=False)
        named = {bound.id: bound for one in conflicts for bound in one.rules}
        works = (one for one in hits if self._corrects(one, members, list(named.values())))
        return Conflicts(conflicts, tuple(works), complete=True)

    # --------------------------------------------------------------------------- choices

    def _allows(self, constraint: Constraint) -> bool:
        return bool(constraint.allowed[tuple(self._number[variable] for variable in constraint.scope)])

    def _feasibility(self, constraints: Iterable[Constraint]) -> Feasibility:
        return Feasibility(Problem(variables(self._machine), tuple(constraints), ()), self._budget)

    def _unmeetable(self) -> Iterator[tuple[str, ...]]:
        """Sets of rules that no combination at all can meet on this machine."""
        left = dict(self._tables)
        for rule, table in self._tables.items():
            if not table.allowed.any():
                del left[rule]
                yield (rule,)
        while self._feasibility(left.values()).stands({}) is False:
            rules = self._enough(left, {})
            for rule in rules:
                del left[rule]
            yield rules

    def _hints(self, variable: Sequence[int]) -> Iterator[Members]:
        """Conflicts that the rules show by themselves: the choices that a failing rule depends on."""
        held = {one: self._number[one] for one in variable}
        for constraint in self._left.values():
            if any(not one.allowed.any() for one in reduce_all([constraint], held)):
                yield frozenset(i for i, one in enumerate(variable) if one in constraint.scope)

    def _arguments(self, held: Mapping[int, int]) -> list[tuple[str, ...]]:
        """Sets of rules that rule out the choices *held*: every single rule that does, else one set."""
        left = {one.id: one for one in reduce_all(self._left.values(), held)}
        alone: list[tuple[str, ...]] = [(rule,) for rule, table in left.items() if not table.allowed.any()]
        return alone or [self._enough(left, held)]

    def _enough(self, tables: Mapping[str, Constraint], held: Mapping[int, int]) -> tuple[str, ...]:
        """A smallest set among rules that leave nothing with *held*, the earlier ones preferred."""
        rules = list(tables)

        def oracle(chosen: Members) -> bool | None:
            return self._feasibility([tables[rules[i]] for i in sorted(chosen)]).stands(held)

        return tuple(rules[i] for i in sorted(smallest(range(len(rules)), oracle)))

    # ----------------------------------------------------------------------------- parts

    def _add(self, found: Found, choices: tuple[Choice, ...], rules: tuple[str, ...]) -> None:
        bounds = tuple(self._bounds[rule] for rule in rules)
        held = {self._place[one.option.id]: self._number[self._place[one.option.id]] for one in choices}
        argument = Argument(bounds, self._derivations.derive(rules, held))
        for parts in self._parts(bounds, choices):
            found.setdefault((*choices, *parts), []).append(argument)

    def _parts(self, rules: Sequence[AnyBound], choices: Sequence[Choice]) -> list[tuple[PartGroup, ...]]:
        """The smallest sets of parts without which *rules* can be met together with *choices*."""
        names = frozenset().union(*(names_of(self._machine, bound) for bound in rules))
        near = [g for g in self._groups if any(bears_on(self._machine, g, bound) for bound in rules)]
        offers = [self._exchanger.best(group, names) for group in near]

        def oracle(kept: Members) -> bool | None:
            free = [i for i in range(len(near)) if i not in kept]
            for tried, parts in enumerate(product(*((near[i].part.id, *offers[i]) for i in free))):
                if tried == MOST_EXCHANGES:
                    return None
                exchange = {
                    near[i]: part for i, part in zip(free, parts, strict=True) if part != near[i].part.id
                }
                if exchange and self._met(rules, choices, exchange):
                    return True
            return False

        minima = all_minima(range(len(near)), oracle, most=_MOST_PART_SETS)
        if not minima.conflicts:
            return [tuple(near)]
        return [tuple(near[i] for i in sorted(conflict)) for conflict in minima.conflicts]

    def _met(
        self, rules: Sequence[AnyBound] | None, choices: Sequence[Choice], exchange: Mapping[PartGroup, str]
    ) -> bool:
        """Whether *rules*, or all, can be met together with *choices* after an exchange of parts."""
        machine, bound_rules = self._exchanger.built(exchange)
        wanted = deciding(bound_rules).keys() if rules is None else {bound.id for bound in rules}
        bounds = {rule: bound for rule, bound in deciding(bound_rules).items() if rule in wanted}
        held = {one.option.id: one.choice for one in choices}
        if all(set(bound.scope) <= set(held) for bound in bounds.values()):
            settings = {**self._asked, **held}
            return not any(fails(verdict_of(machine, bound, settings)) for bound in bounds.values())
        constraints = rated_constraints(machine, only(bound_rules, wanted))
        feasible = Feasibility(Problem(variables(machine), tuple(constraints), ()), self._budget)
        return feasible.stands({self._place[o]: self._number[self._place[o]] for o in held}) is True

    # --------------------------------------------------------------------------- together

    def _settle(
        self, found: Found, order: Sequence[Member]
    ) -> tuple[tuple[Conflict, ...], list[tuple[Member, ...]] | None]:
        """Conflicts in order, those that contain a smaller one dropped, and all smallest sets that hit them.

        Conflicts of parts alone rest on rules that the others leave aside, and drop none of them.  None in
        place of the sets when they are too many.
        """
        place = {member.words: number for number, member in enumerate(order)}
        sets = {frozenset(place[member.words] for member in members): members for members in found}
        of_choices = [one for one in sets if any(isinstance(order[i], Choice) for i in one)]
        least = sorted((one for one in sets if not any(other < one for other in of_choices)), key=preference)
        conflicts = tuple(Conflict(sets[one], tuple(found[sets[one]])) for one in least)
        hits = hitting_sets(one for one in least if one)
        if hits is None:
            return conflicts, None
        return conflicts, [tuple(order[i] for i in sorted(one)) for one in hits if one]

    def _corrects(
        self, given_up: Sequence[Member], choices: Sequence[Choice], rules: Sequence[AnyBound]
    ) -> bool:
        """Whether one exchange of the parts given up lets the other choices stand.

        The conflicts' *rules* are tried first, for they rule out most exchanges; but with a part gone
        a conflict may come to light that it hid, so that all rules have to be met in the end.  Choices
        alone need no proof: what hits every smallest conflict of choices leaves a combination.
        """
        groups = [member for member in given_up if isinstance(member, PartGroup)]
        if not groups:
            return True
        kept = [choice for choice in choices if choice not in given_up]
        names = frozenset().union(*(names_of(self._machine, bound) for bound in rules))
        offers = [self._exchanger.best(group, names) for group in groups]
        exchanges = islice(product(*offers), MOST_EXCHANGES)
        offered = (dict(zip(groups, parts, strict=True)) for parts in exchanges)
        return any(self._met(rules, kept, one) and self._met(None, kept, one) for one in offered)
