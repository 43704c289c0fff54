"""Every packed board and machine is complete: loads, enough options, real choices, no word used twice."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from html import escape
from pathlib import Path

import pytest

from waitwright._resources import packed_logbook, packed_names
from waitwright.api.check import check
from waitwright.api.next_trial import next_trial
from waitwright.api.opening import Question, logbook_of, open_machine
from waitwright.api.rank import Wish, rank
from waitwright.api.suspect import suspect
from waitwright.api.swap import swap
from waitwright.api.why import why
from waitwright.cli.main import OK, run
from waitwright.errors import UsageError
from waitwright.ids import ParameterName
from waitwright.intake.slow import settings_that_hold
from waitwright.machine.facts import FactTable
from waitwright.rulebook.domain import Rulebook
from waitwright.rulebook.fits import fitting_parts
from waitwright.rulebook.load import load_rulebook
from waitwright.rulebook.machines import board_finder
from waitwright.rulebook.profiles import BoardProfile, OptionDef
from waitwright.timing.bind import bind
from waitwright.timing.margins import margins

BOARDS = packed_names("boards")
MACHINES = packed_names("machines")
TRIED = tuple(name for name in MACHINES if packed_logbook(name) is not None)
"""Machines with a logbook beside them; what it tells may well be trouble."""
UNTRIED = tuple(name for name in MACHINES if name not in TRIED)

MENU_SPEAK = re.compile(
    r"\b(enabled?|disabled?|select|wait states?|w/s|hidden refresh|shadow|gate (of )?a20|fast gate|recovery"
    r"|(read|write) (hit|cycle)|(external|internal|secondary) cache|command delay|ras to cas delay)\b"
)
"""Words that setup screens of old were written in; packed boards are told in words of the trade."""

NOW = datetime(2025, 11, 25, 20, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def rulebook() -> Rulebook:
    """The packed rulebook."""
    return load_rulebook()


def open_board(name: str, rulebook: Rulebook) -> BoardProfile:
    """The packed board *name*."""
    return board_finder(rulebook)(name)


def labels_of(options: tuple[OptionDef, ...]) -> list[str]:
    """The labels of *options*, as a reader who does not mind capitals sees them."""
    return [option.label.casefold() for option in options]


@pytest.mark.parametrize("name", BOARDS)
def test_options_are_worded_plainly(name: str, rulebook: Rulebook) -> None:
    """No option or choice of a packed board speaks like a setup screen, in phrases or In Such Capitals."""
    for option in open_board(name, rulebook).options:
        for label in (option.label, *(choice.label for choice in option.choices)):
            assert not MENU_SPEAK.search(label.casefold()), label
            for word in label.split()[1:]:
                bare = word.strip(",.'()").removesuffix("'s").removesuffix("s")
                assert not bare.isalpha() or bare.isupper() or bare.islower() or bare.endswith("Hz"), label


@pytest.mark.parametrize("name", MACHINES)
def test_slow_settings_keep_the_advice_on_refresh(name: str, rulebook: Rulebook) -> None:
    """The slow settings that ``new`` would take for the parts of a packed machine refresh as advised."""
    machine = open_machine(name, rulebook)
    first = {option.id: option.choices[0].id for option in machine.options}
    rated = machine.constants["cpu.host_clock"]
    assert not isinstance(rated, str | bool)
    slow = settings_that_hold(replace(machine.profile, current=first), rulebook, {}, rated)
    short = {margin.bound.id for margin in margins(machine, bind(machine), slow).short}

    assert not short & {"refresh.share", "refresh.cadence"}


def test_there_are_packed_profiles() -> None:
    """Boards and machines of both generations come with the package, and a logbook beside one at least."""
    assert len(BOARDS) >= 6
    assert len(MACHINES) >= 11
    assert TRIED


@pytest.mark.parametrize("name", BOARDS)
def test_board_has_enough_options_with_real_choices(name: str, rulebook: Rulebook) -> None:
    """A packed board has at least 18 options, each with two choices or more that differ in what they set."""
    board = open_board(name, rulebook)

    assert len(board.options) >= 18
    for option in board.options:
        settings = [tuple(sorted(choice.sets.items())) for choice in option.choices]
        assert len(settings) >= 2, option.id
        assert len(set(settings)) == len(settings), option.id


@pytest.mark.parametrize("name", BOARDS)
def test_choices_of_one_option_set_the_same_parameters(name: str, rulebook: Rulebook) -> None:
    """Whatever is chosen, an option leaves no parameter unset that another of its choices sets."""
    for option in open_board(name, rulebook).options:
        for choice in option.choices:
            assert set(choice.sets) == set(option.parameters), f"{option.id}.{choice.id}"


@pytest.mark.parametrize("name", BOARDS)
def test_board_says_no_label_twice(name: str, rulebook: Rulebook) -> None:
    """No two options of a packed board share a label, nor do two choices of one option."""
    board = open_board(name, rulebook)
    labels = labels_of(board.options)

    assert len(set(labels)) == len(labels)
    for option in board.options:
        choices = [choice.label.casefold() for choice in option.choices]
        assert len(set(choices)) == len(choices), option.id


@pytest.mark.parametrize("name", BOARDS)
def test_board_explains_itself(name: str, rulebook: Rulebook) -> None:
    """A packed board has a title and a note."""
    board = open_board(name, rulebook)

    assert board.title
    assert board.note.strip()


@pytest.mark.parametrize("name", BOARDS)
def test_every_socket_of_a_board_has_parts_that_fit(name: str, rulebook: Rulebook) -> None:
    """The catalogue holds at least one part for every slot of a packed board."""
    for slot in open_board(name, rulebook).slots:
        assert next(fitting_parts(slot, rulebook), None) is not None, slot.id


@pytest.mark.parametrize("name", MACHINES)
def test_machine_sets_every_option(name: str, rulebook: Rulebook) -> None:
    """The current settings of a packed machine name one choice of every option of its board, and no more."""
    machine = open_machine(name, rulebook)

    assert set(machine.current) == {option.id for option in machine.options}
    for option in machine.options:
        assert option.choice(machine.current[option.id]) in option.choices


@pytest.mark.parametrize("name", MACHINES)
def test_machine_has_enough_options_under_its_own_labels(name: str, rulebook: Rulebook) -> None:
    """A packed machine offers at least 18 options, and the owner's words for them are all different."""
    labels = labels_of(open_machine(name, rulebook).options)

    assert len(labels) >= 18
    assert len(set(labels)) == len(labels)


