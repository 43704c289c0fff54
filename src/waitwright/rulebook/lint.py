"""Checks of a whole rulebook: what no single file can show.

Errors stop loading.  Warnings are for the author of rules: something is declared that nothing uses.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from waitwright.errors import ExpressionError
from waitwright.expr import FLAG, Expression, Kind, check
from waitwright.nearest import did_you_mean
from waitwright.rulebook.domain import Budget, Limit, LogicRule, Rulebook
from waitwright.rulebook.kinds import TRAIT_PREFIX, Vocabulary, definitions, kind_of_unit, part_facts
from waitwright.schema.spans import KeyPath, dotted
from waitwright.units import NUMBER, TIME

ROOMS = ("l2", "dram", "refresh", "isa", "ata", "dma", "local-bus", "pci", "cpu")
COMMANDS = (
    "check", "rank", "why", "next", "record", "suspect", "swap", "reach", "sheet", "page", "new", "rules",
)  # fmt: skip
"""Commands that may show a caution."""

Severity = Literal["error", "warning"]
Space = Literal[
    "parameter",
    "counted fact",
    "fact",
    "rule",
    "event",
    "workload",
    "caution",
    "measurement",
    "suspect",
    "role",
    "row",
    "trait",
]
"""Kinds of things with ids of their own; budgets, limits and logic rules share the space of rules."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that the lint says.

    Attributes:
        space: What kind of thing it is about.
        name: Its id.
        path: Keys inside its entry; empty for the entry as a whole.
        undeclared: True where an unknown name is the matter; it may be due to another file's error.
    """

    severity: Severity
    space: Space
    name: str
    path: KeyPath
    message: str
    hint: str = ""
    undeclared: bool = False

    def __str__(self) -> str:
        place = f"{self.space} {self.name}" + (f", {dotted(self.path)}" if self.path else "")
        return f"{self.severity}: {place}: {self.message}" + (f" ({self.hint})" if self.hint else "")


def lint(rulebook: Rulebook) -> tuple[Finding, ...]:
    """Everything that is wrong or doubtful in *rulebook*, errors first, else in its order."""
    vocabulary = Vocabulary.of(rulebook)
    found = [
        *_clashes(rulebook),
        *_definitions(rulebook, vocabulary),
        *_circles(definitions(rulebook), rulebook),
        *_rules(rulebook, vocabulary),
        *_work(rulebook, vocabulary),
        *_suspects(rulebook, vocabulary),
        *_unused(rulebook),
    ]
    return tuple(sorted(found, key=lambda finding: finding.severity != "error"))


# ----------------------------------------------------------------------------------- expressions


@dataclass(frozen=True, slots=True)
class Scope:
    """The expressions of one thing: where findings belong, and which ``each`` role it stands in.

    ``each`` is None where one part among several may be named freely.
    """

    space: Space
    name: str
    vocabulary: Vocabulary
    each: str | None = None

    def error(self, path: KeyPath, message: str, hint: str = "", *, undeclared: bool = False) -> Finding:
        """An error about this thing."""
        return Finding("error", self.space, self.name, path, message, hint, undeclared)

    def check(
        self, path: KeyPath, expression: Expression | None, wanted: Kind | None = None
    ) -> Iterator[Finding]:
        """What is wrong with *expression*: unknown names, mixed dimensions, another kind than *wanted*."""
        if expression is None:
            return
        unknown = sorted(expression.names - self.vocabulary.kinds.keys())
        for name in unknown:
            hint = did_you_mean(name, self.vocabulary.kinds)
            yield self.error(path, f"unknown name {name!r}", hint, undeclared=True)
        if unknown:
            return
        try:
            check(expression, self.vocabulary.kinds, wanted)
        except ExpressionError as error:
            yield self.error(path, str(error))
            return
        if self.each is not None:
            yield from self._check_each(path, expression)

    def _check_each(self, path: KeyPath, expression: Expression) -> Iterator[Finding]:
        needed = frozenset().union(
            *(self.vocabulary.each_roles.get(name, frozenset()) for name in expression.names)
        )
        for role in sorted(needed - {self.each}):
            yield self.error(path, f"speaks of one {role} among several", f'add each = "{role}"')


def check_logic(rule: LogicRule, scope: Scope, roles: Mapping[str, bool]) -> Iterator[Finding]:
    """Errors of one logic rule; *roles* tells for every role whether it is an ``each`` role."""
    yield from _each(scope, rule.each, roles)
    yield from scope.check(("when",), rule.when, FLAG)
    yield from scope.check(("require",), rule.require, FLAG)


# ---------------------------------------------------------------------------------------- checks


def _clashes(rulebook: Rulebook) -> Iterator[Finding]:
    """One name, one meaning: parameters, counted facts, derived facts and part facts are all distinct."""
    kinds = {row.kind for row in rulebook.rows.values()}
    owners: dict[str, str] = {}
    for name, word in rulebook.roles.items():
        owners[f"{name}.present"] = "flag of a role"
        if word.kind not in kinds:
            message, hint = f"unknown kind of part {word.kind!r}", did_you_mean(word.kind, kinds)
            yield Finding("error", "role", name, ("kind",), message, hint, undeclared=True)
    for name, role, _ in part_facts(rulebook):
        if name in owners:
            row = name.removeprefix(f"{role}.")
            kind = rulebook.roles[role].kind
            owner = f"{kind}/{row}"
            yield Finding("error", "row", owner, (), f"{name!r} has two meanings", "rename the row")
        owners[name] = "row of a data sheet"
    spaces: tuple[tuple[Space, Iterable[str]], ...] = (
        ("counted fact", rulebook.counted),
        ("parameter", rulebook.parameters),
        ("fact", rulebook.facts),
    )
    for space, names in spaces:
        for name in names:
            if name in owners:
                yield Finding("error", space, name, (), f"{name!r} is already a {owners[name]}", "rename it")
            owners[name] = space


def _definitions(rulebook: Rulebook, vocabulary: Vocabulary) -> Iterator[Finding]:
    for name, word in rulebook.parameters.items():
        scope = Scope("parameter", name, vocabulary)
        yield from scope.check(("default",), word.default, kind_of_unit(word.unit))
    for name, fact in rulebook.facts.items():
        scope = Scope("fact", name, vocabulary)
        yield from scope.check(("expr",), fact.expression, kind_of_unit(fact.unit))


def _circles(computed: Mapping[str, Expression], rulebook: Rulebook) -> Iterator[Finding]:
    """Facts that need themselves, each circle once, told from its first name on."""
    state: dict[str, Literal["open", "done"]] = {}
    for start in computed:
        trail: list[tuple[str, Iterator[str]]] = []
        if start not in state:
            state[start] = "open"
            trail.append((start, iter(sorted(computed[start].names))))
        while trail:
            name, rest = trail[-1]
            following = next((inner for inner in rest if inner in computed), None)
            if following is None:
                state[name] = "done"
                trail.pop()
            elif following not in state:
                state[following] = "open"
                trail.append((following, iter(sorted(computed[following].names))))
            elif state[following] == "open":
                names = [step for step, _ in trail]
                circle = names[names.index(following) :]
                space: Space = "fact" if following in rulebook.facts else "parameter"
                path = ("expr",) if space == "fact" else ("default",)
                told = " -> ".join([*circle, following])
                yield Finding("error", space, following, path, f"is computed from itself: {told}")


def _each(scope: Scope, each: str, roles: Mapping[str, bool]) -> Iterator[Finding]:
    if each and each not in roles:
        yield scope.error(("each",), f"unknown role {each!r}", did_you_mean(each, roles))
    elif each and not roles[each]:
        able = sorted(role for role, is_each in roles.items() if is_each)
        yield scope.error(("each",), f"role {each!r} is not one of several", f"such roles: {', '.join(able)}")


def _rules(rulebook: Rulebook, vocabulary: Vocabulary) -> Iterator[Finding]:
    roles = {str(name): role.each for name, role in rulebook.roles.items()}
    for budget in rulebook.budgets.values():
        yield from _check_budget(budget, Scope("rule", budget.id, vocabulary, budget.each), roles)
    for limit in rulebook.limits.values():
        yield from _check_limit(limit, Scope("rule", limit.id, vocabulary, limit.each), roles)
    for rule in rulebook.logic.values():
        yield from check_logic(rule, Scope("rule", rule.id, vocabulary, rule.each), roles)


def _check_budget(budget: Budget, scope: Scope, roles: Mapping[str, bool]) -> Iterator[Finding]:
    yield from _each(scope, budget.each, roles)
    yield from _room(scope, budget.room)
    yield from scope.check(("when",), budget.when, FLAG)
    for key, terms in (("available", budget.available), ("spend", budget.spend)):
        for position, term in enumerate(terms):
            path: KeyPath = (key, position)
            yield from scope.check((*path, "time"), term.time, TIME)
            yield from scope.check((*path, "when"), term.when, FLAG)
            yield from _part(scope, (*path, "part"), term.part, roles)


def _check_limit(limit: Limit, scope: Scope, roles: Mapping[str, bool]) -> Iterator[Finding]:
    kind = kind_of_unit(limit.unit)
    yield from _each(scope, limit.each, roles)
    yield from _room(scope, limit.room)
    yield from scope.check(("when",), limit.when, FLAG)
    if limit.unit in {"text", "flag"}:
        yield scope.error(("unit",), f"expected a unit of numbers, found {limit.unit!r}", "use a logic rule")
        return
    yield from scope.check(("value",), limit.quantity, kind)
    yield from scope.check(("rating",), limit.rating, kind)
    yield from _part(scope, ("part",), limit.part, roles)


def _room(scope: Scope, room: str) -> Iterator[Finding]:
    if room not in ROOMS:
        yield scope.error(("room",), f"unknown room {room!r}", did_you_mean(room, ROOMS))


def _part(scope: Scope, path: KeyPath, role: str, roles: Mapping[str, bool]) -> Iterator[Finding]:
    if not role:
        return
    if role not in roles:
        yield scope.error(path, f"unknown role {role!r}", did_you_mean(role, roles), undeclared=True)
    elif roles[role] and role != scope.each:
        yield scope.error(path, f"speaks of one {role} among several", f'add each = "{role}"')


def _work(rulebook: Rulebook, vocabulary: Vocabulary) -> Iterator[Finding]:
    working = vocabulary.with_traits(rulebook)
    for event in rulebook.events.values():
        scope = Scope("event", event.id, working)
        yield from scope.check(("rate",), event.rate, NUMBER)
        yield from scope.check(("time",), event.time, TIME)
    for workload in rulebook.workloads.values():
        for name in rulebook.traits:
            if name not in workload.traits:
                message = f"has no value for trait {name!r}"
                yield Finding(
                    "error", "workload", workload.id, ("traits",), message, "every workload needs all"
                )
    for caution in rulebook.cautions.values():
        scope = Scope("caution", caution.id, vocabulary)
        yield from scope.check(("when",), caution.when, FLAG)
        for position, command in enumerate(caution.commands):
            if command not in COMMANDS:
                hint = did_you_mean(command, COMMANDS)
                yield scope.error(("commands", position), f"unknown command {command!r}", hint)


def _suspects(rulebook: Rulebook, vocabulary: Vocabulary) -> Iterator[Finding]:
    several = {str(name) for name, role in rulebook.roles.items() if role.each}
    rooms: dict[str, object] = {budget.room: budget for budget in rulebook.budgets.values()}
    rooms |= {limit.room: limit for limit in rulebook.limits.values()}
    for measurement in rulebook.measurements.values():
        scope = Scope("measurement", measurement.id, vocabulary, "")
        yield from scope.check(("relative_to",), measurement.relative_to, kind_of_unit(measurement.unit))
        yield from _named(scope, "cautions", "caution", measurement.cautions, rulebook.cautions)
        yield from _named(scope, "rooms", "room", measurement.rooms, rooms)
    for suspect in rulebook.suspects.values():
        role = suspect.only_with
        scope = Scope("suspect", suspect.id, vocabulary, role if role in several else "")
        if role and role not in rulebook.roles:
            hint = did_you_mean(role, rulebook.roles)
            yield scope.error(("only_with",), f"unknown role {role!r}", hint, undeclared=True)
        yield from scope.check(("when",), suspect.when, FLAG)
        yield from scope.check(("rate",), suspect.rate, NUMBER)
        yield from _named(scope, "cautions", "caution", suspect.cautions, rulebook.cautions)
        yield from _named(scope, "measurements", "measurement", suspect.measurements, rulebook.measurements)


def _named(
    scope: Scope, key: str, what: str, names: Iterable[str], known: Mapping[str, object]
) -> Iterator[Finding]:
    for position, name in enumerate(names):
        if name not in known:
            hint = did_you_mean(name, known)
            yield scope.error((key, position), f"unknown {what} {name!r}", hint, undeclared=True)


def _unused(rulebook: Rulebook) -> Iterator[Finding]:
    used = frozenset().union(*(expression.names for expression in expressions(rulebook)))
    ruled = (name for name, word in rulebook.parameters.items() if not word.for_boards)
    spaces: tuple[tuple[Space, str, Iterable[str]], ...] = (
        ("parameter", "", ruled),
        ("fact", "", rulebook.facts),
        ("trait", TRAIT_PREFIX, rulebook.traits),
    )
    for space, prefix, names in spaces:
        for name in names:
            if prefix + name not in used:
                yield Finding("warning", space, name, (), "is used by no rule")
    tested = {name for suspect in rulebook.suspects.values() for name in suspect.measurements}
    for name in rulebook.measurements:
        if name not in tested:
            yield Finding("warning", "measurement", name, (), "is named by no suspect")


def expressions(rulebook: Rulebook) -> Iterator[Expression]:
    """Every expression of *rulebook*."""
    optional: list[Expression | None] = [*definitions(rulebook).values()]
    for budget in rulebook.budgets.values():
        optional.append(budget.when)
        for term in (*budget.available, *budget.spend):
            optional += [term.time, term.when]
    for limit in rulebook.limits.values():
        optional += [limit.when, limit.quantity, limit.rating]
    for rule in rulebook.logic.values():
        optional += [rule.when, rule.require]
    for event in rulebook.events.values():
        optional += [event.rate, event.time]
    optional += [caution.when for caution in rulebook.cautions.values()]
    optional += [measurement.relative_to for measurement in rulebook.measurements.values()]
    for suspect in rulebook.suspects.values():
        optional += [suspect.when, suspect.rate]
    return (expression for expression in optional if expression is not None)
