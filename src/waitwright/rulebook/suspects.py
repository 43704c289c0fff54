"""Suspects and measurements: causes of instability other than timing, and what tells them apart.

Shape, language and plain numbers are checked here; ids that one entry names of another are checked in
:mod:`waitwright.rulebook.lint`.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Literal

from waitwright.nearest import did_you_mean
from waitwright.rulebook.domain import SYMPTOMS, Band, Bounds, Measurement, Readings, Suspect, Symptom
from waitwright.rulebook.texts import TextReader
from waitwright.schema.problems import Placed
from waitwright.schema.rulefile import BandEntry, MeasurementEntry, ReadingsEntry, SuspectEntry
from waitwright.schema.spans import KeyPath

_MISSED = 0.1
"""Chance that a fault does not show while it is measured, where nobody has told (assumption)."""

_WIDEST = 5
"""A logarithm with a wider spread than this says nothing at all."""


class SuspectReader:
    """Builds suspects and measurements."""

    def __init__(self, texts: TextReader) -> None:
        self._texts = texts

    def measurement(self, placed: Placed[MeasurementEntry]) -> Measurement:
        """``[[measurement]]``."""
        entry = placed.entry
        if (entry.unit == "flag") != (entry.kind == "answer") or entry.unit == "text":
            wanted = '"flag"' if entry.kind == "answer" else "a unit of numbers"
            self._fault(placed, ("unit",), f"a measurement of kind {entry.kind!r} needs {wanted}")
        if entry.relative_to is not None and entry.kind != "number":
            self._fault(placed, ("relative_to",), "only a single number is compared with an expected value")
        if entry.minutes <= 0:
            self._fault(placed, ("minutes",), "expected more than 0")
        path = (*placed.path, "relative_to")
        return Measurement(
            id=entry.id,
            title=entry.title,
            how=entry.how,
            unit=entry.unit,
            kind=entry.kind,
            relative_to=self._texts.optional(placed.file, path, entry.relative_to),
            healthy=self._readings(placed, "healthy", entry.healthy),
            faulty=self._readings(placed, "faulty", entry.faulty),
            bands=self._bands(placed, entry.judge),
            bounds=self._bounds(placed),
            printed=self._printed(placed),
            missed=_MISSED if entry.missed is None else float(entry.missed),
            places=entry.places,
            rooms=tuple(entry.rooms),
            minutes=float(entry.minutes),
            cautions=tuple(entry.cautions),
            provenance=self._texts.provenance(entry.source, entry.basis),
        )

    def suspect(self, placed: Placed[SuspectEntry]) -> Suspect:
        """``[[suspect]]``."""
        entry = placed.entry
        if not 0 < entry.prior < 1:
            self._fault(placed, ("prior",), "expected a probability between 0 and 1, neither included")
        if not 0 < entry.spread <= _WIDEST:
            self._fault(placed, ("spread",), f"expected a spread of more than 0, at most {_WIDEST}")
        return Suspect(
            id=entry.id,
            title=entry.title,
            signs=entry.signs,
            prior=float(entry.prior),
            when=self._texts.optional(placed.file, (*placed.path, "when"), entry.when),
            only_with=entry.only_with,
            rate=self._texts.expression(placed.file, (*placed.path, "rate"), entry.rate),
            spread=float(entry.spread),
            warmth=entry.warmth,
            symptoms=self._shares(placed),
            measurements=tuple(entry.measurements),
            remedy=entry.remedy,
            cautions=tuple(entry.cautions),
            provenance=self._texts.provenance(entry.source, entry.basis),
        )

    def _shares(self, placed: Placed[SuspectEntry]) -> dict[Symptom, float]:
        """Weights of symptoms as shares of 1, in the order of :data:`SYMPTOMS`."""
        weights = placed.entry.symptoms
        for name, weight in weights.items():
            if name not in SYMPTOMS:
                hint = did_you_mean(name, SYMPTOMS)
                self._fault(placed, ("symptoms", name), f"unknown symptom {name!r}", hint)
            if weight <= 0:
                self._fault(placed, ("symptoms", name), "expected a weight above 0")
        whole = sum(weights.values()) or 1
        return {name: float(weights[name] / whole) for name in SYMPTOMS if name in weights}

    def _readings(
        self, placed: Placed[MeasurementEntry], key: Literal["healthy", "faulty"], entry: ReadingsEntry
    ) -> Readings:
        shapes = {"number": ("normal", "lognormal"), "list": ("lognormal",), "answer": ("chance",)}
        able = shapes[placed.entry.kind]
        if placed.entry.relative_to is not None:
            able = (*able, "twosided")
        if entry.shape not in able:
            wanted = " or ".join(f'"{shape}"' for shape in able)
            self._fault(placed, (key, "shape"), f"kind {placed.entry.kind!r} needs {wanted}")
        elif entry.shape == "chance":
            if not 0 < entry.centre < 1 or entry.sigma is not None:
                self._fault(placed, (key,), "expected a centre between 0 and 1 and no sigma")
        elif entry.sigma is None or entry.sigma <= 0:
            self._fault(placed, (key,), "expected a sigma above 0")
        elif entry.shape == "lognormal" and (entry.centre <= 0 or entry.sigma > _WIDEST):
            self._fault(placed, (key,), f"expected a median above 0 and a sigma of at most {_WIDEST}")
        provenance = self._texts.provenance(entry.source, entry.basis)
        return Readings(entry.shape, float(entry.centre), float(entry.sigma or 0), provenance)

    def _bands(self, placed: Placed[MeasurementEntry], entries: list[BandEntry]) -> tuple[Band, ...]:
        bands = tuple(
            Band(None if entry.at_most is None else float(entry.at_most), entry.text, entry.says)
            for entry in entries
        )
        closed = [band.at_most for band in bands[:-1] if band.at_most is not None]
        if bands[-1].at_most is not None or len(closed) < len(bands) - 1:
            self._fault(placed, ("judge",), "every band but the last has at_most, and the last has none")
        if any(upper <= lower for lower, upper in pairwise(closed)):
            self._fault(placed, ("judge",), "expected the bands in ascending order")
        return bands

    def _bounds(self, placed: Placed[MeasurementEntry]) -> Bounds | None:
        told = placed.entry.bounds
        if told is None:
            return None
        if placed.entry.kind == "answer":
            self._fault(placed, ("bounds",), "an answer has none")
        if told.least >= told.most:
            self._fault(placed, ("bounds", "most"), "expected more than the least reading")
        return Bounds(told.least, told.most, told.below, told.above)

    def _printed(self, placed: Placed[MeasurementEntry]) -> tuple[float, float] | None:
        told = placed.entry.printed
        if (told is not None) != (placed.entry.kind == "list"):
            self._fault(
                placed, ("printed",), "a list has the values that are made, and nothing else has them"
            )
        if told is None:
            return None
        least, most = map(float, told)
        if not 0 < least <= most:
            self._fault(placed, ("printed",), "expected two values above 0, the smaller one first")
        return least, most

    def _fault(
        self,
        placed: Placed[MeasurementEntry] | Placed[SuspectEntry],
        path: KeyPath,
        message: str,
        hint: str = "",
    ) -> None:
        self._texts.faults.add(placed.file, (*placed.path, *path), message, hint)