@pytest.mark.parametrize("name", MACHINES)
def test_machine_explains_itself(name: str, rulebook: Rulebook) -> None:
    """A packed machine has a title and a note that says what it teaches."""
    profile = open_machine(name, rulebook).profile

    assert profile.title
    assert profile.note.strip()


@pytest.mark.parametrize("name", MACHINES)
def test_machine_knows_its_clocks(name: str, rulebook: Rulebook) -> None:
    """The current settings of a packed machine give every clock a value, and every option's parameter too."""
    machine = open_machine(name, rulebook)
    facts = FactTable(machine, machine.current)

    for clock in ("host_clock", "core_clock", "clk2_clock", "isa_clock", "dma_clock"):
        assert facts(clock) is not None, clock
    for parameter in machine.setters:
        assert facts(parameter) is not None, parameter


@pytest.mark.parametrize("name", MACHINES)
def test_machine_is_completely_filled(name: str, rulebook: Rulebook) -> None:
    """No bank of a packed machine is half filled or mixed, and its memory has a size."""
    machine = open_machine(name, rulebook)

    assert machine.constants["l2.chips_missing"] == machine.constants["memory.modules_missing"] == 0
    assert machine.constants["l2.mixed_in_bank"] is machine.constants["memory.mixed_in_bank"] is False
    size = machine.constants["memory.size"]
    assert isinstance(size, int)
    assert size > 0


@pytest.mark.parametrize("name", MACHINES)
def test_machine_starts_from_settings_that_hold(name: str, rulebook: Rulebook) -> None:
    """The current settings of a packed machine are slow enough for every rated value of its parts."""
    machine = open_machine(name, rulebook)
    verdicts = margins(machine, bind(machine), machine.current)

    assert verdicts.stands


@pytest.mark.parametrize("name", MACHINES)
def test_timing_chosen_by_the_board_overrules_its_lines(name: str, rulebook: Rulebook) -> None:
    """With the automatic mode on, an option cannot set a parameter that the mode sets; off, it can.

    Source: common practice with boards that choose their own timings.
    """
    machine = open_machine(name, rulebook)
    if ParameterName("automatic_timing") not in machine.setters:
        return
    switch = machine.option(machine.setters["automatic_timing"])
    overruled = {parameter for automatic in machine.board.automatics for parameter in automatic.sets}
    assert overruled
    for mode in switch.choices:
        for option in machine.options:
            if option.id == switch.id:
                continue
            seen = set()
            for choice in option.choices:
                settings = {**machine.current, switch.id: mode.id, option.id: choice.id}
                facts = FactTable(machine, settings)
                seen.add(tuple(facts(name) for name in option.parameters if name in overruled))
            inert = mode.sets[ParameterName("automatic_timing")] or not overruled & set(option.parameters)
            assert (len(seen) == 1) == inert, f"{option.id} with {switch.id} {mode.id}"


