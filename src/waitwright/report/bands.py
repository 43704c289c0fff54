"""What the readings of a measurement are held against, and what each band of them means, in words."""

from __future__ import annotations

from collections.abc import Mapping

from waitwright.explain.figures import plain
from waitwright.expr import render
from waitwright.rulebook.domain import Band, Measurement


def scale_of(measurement: Measurement) -> str:
    """What the ends of the bands count: a unit, or times something; empty for answers."""
    if measurement.kind == "answer":
        return ""
    if measurement.kind == "list":
        return "times what the sound ones read"
    return measurement.unit if measurement.relative_to is None else "times the expected value"


def expectation(measurement: Measurement, said: Mapping[str, str]) -> str:
    """What a sound machine is expected to read; empty for answers.

    Args:
        said: Facts in words.
    """
    if measurement.kind == "answer":
        return ""
    if measurement.kind == "list":
        return "expected: each as the sound ones among them read, that is at or under the printed value"
    if measurement.relative_to is not None:
        return f"expected: the {render(measurement.relative_to, said)}, as set"
    return f"expected: about {plain(measurement.healthy.centre)} {measurement.unit} on a sound machine"


def band_end(measurement: Measurement, band: Band) -> str:
    """Where *band* ends: ``up to 0.85 times what the sound ones read``; ``above`` for the open one."""
    return "above" if band.at_most is None else f"up to {band.at_most:g} {scale_of(measurement)}"


def band_words(measurement: Measurement, band: Band) -> str:
    """Where *band* ends and what it means; of an answer what it means, which begins with yes or no."""
    return band.text if measurement.kind == "answer" else f"{band_end(measurement, band)}: {band.text}"
