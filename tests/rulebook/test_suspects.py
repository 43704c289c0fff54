"""Suspects and measurements: how they are read, what is refused, and what the packed ones say."""

from __future__ import annotations

from collections.abc import Callable
from math import exp, inf, log, pi, sqrt

import pytest

from waitwright.expr import evaluate
from waitwright.rulebook.domain import SYMPTOMS, Measurement, Provenance, Readings, Rulebook, Suspect
from waitwright.rulebook.lint import lint
from waitwright.rulebook.load import load_rulebook
from waitwright.units import NUMBER, UNITS, to_base

Build = Callable[..., Rulebook]
Lines = Callable[..., list[str]]

FILE = "suspects/supply.toml"
BOOK = load_rulebook()
PRACTICE = Provenance("practice", "practice")


# ---------------------------------------------------------------------------------- reading files


def test_a_suspect_is_read_whole(small: Rulebook) -> None:
    """Weights become shares of one, and everything else is as the file says."""
    suspect = small.suspects["tired"]

    assert dict(suspect.symptoms) == {"hang": 0.25, "reboot": 0.75}
    assert (suspect.prior, suspect.spread, suspect.warmth) == (0.05, 1.2, "cold")
    assert suspect.only_with == "drive" and suspect.measurements == ("voltage", "swap")
    assert suspect.cautions == ("heat",) and suspect.provenance == PRACTICE
    assert suspect.when is not None and suspect.when.text == "not automatic"


def test_a_measurement_is_read_whole(small: Rulebook) -> None:
    """Distributions keep their own sources, and bands are closed above."""
    voltage, swap = small.measurements["voltage"], small.measurements["swap"]

    assert voltage.healthy == Readings("normal", 1.0, 0.02, Provenance("guide", "published"))
    assert voltage.relative_to is not None and voltage.minutes == 5.0
    assert [voltage.judge(reading).text for reading in (0.8, 0.95, 0.96)] == ["low", "low", "as it should be"]
    assert swap.faulty == Readings("chance", 0.8, 0.0, PRACTICE)
    assert [swap.judge(answer).text for answer in (0, 1)] == ["no", "yes"]


def test_own_suspects_go_over_known_ones(files: dict[str, str], build: Build) -> None:
    """A user's file replaces a suspect of the same id and keeps the others."""
    start = files[FILE].index("[[suspect]]")
    own = files[FILE][start:].replace("prior = 0.05", "prior = 0.5")

    book = build(files, {FILE: own})

    assert book.suspects["tired"].prior == 0.5
    assert book.measurements.keys() == {"voltage", "swap"}


def test_a_measurement_that_tests_nothing_is_a_warning(files: dict[str, str], build: Build) -> None:
    """A measurement that no suspect names loads, with a remark."""
    files[FILE] = files[FILE].replace('"voltage", "swap"]', '"voltage"]')

    assert [str(finding) for finding in lint(build(files))] == [
        "warning: measurement swap: is named by no suspect"
    ]


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ("prior = 0.05", "prior = 1", "suspect[0].prior: expected a probability between 0 and 1"),
        ("spread = 1.2", "spread = 0", "suspect[0].spread: expected a spread"),
        (
            "reboot = 3",
            "rebot = 3",
            "suspect[0].symptoms.rebot: unknown symptom 'rebot' (did you mean 'reboot'?)",
        ),
        ("reboot = 3", "reboot = -1", "suspect[0].symptoms.reboot: expected a weight above 0"),
        ("host_clock / MHz(33.3)", "host_clock", "suspect[0].rate: "),
        ("not automatic", "host_clock", "suspect[0].when: "),
        ('only_with = "drive"', 'only_with = "drives"', "suspect[0].only_with: unknown role 'drives'"),
        ('only_with = "drive"\n', "", "suspect[0].rate: speaks of one drive among several"),
        (
            '"voltage", "swap"]',
            '"voltage", "swop"]',
            "suspect[0].measurements[1]: unknown measurement 'swop'",
        ),
        (
            'minutes = 5\ncautions = ["heat"]',
            'minutes = 5\ncautions = ["hot"]',
            "measurement[0].cautions[0]: unknown caution",
        ),
        (
            "minutes = 5\n",
            'minutes = 5\nrooms = ["cpu", "l3"]\n',
            "measurement[0].rooms[1]: unknown room 'l3' (known here: cpu, l2)",
        ),
        ("minutes = 5", "minutes = 0", "measurement[0].minutes: expected more than 0"),
        ('"host_clock"', '"1 / host_clock"', "measurement[0].relative_to: "),
        ('unit = "flag"', 'unit = "V"', "measurement[1].unit: a measurement of kind 'answer' needs \"flag\""),
        ('unit = "MHz"', 'unit = "flag"', "measurement[0].unit: a measurement of kind 'number' needs a unit"),
        ('kind = "number"', 'kind = "list"', "measurement[0].relative_to: only a single number"),
        ("sigma = 0.02", "sigma = 0", "measurement[0].healthy: expected a sigma above 0"),
        ("centre = 0.9,", "centre = 0,", "measurement[0].faulty: expected a median above 0"),
        ("centre = 0.8,", "centre = 1,", "measurement[1].faulty: expected a centre between 0 and 1"),
        ('shape = "normal"', 'shape = "chance"', "measurement[0].healthy.shape: kind 'number' needs"),
        (
            '{ says = "fault", text = "yes" }',
            '{ at_most = 1, says = "fault", text = "yes" }',
            "measurement[1].judge: every band but the last",
        ),
        (
            '{ says = "fault", text = "yes" }',
            '{ at_most = 0, says = "fault", text = "yes" }, { says = "unclear", text = "?" }',
            "measurement[1].judge: expected the bands in",
        ),
        ('says = "fault", text = "low"', 'says = "bad", text = "low"', "measurement[0].judge[0].says: "),
        (
            "minutes = 60",
            'minutes = 60\nbounds = { least = 0, most = 1, below = "no", above = "no" }',
            "measurement[1].bounds: an answer has none",
        ),
        (
            "minutes = 5",
            'minutes = 5\nbounds = { least = 2, most = 2, below = "no", above = "no" }',
            "measurement[0].bounds.most: expected more than the least reading",
        ),
        ("minutes = 5", "minutes = 5\nprinted = [1, 2]", "measurement[0].printed: a list has"),
        ('kind = "number"', 'kind = "list"', "measurement[0].printed: a list has"),
        (
            'shape = "chance", centre = 0.8',
            'shape = "twosided", centre = 0.8',
            "measurement[1].faulty.shape: ",
        ),
    ],
)
def test_faulty_entries(edited: Lines, old: str, new: str, line: str) -> None:
    """Numbers out of bounds, unknown names and mixed dimensions end with file, key and what was expected."""
    lines = edited(FILE, old, new)

    assert any(line in found and found.startswith(f"rules/{FILE}:") for found in lines), lines


