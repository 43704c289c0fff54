"""The page of sources: how many numbers stand on what, which documents, and what is from memory."""

from __future__ import annotations

import tomllib
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from making.tables import cell
from waitwright.rulebook.domain import Provenance, Rulebook
from waitwright.rulebook.load import load_rulebook

_DOCUMENTS = Path(__file__).with_name("documents.toml")
_BASES = ("published", "memory", "practice")


@dataclass(frozen=True, slots=True)
class Figure:
    """One number or rule: what it belongs to, its name there, and where it is from."""

    group: str
    owner: str
    name: str
    origin: Provenance


def figures(book: Rulebook) -> Iterator[Figure]:
    """Every sourced entry of the rulebook; rows that grades of a family share count for each grade."""
    for part in book.parts.values():
        for name, value in part.values.items():
            yield Figure("parts of the catalogue", part.id, name, value.provenance)
        for name, spread in (("spread of delays", part.delay), ("spread of ratings", part.ability)):
            if spread is not None:
                yield Figure("spreads of part factors", part.id, name, spread.provenance)
    for group, entries in (
        ("budgets", book.budgets),
        ("limits", book.limits),
        ("exact requirements", book.logic),
        ("computed facts", book.facts),
        ("events of work", book.events),
        ("suspects", book.suspects),
        ("measurements", book.measurements),
        ("markings: codes of speed", book.markings.codes),
        ("markings: numbers of chips", book.markings.chips),
        ("markings: memory modules", book.markings.modules),
        ("markings: spoken names", {spoken.id: spoken for spoken in book.markings.spoken}),
    ):
        for name, entry in entries.items():
            yield Figure(group, name, "", entry.provenance)
    for workload in book.workloads.values():
        for name, trait in workload.traits.items():
            yield Figure("traits of workloads", workload.id, name, trait.provenance)


def page() -> str:
    """The page of sources, as Markdown."""
    found = list(figures(load_rulebook()))
    return "\n".join((*_summary(found), *_documents(found), *_unpublished(found))) + "\n"


def _summary(found: list[Figure]) -> Iterator[str]:
    counts: Counter[tuple[str, str]] = Counter((figure.group, figure.origin.basis) for figure in found)
    groups = dict.fromkeys(figure.group for figure in found)
    yield "# Where the numbers come from"
    yield ""
    yield "Every number in `rules/` carries a source and a basis; the loader refuses one without."
    yield ""
    yield "- **published**: read in the document that is named. Never bent to make a result come out."
    yield "- **memory**: a data sheet remembered, not seen. Of a range, the slower end stands."
    yield "- **practice**: common practice or an assumption, with the reason."
    yield ""
    yield "| what | " + " | ".join(_BASES) + " |"
    yield "| --- | " + " | ".join("---" for _ in _BASES) + " |"
    for group in groups:
        yield f"| {group} | " + " | ".join(str(counts[group, basis]) for basis in _BASES) + " |"
    yield ""
    yield "`waitwright rules show ID` prints the source of any of them; `waitwright rules list` lists all."


def _documents(found: list[Figure]) -> Iterator[str]:
    uses: Counter[str] = Counter()
    for figure in found:
        if figure.origin.basis == "published":
            uses.update(documents(figure.origin.source))
    yield ""
    yield "## Documents"
    yield ""
    yield "What is called published was read in these; pages and tables stand beside each figure."
    yield "A figure may rest on several."
    yield ""
    yield "| document | figures and rules |"
    yield "| --- | --- |"
    for document, number in sorted(uses.items(), key=lambda item: (-item[1], item[0])):
        yield f"| {cell(document)} | {number} |"


def documents(source: str) -> tuple[str, ...]:
    """Titles of the documents that *source* names."""
    return tuple(title for title, marks in shelf() if any(mark in source for mark in marks))


@cache
def shelf() -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Title and marks of every document."""
    entries = tomllib.loads(_DOCUMENTS.read_text("utf-8"))["document"]
    return tuple((entry["title"], tuple(entry["marks"])) for entry in entries)


def _unpublished(found: list[Figure]) -> Iterator[str]:
    for basis, title in (("memory", "From memory"), ("practice", "From practice")):
        names: dict[tuple[str, str], dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))
        for figure in found:
            if figure.origin.basis == basis:
                names[figure.group, figure.origin.source][figure.owner].add(figure.name)
        yield ""
        yield f"## {title}"
        yield ""
        yield "| what | values | source |"
        yield "| --- | --- | --- |"
        for (_, source), owners in sorted(names.items()):
            rows = sorted({name for values in owners.values() for name in values if name})
            yield f"| {', '.join(sorted(owners))} | {', '.join(rows)} | {cell(source)} |"
