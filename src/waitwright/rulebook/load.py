"""Loading a rulebook: all rule files to one checked :class:`Rulebook`, or every error at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from waitwright._resources import packed_files
from waitwright.errors import FileProblems, Problem
from waitwright.rulebook.domain import (
    Budget,
    Caution,
    DerivedFact,
    Event,
    Limit,
    LogicRule,
    Markings,
    Measurement,
    Part,
    Rulebook,
    Suspect,
    Workload,
)
from waitwright.rulebook.lint import Finding, Space, lint
from waitwright.rulebook.parts import read_family
from waitwright.rulebook.rules import RuleReader
from waitwright.rulebook.shelf import Place, Shelf
from waitwright.rulebook.suspects import SuspectReader
from waitwright.rulebook.texts import TextReader
from waitwright.rulebook.words import Words, is_words_file, read_words
from waitwright.rulebook.work import WorkReader
from waitwright.schema.problems import Faults, Placed
from waitwright.schema.rulefile import (
    MARKING_SECTIONS,
    SECTIONS,
    BudgetEntry,
    CautionEntry,
    EventEntry,
    FactEntry,
    FamilyEntry,
    Identified,
    LimitEntry,
    LogicEntry,
    MeasurementEntry,
    RuleFileHead,
    SuspectEntry,
    WorkloadEntry,
)
from waitwright.schema.tomlfile import Readable, TomlFile, read_toml

if TYPE_CHECKING:
    from waitwright.rulebook.markings import MarkingShelves

PACKED, OWN = 0, 1
"""Layers: packed rules, and a user's own that override them by id."""

MAX_FILES = 500

E = TypeVar("E", bound=Identified)
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Source:
    """One rule file to read, or its text."""

    name: str
    content: Readable | str
    layer: int = PACKED


def load_rulebook(extra: Path | None = None) -> Rulebook:
    """The packed rulebook, with the files of the directory tree *extra* added or put over it by id.

    Raises:
        FileProblems: with every error of every file.
    """
    if extra is None:
        return _packed_rulebook()
    return build_rulebook([*packed_sources(), *own_sources(extra)])


@lru_cache(maxsize=1)
def _packed_rulebook() -> Rulebook:
    # The package's own rules have passed the checks of the whole before they were packed (a test sees to
    # that, and `rules validate` does it again); a tenth of a command's time is saved.
    sources = packed_sources()
    book = build_rulebook([one for one in sources if not _is_marking(one.name)], whole=False)
    return replace(book, read_markings=_packed_markings, files=tuple(source.name for source in sources))


@lru_cache(maxsize=1)
def _packed_markings() -> Markings:
    """Read when they are asked for, which most commands never do."""
    shelves, faults = _marking_shelves(), Faults()
    for source in filter(lambda one: _is_marking(one.name), packed_sources()):
        shelves.read(read_toml(source.content, source.name), PACKED, TextReader(faults))
    found = shelves.markings(faults, _packed_rulebook().parts)
    faults.raise_if_any()
    return found


def _is_marking(name: str) -> bool:
    """Whether a packed rule file tells how parts are read off a board, and nothing else."""
    return name.startswith("rules/markings/")


def _marking_shelves() -> MarkingShelves:
    from waitwright.rulebook.markings import MarkingShelves

    return MarkingShelves()


def packed_sources() -> list[Source]:
    """The rule files that come with the package."""
    return [Source(name, content) for name, content in packed_files("rules")]


def own_sources(folder: Path) -> list[Source]:
    """Every TOML file under *folder*.

    Raises:
        FileProblems: if *folder* is no directory, or holds no TOML file or too many.
    """
    if not folder.is_dir():
        raise FileProblems(
            (Problem(str(folder), "", "no such directory", "--rules takes a directory of TOML files"),)
        )
    paths = sorted(path for path in folder.rglob("*.toml") if path.is_file())
    if not 0 < len(paths) <= MAX_FILES:
        holds = "no TOML file" if not paths else f"more than {MAX_FILES} TOML files"
        raise FileProblems(
            (Problem(str(folder), "", f"holds {holds}", "--rules takes a directory of rule files"),)
        )
    return [Source(str(path), path, OWN) for path in paths]


def build_rulebook(sources: Iterable[Source], *, whole: bool = True) -> Rulebook:
    """All *sources* as one rulebook; their order does not matter.

    Args:
        whole: Check also what no single file can show: unknown names, dimensions, circles.

    Raises:
        FileProblems: with every error of every file.
    """
    return _Builder().build(sorted(sources, key=lambda source: (source.layer, source.name)), whole=whole)