# ------------------------------------------------------------------ every command on every machine


@pytest.mark.parametrize("name", MACHINES)
def test_check_judges_a_packed_machine(name: str) -> None:
    """``check`` gives every rule of a packed machine a margin, breaks no exact rule, and holds as it was set.

    A logbook beside the machine may know better than the data sheets; its odds are its own.
    """
    view = check(Question(name))

    assert view.stands
    assert len(view.rules) >= 40
    unchecked = [rule.id for rule in view.rules if rule.rated == "unchecked"]
    assert not unchecked
    assert view.odds is not None
    assert view.odds > (0.0 if name in TRIED else 0.98)


@pytest.mark.parametrize("rated", [True, False])
@pytest.mark.parametrize("name", UNTRIED)
def test_rank_finds_something_faster_on_a_packed_machine(name: str, rated: bool) -> None:
    """``rank`` proves, over millions of combinations, that a packed machine can be faster and still hold."""
    view = rank(Question(name), Wish(rated=rated))

    assert view.verdict in {"complete", "all"}
    assert view.space.raw >= 10**6
    best = view.results[0]
    assert 0.03 < best.gain < 1.5
    assert best.changes
    assert best.odds is None if rated else best.odds is not None and best.odds >= 0.9


@pytest.mark.parametrize("name", TRIED)
def test_rank_answers_on_a_machine_with_a_logbook(name: str) -> None:
    """``rank`` keeps to the odds it was asked for, whatever the logbook tells."""
    view = rank(Question(name), Wish())

    assert all(result.odds is not None and result.odds >= 0.9 for result in view.results)


@pytest.mark.parametrize("name", MACHINES)
def test_why_has_nothing_against_a_packed_machine_as_it_is(name: str) -> None:
    """``why`` finds nothing that decides short in the current settings of a packed machine."""
    view = why(Question(name))

    assert view.stands
    assert not [rule.id for rule in view.short if not rule.advisory]


@pytest.mark.parametrize("name", UNTRIED)
def test_why_tells_what_ends_the_way_of_a_packed_machine(name: str) -> None:
    """Every option at its fastest is too much for any packed machine, and ``why`` says where."""
    machine = open_machine(name, load_rulebook())
    bold = {str(option.id): str(option.choices[-1].id) for option in machine.options}

    view = why(Question(name).at(bold))

    assert not view.stands
    assert view.conflicts or [rule for rule in view.short if not rule.advisory]


@pytest.mark.parametrize("name", UNTRIED)
def test_next_offers_a_trial_on_a_packed_machine(name: str) -> None:
    """``next`` has a faster combination to try on a machine that nobody has tried to speed up."""
    view = next_trial(Question(name), now=NOW)

    assert view.verdict == "trial"
    assert view.trial is not None
    assert view.trial.gain > 0.03
    assert view.trial.odds > 0.3
    assert not view.kept


@pytest.mark.parametrize("name", TRIED)
def test_logbook_of_a_packed_machine_leads_somewhere(name: str) -> None:
    """A packed logbook comes to its end: nothing is left to try, or a fault is found, and mended perhaps."""
    book = logbook_of(name)
    assert book.machine == name
    assert len(book.standing) >= 3
    assert any(trial.outcome == "failed" for trial in book.standing)

    mended = any(trial.repaired for trial in book.standing)
    verdict = next_trial(Question(name), now=NOW).verdict
    assert mended or verdict in {"done", "measure"}
    assert (verdict == "measure") == (suspect(Question(name)).timing_odds < 0.5)


@pytest.mark.parametrize("name", MACHINES)
def test_swap_judges_the_spares_of_a_packed_machine(name: str) -> None:
    """``swap`` has an answer on all spares of a packed machine that fit, or says that there are none."""
    if not open_machine(name, load_rulebook()).profile.spares:
        with pytest.raises(UsageError, match="lists no spares"):
            swap(Question(name))
        return
    view = swap(Question(name))

    assert view.swaps
    assert view.best_gain is None or view.best_gain >= 0
    assert all(one.verdict for one in view.swaps)


@pytest.mark.parametrize("name", MACHINES)
def test_a_packed_machine_gets_its_sheet(name: str, tmp_path: Path) -> None:
    """``sheet`` writes one small file for every packed machine, with each of its options."""
    path = tmp_path / "sheet.html"
    assert run(["sheet", name, "-o", str(path)]) == OK

    text = path.read_text("utf-8")
    assert len(text.encode()) < 400_000
    for option in open_machine(name, load_rulebook()).options:
        assert escape(option.label, quote=False).replace("'", "&#39;") in text
