"""Every packed board and machine is complete: loads, enough options, real choices, no word used twice."""

from __future__ import annotations

import pytest

from waitwright._resources import packed_names
from waitwright.api.opening import open_machine
from waitwright.ids import ParameterName
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


def test_there_are_packed_profiles() -> None:
    """At least one board and two machines come with the package."""
    assert len(BOARDS) >= 1
    assert len(MACHINES) >= 2


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
