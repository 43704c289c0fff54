"""Forms and addresses are read strictly: each mistake has one line beside its field, and nothing is lost."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given as drawn
from hypothesis import strategies as st
from tests.workshop import OLD, packed

from waitwright.api.controls import controls
from waitwright.api.opening import Question
from waitwright.errors import UsageError
from waitwright.page.forms import (
    BadForm,
    Reader,
    beside_field,
    fields,
    hours_again,
    number,
    question_of,
    report_of,
    wish_of,
)
from waitwright.report.controls_view import ControlsView
from waitwright.trials.measuring import vocabulary
from waitwright.trials.readings import parse_readings

SETS = ("cache-read=2-1-1-1",)


@cache
def here() -> ControlsView:
    """What can be chosen on a packed machine."""
    return controls(Question(OLD))


def form(**given: Any) -> dict[str, list[str]]:
    """Fields by name, one value or a list of them."""
    return {name: value if isinstance(value, list) else [value] for name, value in given.items()}


# -------------------------------------------------------------------------------------- fields


@drawn(st.text(max_size=200))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Whatever comes in as a form becomes fields of text, or one clear refusal."""
    try:
        found = fields(text)
    except BadForm as bad:
        assert list(bad.errors) == [""]
    else:
        assert all(isinstance(value, str) for values in found.values() for value in values)


def test_fields_keep_order_and_blanks() -> None:
    """Values keep their order, empty ones count, and signs are decoded."""
    assert fields("set=a%3Db&note=&set=c&note=%C2%B5+s") == {"set": ["a=b", "c"], "note": ["", "µ s"]}


@pytest.mark.parametrize(
    ("text", "value"), [("4", 4.0), ("0,5", 0.5), ("1e1", 10.0), ("0.1", 0.1), ("1000", 1000.0)]
)
def test_numbers(text: str, value: float) -> None:
    """A number may have a comma for its point."""
    assert number(text, 0.1, 1000, "hours") == value


@pytest.mark.parametrize("text", ["", "x", "nan", "inf", "-1", "1001", "1 2", "0x10", "1,000,000", "٣x"])
def test_other_numbers_are_refused(text: str) -> None:
    """What is no number of the range is refused with what was expected and what was found."""
    with pytest.raises(UsageError, match=r"hours: expected a number from 0\.1 to 1000, found"):
        number(text, 0.1, 1000, "hours")


# ----------------------------------------------------------------------------------- questions


def test_a_choice_that_stands_anyway_is_not_asked() -> None:
    """A form names every option; only those that differ from the profile become part of the question."""
    every = [f"{option.option}={option.current}" for option in here().options]
    asked = question_of(
        form(set=[*every, "cache-read=2-1-1-1"], part=["", "tag=sram-32kx8-15"]), Question(OLD), here()
    )

    assert asked.sets == ("cache-read=2-1-1-1",)
    assert asked.parts == ("tag=sram-32kx8-15",)


def test_a_question_goes_over_that_of_the_command_line() -> None:
    """What the page was started with holds until a form says otherwise, also where it goes back to now."""
    base = Question(OLD, Path("rules"), 7, ("cache-read=2-1-1-1", "isa-io=1"), ("tag=sram-32kx8-15",))
    asked = question_of(form(set=["cache-read=3-2-2-2"]), base, here())

    assert asked == Question(OLD, Path("rules"), 7, ("isa-io=1",), ("tag=sram-32kx8-15",))


@pytest.mark.parametrize(
    ("given", "field"),
    [
        (form(odds="x"), "odds"),
        (form(odds="101"), "odds"),
        (form(exactly="-1"), "exactly"),
        (form(soak="0"), "soak"),
        (form(workload="chess"), "workload"),
        (form(fix=["host-clock", "nosuch"]), "fix"),
    ],
)
def test_a_bad_wish_names_its_field(given: dict[str, list[str]], field: str) -> None:
    """Each field of the ranking that is wrong is named."""
    reader = Reader(given)
    wish_of(reader, here())
    with pytest.raises(BadForm) as caught:
        reader.finish()
    assert list(caught.value.errors) == [field]


def test_exact_odds_go_before_the_slider() -> None:
    """The number typed beats where the slider stands; data-sheet limits leave the curve out."""
    wish = wish_of(Reader(form(odds="90", exactly="99,5", judge="sheet", fix=["host-clock"])), here())

    assert (wish.odds, wish.rated, wish.curve, wish.fix) == (0.995, True, False, ("host-clock",))
    assert wish_of(Reader(form(odds="75")), here()).odds == 0.75
    assert wish_of(Reader({}), here()).odds == 0.9


# --------------------------------------------------------------------------------------- deeds


