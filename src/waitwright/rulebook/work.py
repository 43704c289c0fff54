"""Work: events that a machine spends time on, and workloads told by their traits."""

from __future__ import annotations

from waitwright.nearest import did_you_mean
from waitwright.rulebook.domain import Event, PartValue, Workload
from waitwright.rulebook.kinds import kind_of_unit
from waitwright.rulebook.texts import TextReader
from waitwright.rulebook.words import Words
from waitwright.schema.problems import Placed
from waitwright.schema.rulefile import EventEntry, TraitEntry, WorkloadEntry
from waitwright.schema.scalars import in_base_units


class WorkReader:
    """Builds events and workloads; traits must be among the words."""

    def __init__(self, texts: TextReader, words: Words) -> None:
        self._texts = texts
        self._words = words

    def event(self, placed: Placed[EventEntry]) -> Event:
        """``[[event]]``."""
        entry = placed.entry
        return Event(
            id=entry.id,
            title=entry.title,
            rate=self._texts.expression(placed.file, (*placed.path, "rate"), entry.rate),
            time=self._texts.expression(placed.file, (*placed.path, "time"), entry.time),
            provenance=self._texts.provenance(entry.source, entry.basis),
        )

    def workload(self, placed: Placed[WorkloadEntry]) -> Workload:
        """``[[workload]]``; traits without a source of their own have the workload's."""
        entry = placed.entry
        traits = {}
        for name, trait in entry.traits.items():
            value = self._trait(placed, name, trait)
            if value is not None:
                traits[name] = value
        return Workload(entry.id, entry.title, entry.note, traits)

    def _trait(self, placed: Placed[WorkloadEntry], name: str, entry: TraitEntry) -> PartValue | None:
        path = (*placed.path, "traits", name)
        faults = self._texts.faults
        word = self._words.traits.things.get(name)
        source, basis = entry.source or placed.entry.source, entry.basis or placed.entry.basis
        if word is None:
            hint = did_you_mean(name, self._words.traits.things)
            faults.add(placed.file, path, f"unknown trait of work {name!r}", hint)
        elif kind_of_unit(entry.unit) != kind_of_unit(word.unit):
            hint = f"write it in {word.unit!r}"
            faults.add(placed.file, (*path, "unit"), f"unit {entry.unit!r} does not fit", hint)
        elif source is None or basis is None:
            faults.add(placed.file, path, "has no source and basis", "give the trait or its workload both")
        else:
            try:
                value = in_base_units(entry.value, entry.unit, least=0)
                return PartValue(value, entry.unit, self._texts.provenance(source, basis))
            except ValueError as error:
                faults.add(placed.file, (*path, "value"), str(error))
        return None
