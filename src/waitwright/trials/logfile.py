"""The logbook as text: TOML that people can read, compare line by line, and mend.

Each trial is one ``[[trial]]`` with its settings as a table below it, so that a new trial adds lines at
the end and changes none above, but for those of the offer.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from waitwright.errors import FileProblems
from waitwright.ids import ChoiceId, OptionId
from waitwright.schema.logbook import (
    SCHEMA,
    SECTIONS,
    LogbookHead,
    OfferEntry,
    ReadingEntry,
    TrialEntry,
)
from waitwright.schema.problems import Faults, Placed
from waitwright.schema.scalars import Cell, in_base_units, plain, read_number, shown
from waitwright.schema.spans import KeyPath
from waitwright.schema.tomlfile import Readable, TomlFile, read_toml
from waitwright.trials.logbook import ANSWER, Choices, Logbook, Offer, Reading, Score, Trial
from waitwright.units import UNITS, Exact, from_base, tidy

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
    trials: list[Trial] = []
    for placed in faults.take_list(TrialEntry, file, "trial"):
        trial = _trial(placed, faults)
        if trials and trial.number <= trials[-1].number:
            hint = "number the trials upwards"
            faults.add(file, (*placed.path, "number"), f"expected more than {trials[-1].number}", hint)
        trials.append(trial)
    faults.raise_if_any()
    if head is None:
        raise AssertionError("a logbook without head is a fault")
    return Logbook(head.machine, tuple(trials), None if head.offer is None else _offer(head.offer))


def _check_schema(file: TomlFile) -> None:
    schema = file.data.get("schema")
    if isinstance(schema, int) and schema > SCHEMA:
        message = f"layout {shown(schema)} is newer than this program, which knows {SCHEMA}"
        raise FileProblems((file.problem(("schema",), message, "use the newer program"),))


def _trial(placed: Placed[TrialEntry], faults: Faults) -> Trial:
    entry = placed.entry
    readings = (
        _reading(reading, placed.file, (*placed.path, "reading", position), faults)
        for position, reading in enumerate(entry.reading)
    )
    trial = Trial(
        number=entry.number,
        time=entry.time,
        settings=_settings(entry.settings),
        outcome=entry.outcome,
        symptoms=tuple(entry.symptoms),
        hours=entry.hours,
        scores=tuple(Score(score.value, score.unit, score.workload or "") for score in entry.score),
        readings=tuple(readings),
        repaired=tuple(entry.repaired),
        note=entry.note,
        withdrawn=entry.withdrawn,
    )
    if trial.contradiction is not None:
        key, message = trial.contradiction
        faults.add(placed.file, (*placed.path, key), message)
    return trial


def _reading(entry: ReadingEntry, file: TomlFile, path: KeyPath, faults: Faults) -> Reading:
    values: tuple[Exact, ...] = ()
    if entry.unit not in {*UNITS, ANSWER}:
        faults.add(file, (*path, "unit"), f"expected a unit of numbers, or flag, found {shown(entry.unit)}")
    else:
        try:
            values = tuple(_in_base_units(cell, entry.unit) for cell in entry.value)
        except ValueError as error:
            faults.add(file, (*path, "value"), str(error))
    return Reading(entry.name, values, entry.unit, entry.where)


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
    for trial in logbook.trials:
        yield from _trial_lines(trial)


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
    if trial.repaired:
        yield f"repaired = [{', '.join(map(_text, trial.repaired))}]"
    if trial.note:
        yield f"note = {_text(trial.note)}"
    if trial.withdrawn:
        yield "withdrawn = true"
    yield from _settings_lines("trial.settings", trial.settings)
    for score in trial.scores:
        yield "\n[[trial.score]]"
        yield f"value = {_number(score.value)}"
        yield f"unit = {_text(score.unit)}"
        if score.workload:
            yield f"workload = {_text(score.workload)}"
    for reading in trial.readings:
        yield "\n[[trial.reading]]"
        yield f"name = {_text(reading.name)}"
        yield f"value = {_values(reading)}"
        yield f"unit = {_text(reading.unit)}"
        if reading.where:
            yield f"where = {_text(reading.where)}"


def _settings_lines(header: str, settings: Choices) -> Iterator[str]:
    yield f"\n[{header}]"
    yield from (f"{option} = {_text(choice)}" for option, choice in settings.items())


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
