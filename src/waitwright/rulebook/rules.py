"""Rule files to domain objects: facts, budgets, limits, logic rules, cautions.

Shape and language are checked here; what needs the whole vocabulary is checked in
:mod:`waitwright.rulebook.lint`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from waitwright.expr import Expression
from waitwright.ids import FactName, RuleId
from waitwright.rulebook.domain import (
    Budget,
    Caution,
    DerivedFact,
    Limit,
    LogicRule,
    Provenance,
    Term,
)
from waitwright.rulebook.texts import TextReader
from waitwright.schema.problems import Placed
from waitwright.schema.rulefile import (
    BudgetEntry,
    CautionEntry,
    FactEntry,
    LimitEntry,
    LogicEntry,
    TermEntry,
)
from waitwright.schema.spans import KeyPath


class RuleReader:
    """Builds the domain object of each kind of entry."""

    def __init__(self, texts: TextReader) -> None:
        self._texts = texts

    def fact(self, placed: Placed[FactEntry]) -> DerivedFact:
        """``[[fact]]``."""
        entry = placed.entry
        return DerivedFact(
            FactName(entry.id),
            entry.unit,
            entry.title,
            self._text(placed, ("expr",), entry.expr),
            self._provenance(entry),
        )

    def budget(self, placed: Placed[BudgetEntry]) -> Budget:
        """``[[budget]]``."""
        entry = placed.entry
        return Budget(
            id=RuleId(entry.id),
            title=entry.title,
            room=entry.room,
            when=self._maybe(placed, ("when",), entry.when),
            each=entry.each,
            available=self._terms(placed, "available", entry.available),
            spend=self._terms(placed, "spend", entry.spend),
            symptoms=tuple(entry.symptoms),
            advice=entry.advice,
            provenance=self._provenance(entry),
            advisory=entry.advisory,
        )

    def limit(self, placed: Placed[LimitEntry]) -> Limit:
        """``[[limit]]``."""
        entry = placed.entry
        return Limit(
            id=RuleId(entry.id),
            title=entry.title,
            room=entry.room,
            when=self._maybe(placed, ("when",), entry.when),
            each=entry.each,
            quantity=self._text(placed, ("value",), entry.value),
            rating=self._text(placed, ("rating",), entry.rating),
            sense=entry.sense,
            unit=entry.unit,
            part=entry.part,
            symptoms=tuple(entry.symptoms),
            advice=entry.advice,
            provenance=self._provenance(entry),
            advisory=entry.advisory,
        )

    def logic(self, placed: Placed[LogicEntry]) -> LogicRule:
        """``[[rule]]``."""
        entry = placed.entry
        return LogicRule(
            id=RuleId(entry.id),
            title=entry.title,
            when=self._maybe(placed, ("when",), entry.when),
            each=entry.each,
            require=self._text(placed, ("require",), entry.require),
            symptoms=tuple(entry.symptoms),
            advice=entry.advice,
            provenance=self._provenance(entry),
        )

    def caution(self, placed: Placed[CautionEntry]) -> Caution:
        """``[[caution]]``."""
        entry = placed.entry
        return Caution(
            entry.id,
            entry.text,
            self._maybe(placed, ("when",), entry.when),
            tuple(entry.commands),
            tuple(entry.rooms),
        )

    def _terms(self, placed: Placed[BudgetEntry], key: str, terms: Sequence[TermEntry]) -> tuple[Term, ...]:
        return tuple(
            Term(
                term.name,
                self._text(placed, (key, position, "time"), term.time),
                term.part,
                self._maybe(placed, (key, position, "when"), term.when),
            )
            for position, term in enumerate(terms)
        )

    def _text(self, placed: Placed[Any], path: KeyPath, text: str) -> Expression:
        return self._texts.expression(placed.file, (*placed.path, *path), text)

    def _maybe(self, placed: Placed[Any], path: KeyPath, text: str | None) -> Expression | None:
        return self._texts.optional(placed.file, (*placed.path, *path), text)

    def _provenance(self, entry: FactEntry | BudgetEntry | LimitEntry | LogicEntry) -> Provenance:
        return self._texts.provenance(entry.source, entry.basis)