def test_a_faulty_measurement_is_not_held_against_its_suspect(edited: Lines) -> None:
    """Only the measurement is told as faulty, not the suspect that names it."""
    (line,) = edited(FILE, "minutes = 5", "minutes = 0")

    assert "measurement[0].minutes" in line


# ---------------------------------------------------------------------------------- distributions


@pytest.mark.parametrize("reading", [0.02, 0.7, 1.0, 3.0, 20.0])
def test_densities(reading: float) -> None:
    """Normal and lognormal densities are the textbook's."""
    normal = exp(-(((reading - 1.5) / 0.7) ** 2) / 2) / (0.7 * sqrt(2 * pi))
    lognormal = exp(-((log(reading / 1.5) / 0.7) ** 2) / 2) / (reading * 0.7 * sqrt(2 * pi))

    assert exp(Readings("normal", 1.5, 0.7, PRACTICE).log_density(reading)) == pytest.approx(normal)
    assert exp(Readings("lognormal", 1.5, 0.7, PRACTICE).log_density(reading)) == pytest.approx(lognormal)


@pytest.mark.parametrize("reading", [0.5, 0.8, 1.0, 1.1, 1.4])
def test_a_twosided_density_is_half_on_either_side_of_one(reading: float) -> None:
    """Half of the readings lie around the centre, half around its mirror image beyond 1."""
    halves = (Readings("normal", centre, 0.1, PRACTICE) for centre in (0.8, 1.2))
    both = Readings("twosided", 0.8, 0.1, PRACTICE)

    assert exp(both.log_density(reading)) == pytest.approx(
        sum(exp(h.log_density(reading)) for h in halves) / 2
    )
    assert both.log_density(reading) == pytest.approx(both.log_density(2 - reading))


def test_what_cannot_be_read_has_no_density() -> None:
    """A lognormal reading of nothing is impossible, not an error."""
    assert Readings("lognormal", 1.5, 0.7, PRACTICE).log_density(0.0) == -inf
    assert Readings("lognormal", 1.5, 0.7, PRACTICE).log_density(-1.0) == -inf


def test_answers_have_probabilities() -> None:
    """Yes and no have probabilities that add up to one."""
    answer = Readings("chance", 0.3, 0.0, PRACTICE)

    assert [exp(answer.log_density(value)) for value in (1, 0)] == pytest.approx([0.3, 0.7])


# ----------------------------------------------------------------------------- the packed entries


def names(entry: Suspect | Measurement) -> str:
    """Readable test ids."""
    return entry.id


def test_the_causes_that_practice_knows_are_there() -> None:
    """Every common cause of instability other than timing has its suspect."""
    assert BOOK.suspects.keys() == {
        "supply-ripple", "pull-up-network", "cache-chip", "mixed-chips", "memory-module", "clock-generator",
        "overheating", "supply-marginal", "socket-contact", "slot-contact", "wrong-jumper", "option-misnamed",
    }  # fmt: skip
    assert BOOK.suspects["slot-contact"].only_with == "card"
    assert BOOK.suspects["cache-chip"].when is not None
    assert {suspect.warmth for suspect in BOOK.suspects.values()} == {"any", "cold", "warm"}


