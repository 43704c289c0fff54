"""The logbook as text: TOML that people can read, compare line by line, and mend.

Each trial is one ``[[trial]]`` with its settings as a table below it, and what came between two trials is
one ``[[aside]]``.  Both stand in the order of their numbers, so that a new entry adds lines at the end and
changes none above, but for those of the offer.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from fractions import Fraction
from typing import Any

from waitwright.errors import FileProblems
from waitwright.ids import ChoiceId, OptionId, PartId, SlotId
from waitwright.rulebook.profiles import FitDef
from waitwright.schema.logbook import (
    SCHEMA,
    SECTIONS,
    AsideEntry,
    LogbookHead,
    OfferEntry,
    ReadingEntry,
    TrialEntry,
)
from waitwright.schema.machine import FitEntry
from waitwright.schema.problems import Faults, Placed
from waitwright.schema.scalars import Cell, in_base_units, plain, read_number, shown
from waitwright.schema.spans import KeyPath
from waitwright.schema.tomlfile import Readable, TomlFile, read_toml
from waitwright.trials.logbook import (
    ANSWER,
    Aside,
    Choices,
    Entry,
    Logbook,
    Offer,
    Parts,
    Reading,
    Score,
    Trial,
)
from waitwright.units import UNITS, Exact, from_base, tidy, to_base

_HEADING = """\
# Trials of this machine, in the order in which they were recorded.
# Entries may be mended by hand; comments are not kept.
"""


# ------------------------------------------------------------------------------------------ reading


def load_logbook(source: Readable | str, name: str) -> Logbook:
    """The logbook in *source*, a path or text that users know as *name*.

    Raises:
        FileProblems: with every error of the file, or one for a layout newer than this program.
    """
    file = read_toml(source, name)
    _check_schema(file)
    faults = Faults()
    head, _ = faults.take_head(LogbookHead, file, SECTIONS)
    entries: dict[int, Entry] = {}
    for placed in faults.take_list(TrialEntry, file, "trial"):
        _enter(_trial(placed, faults), entries, placed, faults)
    for aside in faults.take_list(AsideEntry, file, "aside"):
        _enter(_aside(aside, faults), entries, aside, faults)
    faults.raise_if_any()
    if head is None:
        raise AssertionError("a logbook without head is a fault")
    ordered = tuple(entries[number] for number in sorted(entries))
    return Logbook(head.machine, ordered, None if head.offer is None else _offer(head.offer))


def _enter(
    entry: Entry, entries: dict[int, Entry], placed: Placed[TrialEntry] | Placed[AsideEntry], faults: Faults
) -> None:
    """Put *entry* under its number, which is to be new, and higher than of those of its kind before it."""
    before = max((number for number, one in entries.items() if type(one) is type(entry)), default=0)
    path = (*placed.path, "number")
    if entry.number <= before:
        faults.add(placed.file, path, f"expected more than {before}", f"number the {placed.path[0]}s upwards")
    elif entry.number in entries:
        faults.add(placed.file, path, f"trial {entry.number} has that number", "give every entry its own")
    entries[entry.number] = entry


def _check_schema(file: TomlFile) -> None:
    schema = file.data.get("schema")
    if isinstance(schema, int) and schema > SCHEMA:
        message = f"layout {shown(schema)} is newer than this program, which knows {SCHEMA}"
        raise FileProblems((file.problem(("schema",), message, "use the newer program"),))


def _trial(placed: Placed[TrialEntry], faults: Faults) -> Trial:
    entry = placed.entry
    trial = Trial(
        number=entry.number,
        time=entry.time,
        settings=_settings(entry.settings),
        outcome=entry.outcome,
        symptoms=tuple(entry.symptoms),
        hours=entry.hours,
        scores=tuple(Score(score.value, score.unit, score.workload or "") for score in entry.score),
        readings=_readings(placed, faults),
        repaired=tuple(entry.repaired),
        note=entry.note,
        withdrawn=entry.withdrawn,
        parts=None if entry.parts is None else _parts(entry.parts, placed, faults),
    )
    if trial.contradiction is not None:
        key, message = trial.contradiction
        faults.add(placed.file, (*placed.path, key), message)
    return trial


def _aside(placed: Placed[AsideEntry], faults: Faults) -> Aside:
    entry = placed.entry
    aside = Aside(
        number=entry.number,
        time=entry.time,
        settings=None if entry.settings is None else _settings(entry.settings),
        readings=_readings(placed, faults),
        repaired=tuple(entry.repaired),
        note=entry.note,
        withdrawn=entry.withdrawn,
    )
    if aside.empty:
        faults.add(placed.file, placed.path, "expected a reading, a repair or a note")
    return aside


def _parts(
    parts: Mapping[str, Sequence[Mapping[str, Any]]], placed: Placed[TrialEntry], faults: Faults
) -> Parts:
    found: dict[SlotId, tuple[FitDef, ...]] = {}
    for slot, raw in parts.items():
        path = (*placed.path, "parts", slot)
        entries = [faults.take(FitEntry, placed.file, path, item) for item in raw]
        found[SlotId(slot)] = tuple(_fit(entry) for entry in entries if entry is not None)
    return found


def _fit(entry: FitEntry) -> FitDef:
    return FitDef(
        part=PartId(entry.part),
        count=1 if entry.count is None else entry.count,
        size=None if entry.size_mb is None else to_base(Fraction(entry.size_mb), "MB"),
        refresh=PartId(entry.refresh) if entry.refresh else None,
    )


def _readings(placed: Placed[TrialEntry] | Placed[AsideEntry], faults: Faults) -> tuple[Reading, ...]:
    return tuple(
        _reading(reading, placed.file, (*placed.path, "reading", position), faults)
        for position, reading in enumerate(placed.entry.reading)
    )


def _reading(entry: ReadingEntry, file: TomlFile, path: KeyPath, faults: Faults) -> Reading:
    values: tuple[Exact, ...] = ()
    printed: Exact | None = None
    if entry.unit not in {*UNITS, ANSWER}:
        faults.add(file, (*path, "unit"), f"expected a unit of numbers, or flag, found {shown(entry.unit)}")
    else:
        try:
            values = tuple(_in_base_units(cell, entry.unit) for cell in entry.value)
            printed = None if entry.printed is None else _in_base_units(entry.printed, entry.unit)
        except ValueError as error:
            faults.add(file, (*path, "value"), str(error))
    return Reading(entry.name, values, entry.unit, entry.where, printed)


def _in_base_units(cell: Cell, unit: str) -> Exact:
    value = in_base_units(cell, unit)
    return int(value) if isinstance(value, bool) else read_number(value)


def _offer(entry: OfferEntry) -> Offer:
    return Offer(entry.number, entry.time, _settings(entry.settings), entry.mode, entry.reason, entry.hours)


def _settings(settings: dict[str, str]) -> dict[OptionId, ChoiceId]:
    return {OptionId(option): ChoiceId(choice) for option, choice in settings.items()}


# ------------------------------------------------------------------------------------------ writing


def dump_logbook(logbook: Logbook) -> str:
    """*logbook* as the text of its file, exact: ``load_logbook(dump_logbook(x)) == x``."""
    return "\n".join((_HEADING + f"schema = {SCHEMA}", *_lines(logbook))) + "\n"


def _lines(logbook: Logbook) -> Iterator[str]:
    yield f"machine = {_text(logbook.machine)}"
    if logbook.offer is not None:
        yield from _offer_lines(logbook.offer)
    for entry in logbook.entries:
        yield from _trial_lines(entry) if isinstance(entry, Trial) else _aside_lines(entry)


def _offer_lines(offer: Offer) -> Iterator[str]:
    yield "\n[offer]"
    yield f"number = {offer.number}"
    yield f"time = {_time(offer.time)}"
    yield f"mode = {_text(offer.mode)}"
    if offer.hours is not None:
        yield f"hours = {_number(offer.hours)}"
    if offer.reason:
        yield f"reason = {_text(offer.reason)}"
    yield from _settings_lines("offer.settings", offer.settings)


def _trial_lines(trial: Trial) -> Iterator[str]:
    yield "\n[[trial]]"
    yield f"number = {trial.number}"
    yield f"time = {_time(trial.time)}"
    yield f"outcome = {_text(trial.outcome)}"
    if trial.symptoms:
        yield f"symptoms = [{', '.join(map(_text, trial.symptoms))}]"
    if trial.hours is not None:
        yield f"hours = {_number(trial.hours)}"
    yield from _remark_lines(trial)
    yield from _settings_lines("trial.settings", trial.settings)
    if trial.parts is not None:
        yield "\n[trial.parts]"
        yield from (f"{slot} = {_fits(fits)}" for slot, fits in trial.parts.items())
    for score in trial.scores:
        yield "\n[[trial.score]]"
        yield f"value = {_number(score.value)}"
        yield f"unit = {_text(score.unit)}"
        if score.workload:
            yield f"workload = {_text(score.workload)}"
    yield from _reading_lines("trial.reading", trial.readings)


def _aside_lines(aside: Aside) -> Iterator[str]:
    yield "\n[[aside]]"
    yield f"number = {aside.number}"
    yield f"time = {_time(aside.time)}"
    yield from _remark_lines(aside)
    if aside.settings is not None:
        yield from _settings_lines("aside.settings", aside.settings)
    yield from _reading_lines("aside.reading", aside.readings)


def _remark_lines(entry: Entry) -> Iterator[str]:
    if entry.repaired:
        yield f"repaired = [{', '.join(map(_text, entry.repaired))}]"
    if entry.note:
        yield f"note = {_text(entry.note)}"
    if entry.withdrawn:
        yield "withdrawn = true"


def _reading_lines(header: str, readings: Sequence[Reading]) -> Iterator[str]:
    for reading in readings:
        yield f"\n[[{header}]]"
        yield f"name = {_text(reading.name)}"
        yield f"value = {_values(reading)}"
        yield f"unit = {_text(reading.unit)}"
        if reading.where:
            yield f"where = {_text(reading.where)}"
        if reading.printed is not None:
            yield f"printed = {_number(from_base(reading.printed, reading.unit))}"


def _settings_lines(header: str, settings: Choices) -> Iterator[str]:
    yield f"\n[{header}]"
    yield from (f"{option} = {_text(choice)}" for option, choice in settings.items())


def _fits(fits: Sequence[FitDef]) -> str:
    if len(fits) == 1 and fits[0] == FitDef(fits[0].part):
        return _text(fits[0].part)
    tables = [f"{{ {', '.join(_fit_pairs(fit))} }}" for fit in fits]
    return tables[0] if len(tables) == 1 else f"[{', '.join(tables)}]"


def _fit_pairs(fit: FitDef) -> Iterator[str]:
    yield f"part = {_text(fit.part)}"
    if fit.count != 1:
        yield f"count = {fit.count}"
    if fit.size is not None:
        yield f"size_mb = {_number(from_base(fit.size, 'MB'))}"
    if fit.refresh is not None:
        yield f"refresh = {_text(fit.refresh)}"


def _values(reading: Reading) -> str:
    if reading.unit == ANSWER:
        return "true" if reading.values == (1,) else "false"
    numbers = [_number(from_base(value, reading.unit)) for value in reading.values]
    return numbers[0] if len(numbers) == 1 else f"[{', '.join(numbers)}]"


def _text(text: str) -> str:
    """*text* in quotes; over several lines where it has several."""
    import tomli_w  # only where a file is written

    return tomli_w.dumps({"x": text}, multiline_strings=True).removeprefix("x = ").removesuffix("\n")


def _time(time: datetime) -> str:
    return time.isoformat()


def _number(number: Exact) -> str:
    """*number* as TOML has it, exactly: whole, decimal, or a ratio as text."""
    text = plain(tidy(number))
    return f'"{text}"' if "/" in text else text
