"""``suspect``: causes that no setting cures, most likely first, and the measurement that would tell most."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from shlex import quote

from waitwright.api.check import cautions
from waitwright.api.lessons import lessons
from waitwright.api.meter import expectation, meter_words
from waitwright.api.opening import Question
from waitwright.api.trial_room import TrialRoom, enter
from waitwright.machine import FactTable
from waitwright.report.trial_views import SuspectsView, SuspectView, TestView
from waitwright.rulebook.domain import Measurement, Suspect
from waitwright.timing.soak import DEFAULT_SOAK_HOURS
from waitwright.trials.logbook import Entry, Trial
from waitwright.trials.measuring import information
from waitwright.trials.suspicion import (
    Judged,
    best_measurement,
    chance_at_work,
    facts_now,
    found_faulty,
    judged_readings,
    outdated,
    taken,
)

_WORTH_ASKING = 0.15
"""Share of the blame that timing must have before an exchange of its parts is worth asking for."""


def suspect(question: Question, *, hours: float = DEFAULT_SOAK_HOURS) -> SuspectsView:
    """Every suspect with its odds after all trials and readings.

    Raises:
        InputError: if machine, rules, wishes or logbook are faulty.
    """
    case = _Case(enter(question, hours=hours), question.machine)
    room, chances = case.room, case.room.standing.suspicion()
    book = room.machine.rulebook
    ordered = sorted(book.suspects.values(), key=lambda one: (-chances[one.id], one.id))
    return SuspectsView(
        machine=room.machine.name,
        title=room.machine.title,
        suspects=tuple(case.view(one, chances[one.id]) for one in ordered),
        timing_odds=round(1.0 - room.standing.any_fault(), 6),
        failed=any(not outcome.stable for outcome in room.standing.outcomes),
        next_test=next_test(room, question.machine),
        hints=tuple(case.hints()),
        lessons=lessons(room),
        warnings=room.warnings,
        cautions=cautions(room.machine, FactTable(room.machine, room.machine.current), "suspect"),
    )


def next_test(room: TrialRoom, asked: str) -> TestView | None:
    """The measurement that would tell most on the machine that was *asked* about; None where all are made."""
    case = _Case(room, asked)
    best = best_measurement(room.standing, room.machine.rulebook.measurements, case.done)
    return None if best is None else case.test(best)


@dataclass(frozen=True)
class _Case:
    """A machine with what was measured on it.

    Attributes:
        asked: The machine as it was named.
    """

    room: TrialRoom
    asked: str

    @cached_property
    def readings(self) -> tuple[Judged, ...]:
        return judged_readings(self.room.machine, self.room.logbook)

    @cached_property
    def done(self) -> frozenset[str]:
        """Measurements that need not be made again."""
        return taken(self.room.standing, self.room.logbook)

    @cached_property
    def facts(self) -> FactTable:
        """The machine as it was set last."""
        return facts_now(self.room.machine, self.room.logbook)

    def view(self, one: Suspect, chance: float) -> SuspectView:
        standing = self.room.standing
        best = best_measurement(standing, one.measurements, self.done)
        return SuspectView(
            id=one.id,
            title=one.title,
            odds=round(chance, 6),
            prior=one.prior,
            signs=one.signs,
            evidence=(*self._measured(one), *self._mended(one), *self._blamed(one)),
            test=None if best is None else self.test(best),
            remedy=one.remedy,
            found=found_faulty(one, standing, self.readings),
            mended=standing.repairs.get(one.id, 0) > 0,
            mend=self._record(f"--repaired {one.id}"),
        )

    def _measured(self, one: Suspect) -> Iterable[str]:
        """What readings say of a suspect."""
        for judged in self.readings:
            if judged.measurement.id not in one.measurements:
                continue
            if outdated(judged, self.room.standing):
                aside = "; that was before a repair"
            else:
                aside = "" if judged.latest else "; measured again since"
            where = f", {judged.reading.where}" if judged.reading.where else ""
            yield f"{_named(judged.entry)}, {judged.measurement.title}{where}: {judged.band.text}{aside}"

    def _mended(self, one: Suspect) -> Iterable[str]:
        """When a suspect was mended."""
        book = self.room.logbook
        for entry in book.counting:
            if one.id in entry.repaired:
                which = f"before {_named(entry)}" if isinstance(entry, Trial) else _named(entry)
                yield f"mended, {which}: what was found and what failed earlier is held against it no more"

    def _blamed(self, one: Suspect) -> Iterable[str]:
        """The share of a suspect in each failure."""
        standing = self.room.standing
        for outcome in standing.outcomes:
            share = 0.0 if outcome.stable else dict(standing.blame(outcome)).get(one.id, 0.0)
            if share >= 0.1:
                seen = ", ".join(outcome.symptoms) or "failure"
                since = standing.repairs.get(one.id, 0) > outcome.repairs.get(one.id, 0)
                yield f"{seen}: explains it with {100 * share:.0f} %{', mended since' if since else ''}"

    def test(self, measurement: Measurement) -> TestView:
        """How to take a measurement, and what its readings mean at the settings of the machine."""
        return TestView(
            id=measurement.id,
            title=measurement.title,
            how=measurement.how,
            unit="yes or no" if measurement.kind == "answer" else measurement.unit,
            expected=expectation(measurement, self.facts),
            bands=tuple(meter_words(measurement, band, self.facts) for band in measurement.bands),
            bits=round(information(measurement, chance_at_work(self.room.standing, measurement)), 4),
            minutes=measurement.minutes,
            record=self._record(_told(measurement)),
        )

    def hints(self) -> Iterable[str]:
        """Exchanges that would tell whether timing made the machine fail: a no is worth as much as a yes."""
        failures = [outcome for outcome in self.room.standing.outcomes if not outcome.stable]
        if not failures:
            return
        rules = self.room.ground.formers(failures[-1].fit).rules.deciding
        places = {rule.id: rule.rule.room for rule in rules}
        blame = dict(self.room.standing.blame(failures[-1]))
        for measurement in self.room.machine.rulebook.measurements.values():
            share = sum(part for name, part in blame.items() if places.get(name) in measurement.rooms)
            if share >= _WORTH_ASKING and measurement.id not in self.done:
                question = measurement.title[:1].upper() + measurement.title[1:]
                told = self._record(f"--measure {measurement.id}=no")
                yield (
                    f"Timing has {100 * share:.0f} % of the last failure, and an exchange would tell. "
                    f"{question} A no speaks against timing and tells as much as a yes; to record it: {told}"
                )

    def _record(self, what: str) -> str:
        """The whole command; packed examples are not written to, their copies are."""
        name = self.asked if self.room.store is not None else f"{self.asked}.toml"
        return f"waitwright record {quote(name)} {what}"


def _named(entry: Entry) -> str:
    return f"{'trial' if isinstance(entry, Trial) else 'entry'} {entry.number}"


def _told(measurement: Measurement) -> str:
    """What tells a reading of *measurement*."""
    if measurement.kind == "answer":
        return f"--measure {measurement.id}=yes"
    value = "9.8,9.9,10" if measurement.kind == "list" else "VALUE"
    printed = f" of 10 {measurement.unit}" if measurement.kind == "list" else ""
    return f"--measure '{measurement.id}={value} {measurement.unit}{printed}'"