def test_a_whole_report() -> None:
    """A full form becomes the words that the command line takes."""
    report = report_of(
        form(
            outcome="failed",
            symptom=["hang", "memory-error"],
            hours="0,5",
            planned="4",
            score="36,1",
            unit="points",
            workload="integer",
            measure="cpu-ripple",
            value="95",
            where="at the socket",
            repaired=["socket-contact"],
            note=" case open\r\ncold ",
            number="3",
        ),
        here(),
        SETS,
    )

    assert (report.outcome, report.symptoms, report.hours) == ("failed", ("hang", "memory-error"), 0.5)
    assert (report.scores, report.workload) == (("36.1 points",), "integer")
    assert report.measures == ("cpu-ripple=95 mV at the socket",)
    assert (report.repaired, report.number) == (("socket-contact",), 3)
    assert report.note == "case open\ncold"


def test_a_trial_that_held_ran_as_planned() -> None:
    """Without hours a trial that held ran as long as planned; for one that failed nothing is made up."""
    held = report_of(form(outcome="stable", planned="24", symptom=["hang"]), here(), SETS)
    failed = report_of(form(outcome="failed", planned="24"), here(), SETS)

    assert (held.hours, held.symptoms) == (24.0, ())
    assert failed.hours is None


@pytest.mark.parametrize(
    ("value", "told"), [("95", "95 mV"), ("0.1 V", "0.1 V"), ("9.8, 9.9", "9.8, 9.9 mV")]
)
def test_a_reading_gets_its_usual_unit(value: str, told: str) -> None:
    """A bare number is in the usual unit of what was measured; a unit that was typed stays."""
    report = report_of(form(outcome="stable", measure="cpu-ripple", value=value), here(), SETS)

    assert report.measures == (f"cpu-ripple={told}",)


def test_an_answer_has_no_unit() -> None:
    """Yes and no are passed on as they are."""
    report = report_of(form(outcome="stable", measure="swap-supply", value="yes"), here(), SETS)

    assert report.measures == ("swap-supply=yes",)


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        (form(), "outcome", "it held, or it failed"),
        (form(outcome="perhaps"), "outcome", "no such choice"),
        (form(outcome="failed", symptom=["smoke"]), "symptom", "no such choice: 'smoke'"),
        (form(outcome="stable", hours="long"), "hours", "expected a number"),
        (form(outcome="stable", hours="1e9"), "hours", "from 0 to 10000"),
        (form(outcome="stable", score="36"), "unit", "such as points"),
        (form(outcome="stable", measure="cpu-ripple"), "value", "the value is missing"),
        (form(outcome="stable", value="95"), "measure", "choose it"),
        (form(outcome="stable", measure="weather", value="95"), "measure", "no such choice"),
        (form(outcome="stable", repaired=["luck"]), "repaired", "no such choice"),
        (form(outcome="stable", note="n" * 601), "note", "at most 600 signs, found 601"),
        (form(outcome="stable", number="x"), "number", "expected a number"),
    ],
)
def test_each_mistake_stands_beside_its_field(given: dict[str, list[str]], field: str, words: str) -> None:
    """A form with one mistake is refused with one line, for the field that is wrong."""
    with pytest.raises(BadForm) as caught:
        report_of(given, here(), SETS)

    assert list(caught.value.errors) == [field]
    assert words in caught.value.errors[field]
    assert "\n" not in caught.value.errors[field]


def test_no_settings_no_record() -> None:
    """A form must say which settings were tried."""
    with pytest.raises(BadForm) as caught:
        report_of(form(outcome="stable"), here(), ())

    assert list(caught.value.errors) == ["set"]


def test_what_is_done_without_a_trial() -> None:
    """Without settings and outcome, a form tells what was measured, mended or noted; it tells something."""
    given = form(measure="cpu-ripple", value="95", repaired=["supply-ripple"], note="warm", number="4")
    report = report_of(given, here(), ())

    assert (report.outcome, report.hours, report.number) == (None, None, 4)
    assert report.measures == ("cpu-ripple=95 mV",)
    assert report.repaired == ("supply-ripple",) and report.note == "warm"
    with pytest.raises(BadForm) as caught:
        report_of(form(number="4"), here(), ())
    assert "nothing to record" in caught.value.errors["measure"]


def test_what_the_api_refuses_stands_beside_its_field() -> None:
    """A refusal of the api loses the name of the switch and gets the name of the field."""
    report = report_of(form(outcome="stable", measure="cpu-ripple", value="95 kg"), here(), SETS)
    with pytest.raises(UsageError, match="--measure") as caught:
        parse_readings(report.measures, vocabulary(packed(OLD)[0]))

    (told,) = beside_field(caught.value, report).errors.items()
    assert told[0] == "value"
    assert told[1].startswith("expected a unit after the value, ")
    assert beside_field(UsageError("something else"), report).errors == {"": "something else"}
    assert list(beside_field(UsageError("--hours 0.001: too short"), report).errors) == ["hours"]


def test_planned_hours_of_a_form_that_comes_back() -> None:
    """The planned hours are kept, and nonsense in their place does no harm."""
    assert hours_again(form(planned="24")) == 24.0
    assert hours_again(form(planned="x")) == hours_again({}) == 4.0