@dataclass(slots=True)
class _Builder:
    """Everything read so far.  ``gaps`` tells that something which others may name could not be read."""

    faults: Faults = field(default_factory=Faults)
    words: Words = field(default_factory=Words)
    facts: Shelf[DerivedFact] = field(default_factory=lambda: Shelf("fact"))
    parts: Shelf[Part] = field(default_factory=lambda: Shelf("part"))
    rules: Shelf[Budget | Limit | LogicRule] = field(default_factory=lambda: Shelf("rule"))
    events: Shelf[Event] = field(default_factory=lambda: Shelf("event"))
    workloads: Shelf[Workload] = field(default_factory=lambda: Shelf("workload"))
    cautions: Shelf[Caution] = field(default_factory=lambda: Shelf("caution"))
    measurements: Shelf[Measurement] = field(default_factory=lambda: Shelf("measurement"))
    suspects: Shelf[Suspect] = field(default_factory=lambda: Shelf("suspect"))
    markings: MarkingShelves | None = None
    gaps: bool = False

    def build(self, sources: list[Source], *, whole: bool) -> Rulebook:
        texts = TextReader(self.faults)
        files = list(self._read(sources))
        for file, layer in files:
            if is_words_file(file.name):
                read_words(self.words, file, layer, texts)
        self.gaps = bool(self.faults.problems)
        for file, layer in files:
            if not is_words_file(file.name):
                self._read_sections(file, layer, texts)
        rulebook = self._rulebook(tuple(file.name for file, _ in files))
        if whole:
            self._note(finding for finding in lint(rulebook) if finding.severity == "error")
        self.faults.raise_if_any()
        return rulebook

    def _read(self, sources: list[Source]) -> Iterator[tuple[TomlFile, int]]:
        for source in sources:
            try:
                yield read_toml(source.content, source.name), source.layer
            except FileProblems as error:
                self.faults.problems.extend(error.problems)

    def _read_sections(self, file: TomlFile, layer: int, texts: TextReader) -> None:
        self.faults.take_head(RuleFileHead, file, {*SECTIONS, *MARKING_SECTIONS})
        reader = RuleReader(texts)
        work = WorkReader(texts, self.words)
        faults = SuspectReader(texts)
        self._shelve(file, layer, "fact", FactEntry, reader.fact, self.facts)
        self._shelve(file, layer, "event", EventEntry, work.event, self.events)
        self._shelve(file, layer, "budget", BudgetEntry, reader.budget, self.rules)
        self._shelve(file, layer, "limit", LimitEntry, reader.limit, self.rules)
        self._shelve(file, layer, "rule", LogicEntry, reader.logic, self.rules)
        self._shelve(file, layer, "workload", WorkloadEntry, work.workload, self.workloads)
        self._shelve(file, layer, "caution", CautionEntry, reader.caution, self.cautions)
        self._shelve(file, layer, "measurement", MeasurementEntry, faults.measurement, self.measurements)
        self._shelve(file, layer, "suspect", SuspectEntry, faults.suspect, self.suspects)
        if not file.data.keys().isdisjoint(MARKING_SECTIONS):
            self.markings = self.markings or _marking_shelves()
            self.markings.read(file, layer, texts)
        for placed in self.faults.take_list(FamilyEntry, file, "family", spare=("rows", "delay", "ability")):
            for part in read_family(placed, self.words, texts):
                self.parts.put(self.faults, part.id, part, Place(file, placed.path, layer))

    def _shelve(
        self,
        file: TomlFile,
        layer: int,
        key: str,
        model: type[E],
        convert: Callable[[Placed[E]], T],
        shelf: Shelf[Any],
    ) -> None:
        """Put the sound entries of one section on their shelf; faulty ones leave a gap."""
        before = len(self.faults.problems)
        for placed in self.faults.take_list(model, file, key):
            mark = len(self.faults.problems)
            thing = convert(placed)
            if len(self.faults.problems) == mark:
                shelf.put(self.faults, placed.entry.id, thing, Place(file, placed.path, layer))
        if any(shelf is named for named in (self.facts, self.events, self.cautions, self.measurements)):
            self.gaps = self.gaps or len(self.faults.problems) > before

    def _rulebook(self, files: tuple[str, ...]) -> Rulebook:
        words = self.words
        markings = Markings()
        if self.markings is not None:
            markings = self.markings.markings(self.faults, self.parts.things)
        return Rulebook(
            roles=words.roles.things,
            parameters=words.parameters.things,
            rows={(row.kind, row.name): row for row in words.rows.things.values()},
            counted=words.counted.things,
            facts=self.facts.things,
            parts=self.parts.things,
            budgets=self.rules.only(Budget),
            limits=self.rules.only(Limit),
            logic=self.rules.only(LogicRule),
            traits=words.traits.things,
            events=self.events.things,
            workloads=self.workloads.things,
            cautions=self.cautions.things,
            measurements=self.measurements.things,
            suspects=self.suspects.things,
            read_markings=lambda: markings,
            files=files,
        )

    def _note(self, findings: Iterable[Finding]) -> None:
        """Findings of the lint as problems of the files they come from.

        Where a word or a fact could not be read, names that miss it are not held against other files.
        """
        shelves: dict[Space, Shelf[Any]] = {
            "parameter": self.words.parameters,
            "counted fact": self.words.counted,
            "role": self.words.roles,
            "row": self.words.rows,
            "trait": self.words.traits,
            "fact": self.facts,
            "rule": self.rules,
            "event": self.events,
            "workload": self.workloads,
            "caution": self.cautions,
            "measurement": self.measurements,
            "suspect": self.suspects,
        }
        for finding in findings:
            if finding.undeclared and self.gaps:
                continue
            place = shelves[finding.space].places[finding.name]
            self.faults.add(place.file, (*place.path, *finding.path), finding.message, finding.hint)
