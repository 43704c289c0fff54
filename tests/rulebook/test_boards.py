"""Board profiles."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from waitwright.errors import FileProblems
from waitwright.ids import ChoiceId
from waitwright.rulebook.profiles import BoardProfile

ReadBoard = Callable[[str], BoardProfile]


def test_a_sound_board(read_board: ReadBoard, board_text: str) -> None:
    """Slots, options, automatics and rules arrive in order, values in base units."""
    board = read_board(board_text)
    clock, read = board.options

    assert (board.title, board.note, board.fixed) == ("Test board", "invented", {"bus_source": "fixed"})
    assert [slot.id for slot in board.slots] == ["cpu", "cache-0", "simm-0", "vl-1", "disk", "board-disk"]
    assert (board.slots[3].bus, board.slots[3].role, board.slots[5].soldered) == ("vl", "", "drive")
    assert clock.choice(ChoiceId("33")).sets == {"host_clock": Fraction(1, 30_000)}
    assert (clock.kind, clock.parameters, read.parameters) == ("jumper", ("host_clock",), ("read_clocks",))
    assert board.automatics[0].when.text == "automatic"
    assert [rule.id for rule in board.rules] == ["board.clock"]
    with pytest.raises(KeyError):
        clock.choice(ChoiceId("50"))


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        (
            "read_clocks = 3 }",
            "raed_clocks = 3 }",
            "board.toml:60: option[1].choice[1].set.raed_clocks: unknown "
            "parameter 'raed_clocks' (did you mean 'read_clocks'?)",
        ),
        (
            "read_clocks = 3 }",
            "read_clocks = 7 }",
            "board.toml:60: option[1].choice[1].set.read_clocks: 7 clocks is above 6 clocks",
        ),
        (
            "read_clocks = 3 }",
            "read_clocks = 1 }",
            "board.toml:60: option[1].choice[1].set.read_clocks: 1 clocks is below 2 clocks",
        ),
        (
            "read_clocks = 3 }",
            "read_clocks = true }",
            "board.toml:60: option[1].choice[1].set.read_clocks: expected "
            'a number such as 12, 12.5 or "100/3", found true',
        ),
        (
            "read_clocks = 3 }",
            "automatic = 3 }",
            "board.toml:60: option[1].choice[1].set.automatic: expected true or false, found 3",
        ),
        (
            "read_clocks = 3 }",
            "host_clock = 40 }",
            "board.toml:60: option[1].choice[1].set.host_clock: 'host_clock' "
            "is set by option 'clock' and by option 'read' (leave it to one of them)",
        ),
        (
            "read_clocks = 3 }",
            'bus_source = "clk2" }',
            "board.toml:60: option[1].choice[1].set.bus_source: "
            "'bus_source' is set by the board's fixed values and by option 'read' (leave it to one of them)",
        ),
        (
            'bus_source = "fixed"',
            'bus_source = "fast"',
            "board.toml:5: fixed.bus_source: expected 'clk2' or 'fixed', found \"fast\"",
        ),
        (
            'id = "read"',
            'id = "clock"',
            "board.toml:49: option[1]: duplicate option 'clock', first in board.toml:36 (rename one)",
        ),
        (
            'id = "3"',
            'id = "2"',
            "board.toml:57: option[1].choice[1]: duplicate choice '2', first in board.toml:53 (rename one)",
        ),
        (
            'id = "cache-0"',
            'id = "cpu"',
            "board.toml:11: slot[1]: duplicate slot 'cpu', first in board.toml:6 (rename one)",
        ),
        (
            'id = "read"',
            'id = "re.ad"',
            "board.toml:50: option[1].id: expected a name of lower-case letters, digits "
            'and hyphens, found "re.ad"',
        ),
        (
            'role = "l2.data"',
            'role = "l2.dota"',
            "board.toml:13: slot[1].role: unknown role 'l2.dota' (did you mean 'l2.data'?)",
        ),
        (
            'role = "l2.data"\n',
            "",
            "board.toml:11: slot[1]: expected a role or a bus, and not both "
            "(a card slot has a bus, all others a role)",
        ),
        (
            'bus = "vl"',
            'bus = "vlb"',
            'board.toml:23: slot[3].bus: expected "isa8", "isa16", "vl" or "pci", found "vlb"',
        ),
        (
            '["386dx"]',
            '["386xd"]',
            "board.toml:10: slot[0].accepts[0]: unknown family of parts '386xd' (did you mean '386dx'?)",
        ),
        (
            'soldered = "drive"',
            'soldered = "dirve"',
            "board.toml:34: slot[5].soldered: unknown part 'dirve' (did you mean 'drive'?)",
        ),
        (
            'soldered = "drive"',
            'soldered = "fpm-70"',
            "board.toml:34: slot[5].soldered: slot 'board-disk' takes a "
            "part of kind 'drive', 'fpm-70' is of kind 'dram'",
        ),
        (
            'on = "vl-1"',
            'on = "vl-2"',
            "board.toml:29: slot[4].on: no card slot or board port 'vl-2' (did you mean 'vl-1'?)",
        ),
        (
            'on = "vl-1"\n',
            "",
            'board.toml:25: slot[4]: missing key "on" '
            "(name the card slot or board port that the drive hangs on)",
        ),
        (
            'accepts = ["386dx"]',
            'on = "vl-1"',
            "board.toml:10: slot[0].on: only a slot for a drive is on something",
        ),
        (
            'accepts = ["386dx"]',
            "loads = 1",
            'board.toml:10: slot[0].loads: only a slot on bus "vl" has local-bus loads',
        ),
        ("chips = 4", "chips = 0", "board.toml:15: slot[1].chips: expected at least 1, found 0"),
        ("chips = 4", "chips = 4.5", "board.toml:15: slot[1].chips: expected a whole number, found 4.5"),
        (
            'when = "automatic"',
            'when = "automatc"',
            "board.toml:62: automatic[0].when: unknown name 'automatc' (did you mean 'automatic'?)",
        ),
        (
            'set = { read_clocks = "3 if',
            'set = { red_clocks = "3 if',
            "board.toml:63: automatic[0].set.red_clocks: "
            "unknown parameter 'red_clocks' (did you mean 'read_clocks' or 'host_clock'?)",
        ),
        (
            '"board.clock"',
            '"cpu.clock"',
            "board.toml:65: rule[0].id: the rulebook has a rule 'cpu.clock' already (rename it)",
        ),
        (
            'kind = "jumper"',
            'kind = "switch"',
            'board.toml:39: option[0].kind: expected "setup" or "jumper", found "switch"',
        ),
    ],
)
def test_mistakes(read_board: ReadBoard, board_text: str, old: str, new: str, line: str) -> None:
    """Every mistake in a board is told with file, line, key, what is wrong and what was meant."""
    assert old in board_text
    with pytest.raises(FileProblems) as caught:
        read_board(board_text.replace(old, new, 1))

    assert [str(problem) for problem in caught.value.problems] == [line]


def test_an_option_needs_choices(read_board: ReadBoard, board_text: str) -> None:
    """An option without choices is told."""
    text = board_text + '[[option]]\nid = "empty"\nlabel = "x"\nkind = "setup"\n'
    with pytest.raises(FileProblems) as caught:
        read_board(text)
    with pytest.raises(FileProblems) as caught_empty:
        read_board(text + "choice = []\n")

    assert 'option[2]: missing key "choice" (add choice = [...])' in str(caught.value)
    assert "option[2].choice: expected at least 1 of them, found 0" in str(caught_empty.value)


def test_dimensions_of_automatics_and_rules(read_board: ReadBoard, board_text: str) -> None:
    """An automatic value of another kind than its parameter, and a rule that is no flag, are told."""
    text = board_text.replace('"3 if host_clock > MHz(30) else 2"', '"host_clock"')
    with pytest.raises(FileProblems) as caught:
        read_board(text.replace('"host_clock <= MHz(33.4)"', '"host_clock"'))

    assert [problem.key for problem in caught.value.problems] == [
        "automatic[0].set.read_clocks",
        "rule[0].require",
    ]


def test_all_mistakes_of_a_board_come_together(read_board: ReadBoard, board_text: str) -> None:
    """Mistakes of shape do not hide mistakes of meaning elsewhere in the file."""
    text = board_text.replace("title = ", "titel = ", 1).replace("read_clocks = 2 }", "read_clocks = 99 }")
    with pytest.raises(FileProblems) as caught:
        read_board(text.replace('role = "dram"', 'role = "darm"').replace('kind = "jumper"', "kind = 1"))

    assert [problem.key for problem in caught.value.problems] == [
        "",
        "titel",
        "slot[2].role",
        "option[0].kind",
        "option[1].choice[0].set.read_clocks",
    ]
