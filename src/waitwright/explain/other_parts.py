"""The machine with other parts in it, judged under single combinations."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from waitwright.belief.cloud import Cloud
from waitwright.belief.evidence import told_cloud
from waitwright.belief.outlook import Outlook
from waitwright.belief.survival import survivals
from waitwright.explain.exchange import Exchanger
from waitwright.explain.members import PartGroup, part_groups
from waitwright.explain.remedy import Changes
from waitwright.explain.verdicts import AnyBound, deciding, leeway, verdict_of
from waitwright.ids import Settings
from waitwright.machine import Machine
from waitwright.machine.build import as_found
from waitwright.rulebook.domain import Part
from waitwright.timing.bind import BoundRules, bind, only, pinned


class OtherParts:
    """Machines like one machine but for the parts of some changes, each built and drawn once."""

    def __init__(self, machine: Machine, cloud: Cloud, *, hours: float, seed: int = 0) -> None:
        """Judge for soak tests of *hours*; *cloud* is that of *machine*, drawn with *seed*."""
        self._machine = machine
        found = as_found(machine)
        self._learnt = cloud if found is machine else told_cloud(found, bind(found), seed=seed)
        self._hours = hours
        self._seed = seed
        self._exchanger = Exchanger(machine)
        self._groups = {group.slots: group for group in part_groups(machine)}
        self._clouds: dict[int, Cloud] = {}

    def built(self, changes: Changes) -> tuple[Machine, BoundRules]:
        """The machine with the parts among *changes*; its rules bound."""
        parts = [change for change in changes if isinstance(change, PartGroup)]
        return self._exchanger.built({self._groups[one.slots]: str(one.part.id) for one in parts})

    def outlook(self, changes: Changes, settings: Settings, rules: Iterable[str] | None = None) -> Outlook:
        """Odds with the parts among *changes* under *settings*, of some *rules* or of all."""
        machine, bound = self.built(changes)
        if id(machine) not in self._clouds:  # the exchanger keeps its machines, so that ids stay theirs
            self._clouds[id(machine)] = told_cloud(machine, bound, seed=self._seed, learnt=self._learnt)
        cloud = self._clouds[id(machine)]
        fixed = replace(machine, current=settings)
        asked = pinned(bound if rules is None else only(bound, rules))
        return Outlook(fixed, cloud, self._hours, survivals(fixed, asked, cloud, hours=self._hours))

    def improving(
        self, group: PartGroup, settings: Settings, bounds: Mapping[str, AnyBound], rules: Sequence[str]
    ) -> list[Part]:
        """Parts that better some of *rules* (ids among *bounds*) and worsen none, the least step first.

        Grades of the part's own family come before all others.
        """
        now = _leeways(self._machine, settings, bounds, rules)
        found: list[tuple[bool, float, str, Part]] = []
        for part in self._exchanger.candidates(group):
            machine, bound_rules = self.built((PartGroup(group.slots, part),))
            then = _leeways(machine, settings, deciding(bound_rules), rules)
            changed = [(old, new) for old, new in zip(now, then, strict=True) if old != new]
            if changed and all(new > old for old, new in changed):
                least = min(new for _, new in changed)
                found.append((part.family != group.part.family, least, part.id, part))
        return [part for *_, part in sorted(found, key=lambda one: one[:3])]


def _leeways(
    machine: Machine, settings: Settings, bounds: Mapping[str, AnyBound], rules: Iterable[str]
) -> list[float]:
    return [leeway(verdict_of(machine, bounds[rule], settings) if rule in bounds else None) for rule in rules]
