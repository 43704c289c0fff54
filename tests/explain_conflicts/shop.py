"""Small machines with conflicts, and what the exact engine says of every one of their combinations."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import chain, combinations
from typing import TypeVar

from hypothesis import strategies as st

from tests.search.machines import Workshop, narrowed
from tests.workshop import OLD, packed
from waitwright.explain.conflict import ConflictFinder, Conflicts
from waitwright.explain.members import Choice, PartGroup, choices_of
from waitwright.explain.verdicts import AnyBound, Verdict, deciding, verdict_of
from waitwright.expr import parse
from waitwright.ids import ParameterName, RuleId, Settings
from waitwright.rulebook.domain import LogicRule, Provenance
from waitwright.timing.bind import bind, only
from waitwright.timing.margins import margins

Thing = TypeVar("Thing", bound=Choice | PartGroup)
ChoiceSet = frozenset[Choice]


KNOBS = {
    "isa-memory": "isa_mem16_waits",
    "isa-io": "isa_io16_waits",
    "isa-8bit": "isa_bus8_waits",
    "cache-write": "l2_write_clocks",
    "memory-write": "dram_write_clocks",
    "local-write": "vl_write_waits",
}
"""Options of the packed board that set one number each."""


@st.composite
def tangled(draw: st.DrawFn) -> Workshop:
    """A machine whose choices shut each other out in pairs, by a few invented rules of some pairs each.

    What cannot stand together there follows from several rules as a rule.
    """
    machine, _ = packed(OLD)
    names = draw(st.lists(st.sampled_from(sorted(KNOBS)), min_size=3, max_size=4, unique=True))
    keep = {
        option.id: option
        if option.id in names
        else replace(option, choices=(option.choice(machine.current[option.id]),))
        for option in machine.options
    }
    shop = narrowed(OLD, keep, dict(machine.current), {}, "integer")
    said = [
        f"{KNOBS[option.id]} == {choice.sets[ParameterName(KNOBS[option.id])]}"
        for option in shop.free
        for choice in option.choices
    ]
    pairs = [
        f"({one} and {other})" for one, other in combinations(said, 2) if one.split()[0] != other.split()[0]
    ]
    rules = draw(st.lists(st.lists(st.sampled_from(pairs), min_size=1, max_size=4), min_size=3, max_size=9))
    invented = tuple(
        LogicRule(
            id=RuleId(f"invented.{place}"),
            title=f"Invented rule {place}",
            when=None,
            each="",
            require=parse(f"not ({' or '.join(forbidden)})"),
            symptoms=("hang",),
            advice="",
            provenance=Provenance("invented for a test", "practice"),
        )
        for place, forbidden in enumerate(rules)
    )
    board = replace(shop.machine.board, rules=(*shop.machine.board.rules, *invented))
    made = replace(shop.machine, board=board, rules=(*shop.machine.rules, *invented))
    free, bound = {option.id for option in shop.free}, bind(made)
    telling = [one.id for one in deciding(bound).values() if free & set(one.scope)]
    return replace(shop, machine=made, rules=only(bound, telling))


class Truth:
    """Every combination of a small machine and the rules that fail in it."""

    def __init__(self, shop: Workshop) -> None:
        self.shop = shop
        self.bounds = deciding(shop.rules)
        self.table = [(one, self._failing(one)) for one in shop.settings()]
        self.hopeless = self._hopeless()

    def _failing(self, settings: Settings) -> frozenset[str]:
        found = margins(self.shop.machine, self.shop.rules, settings)
        short = {margin.bound.id for margin in found.short if not margin.bound.rule.advisory}
        return frozenset(short | {one.bound.id for one in found.broken if one.known})

    def verdict(self, bound: AnyBound, settings: Settings) -> Verdict | None:
        """What a rule says, exactly."""
        return verdict_of(self.shop.machine, bound, settings)

    def _hopeless(self) -> bool:
        return all(failing for _, failing in self.table)

    def with_choices(self, choices: Iterable[Choice]) -> Iterator[tuple[Settings, frozenset[str]]]:
        """Combinations that have these choices, with the rules that fail."""
        wanted = {choice.option.id: choice.choice for choice in choices}
        for settings, failing in self.table:
            if all(settings[option] == choice for option, choice in wanted.items()):
                yield settings, failing

    def stands(self, choices: Iterable[Choice], lost: frozenset[str] = frozenset()) -> bool:
        """Whether some combination has these choices and breaks no rule but *lost* ones."""
        return any(failing <= lost for _, failing in self.with_choices(choices))

    def members(self, settings: Settings) -> tuple[Choice, ...]:
        """The choices of options that have more than one, the most easily given up first."""
        free = [option.id for option in self.shop.free]
        return choices_of(self.shop.machine, ((option, settings[option]) for option in free))

    def conflicts(self, settings: Settings, lost: frozenset[str]) -> set[ChoiceSet]:
        """Every smallest set of choices of *settings* that stands in no combination."""
        return smallest(self.members(settings), lambda chosen: not self.stands(chosen, lost))

    def corrections(self, settings: Settings) -> set[ChoiceSet]:
        """Every smallest set of choices without which the others stand in some combination."""
        whole = frozenset(self.members(settings))
        return smallest(whole, lambda given_up: self.stands(whole - given_up))


@dataclass(frozen=True)
class Case:
    """A small machine and a combination of it that does not stand."""

    truth: Truth
    asked: Settings

    @property
    def shop(self) -> Workshop:
        """The machine."""
        return self.truth.shop

    def __repr__(self) -> str:
        """Short enough to be read when a test fails."""
        machine = self.shop.machine
        free = {option.id: [choice.id for choice in option.choices] for option in self.shop.free}
        parts = {item.slot: item.part.id for item in machine.fitted}
        invented = [rule.require.text for rule in machine.rules if rule.id.startswith("invented.")]
        return f"{machine.name}: {parts}, free {free}, asked {dict(self.asked)}, {invented}"


def smallest(members: Iterable[Thing], holds: Callable[[frozenset[Thing]], bool]) -> set[frozenset[Thing]]:
    """Every smallest subset for which *holds*."""
    pool = list(members)
    found: set[frozenset[Thing]] = set()
    sizes = range(len(pool) + 1)
    for chosen in map(frozenset, chain.from_iterable(combinations(pool, size) for size in sizes)):
        if not any(known <= chosen for known in found) and holds(chosen):
            found.add(chosen)
    return found


def found_in(shop: Workshop, settings: Settings) -> tuple[ConflictFinder, Conflicts]:
    """What the finder says of one combination."""
    finder = ConflictFinder(shop.machine, shop.rules, settings)
    return finder, finder.find()


def lost_rules(found: Conflicts) -> frozenset[str]:
    """Rules of conflicts in which no choice takes part: nothing that can be set meets them."""
    return frozenset(bound.id for one in found.found if not one.choices for bound in one.rules)