@pytest.mark.parametrize("suspect", BOOK.suspects.values(), ids=names)
def test_packed_suspect(suspect: Suspect) -> None:
    """Each suspect is rare by itself, shows as known symptoms, and has a test, a remedy and a source."""
    assert 0 < suspect.prior <= 0.1
    assert sum(suspect.symptoms.values()) == pytest.approx(1) and set(suspect.symptoms) <= set(SYMPTOMS)
    assert all(name in BOOK.measurements for name in suspect.measurements)
    assert all(name in BOOK.cautions for name in suspect.cautions) and suspect.cautions
    assert suspect.remedy.endswith(".") and suspect.signs.endswith(".") and suspect.provenance.source


@pytest.mark.parametrize("suspect", BOOK.suspects.values(), ids=names)
def test_rates_are_failures_per_hour(suspect: Suspect) -> None:
    """At 33 MHz a fault fails a soak of hours, not of seconds, and no fault gets better with the clock."""

    def rate(mhz: str) -> float:
        facts = {"host_clock": to_base(mhz, "MHz"), "core_clock": to_base(mhz, "MHz")}
        return float(evaluate(suspect.rate, lambda name: facts.get(name, False)))  # type: ignore[arg-type]

    assert 0.1 <= rate("33.3") <= 5
    assert rate("16") <= rate("33.3") <= rate("50")


@pytest.mark.parametrize("measurement", BOOK.measurements.values(), ids=names)
def test_packed_measurement(measurement: Measurement) -> None:
    """Each measurement tells how, warns, has sources, and its typical readings point the right way."""
    healthy, faulty = measurement.healthy, measurement.faulty

    assert measurement.how.endswith(".") and measurement.cautions and measurement.minutes >= 5
    assert all(entry.source for entry in (healthy.provenance, faulty.provenance, measurement.provenance))
    assert all(band.text for band in measurement.bands)
    if measurement.kind == "answer":
        assert measurement.unit == "flag" and healthy.centre < faulty.centre
        assert [measurement.judge(answer).text.split(":")[0] for answer in (0, 1)] == ["no", "yes"]
    else:
        assert UNITS[measurement.unit].dimension != NUMBER
        assert measurement.bounds is not None and measurement.bounds.below and measurement.bounds.above
        assert healthy.log_density(healthy.centre) > faulty.log_density(healthy.centre)


def test_ripple_by_common_practice() -> None:
    """Common practice: 50 mV very good, under 100 mV wanted, 300 mV goes with random crashes."""
    ripple = BOOK.measurements["cpu-ripple"]
    evidence = [ripple.faulty.log_density(mv) - ripple.healthy.log_density(mv) for mv in (50, 99, 150, 300)]

    assert ripple.unit == "mV"
    assert ripple.judge(50).text == "very good"
    assert ripple.judge(51) == ripple.judge(100) and "as wanted" in ripple.judge(99).text
    assert "too much" in ripple.judge(150).text and "random crashes" in ripple.judge(300).text
    assert evidence == sorted(evidence)
    assert evidence[0] < -4 and abs(evidence[1]) < 1 and evidence[3] > 6


def test_supply_by_the_guide() -> None:
    """ATX power supply design guide 0.9: 4.75 V to 5.25 V on the 5 V rail."""
    supply = BOOK.measurements["supply-voltage"]

    assert all("within" in supply.judge(volts / 5).text for volts in (4.76, 5.0, 5.25))
    assert not any("within" in supply.judge(volts / 5).text for volts in (4.4, 4.7, 5.3))
    assert supply.faulty.log_density(0.92) - supply.healthy.log_density(0.92) > 5
    assert supply.faulty.log_density(1.0) - supply.healthy.log_density(1.0) < -1


@pytest.mark.parametrize("name", ["host-clock", "isa-clock"])
def test_a_clock_off_by_a_step_is_wrong(name: str) -> None:
    """A clock of 40 MHz where 33 was chosen is held for wrong, one within half a percent for right."""
    clock = BOOK.measurements[name]
    evidence = [clock.faulty.log_density(x) - clock.healthy.log_density(x) for x in (1.002, 1.2)]

    assert evidence[0] < -3 < 10 < evidence[1]
    assert len({clock.judge(ratio) for ratio in (0.8, 1.0, 1.2)}) == 3


def test_resistances_have_bands() -> None:
    """Common practice: of 10 kohm an element that reads 100 kohm is open, one that reads lower is loaded."""
    networks = BOOK.measurements["pull-up-networks"]

    assert networks.kind == "list" and networks.unit == "kohm"
    assert "open" in networks.judge(100 / 10).text and "open" in networks.judge(2000 / 10).text
    assert "lower" in networks.judge(7 / 10).text and networks.judge(0.98).text == "as it should be"
