"""Machine profiles: read, and written back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from waitwright.errors import FileProblems, Problem, UsageError
from waitwright.ids import ChoiceId, OptionId, PartId, SlotId
from waitwright.rulebook.boards import load_board
from waitwright.rulebook.domain import SYMPTOMS, Rulebook
from waitwright.rulebook.machines import load_machine
from waitwright.rulebook.profiles import (
    BoardProfile,
    Environment,
    FitDef,
    MachineProfile,
    MeasuredDef,
    Proven,
    SpareDef,
)
from waitwright.rulebook.writing import dump_machine

ReadMachine = Callable[[str], MachineProfile]


def test_a_sound_machine(read_machine: ReadMachine, machine_text: str) -> None:
    """Parts, settings, labels, readings and spares arrive in base units; counts default to a full slot."""
    machine = read_machine(machine_text)

    assert (machine.title, machine.note, machine.board_name) == (
        "Test machine",
        "teaches nothing",
        "test-board",
    )
    assert machine.fit == {
        "cpu": (FitDef(PartId("386dx-33"), 1),),
        "cache-0": (FitDef(PartId("sram-20"), 3), FitDef(PartId("sram-15"), 1)),
        "simm-0": (FitDef(PartId("fpm-70"), 4, 256 * 1024, PartId("refresh-1024")),),
        "vl-1": (FitDef(PartId("card-vl"), 1),),
        "disk": (FitDef(PartId("drive"), 1),),
    }
    assert machine.current == {"clock": "33", "read": "3"}
    assert machine.labels == {"clock": "Speed", "clock.33": "fast"}
    assert machine.environment == Environment(Fraction("4.92"), None)
    assert machine.proven == Proven(40, ())
    assert machine.spares == (SpareDef(PartId("sram-15"), 9),)
    assert machine.measured == (MeasuredDef("cpu-ripple", Fraction(1, 30), "mV", "at the socket"),)


def test_a_board_is_told_as_one(read_machine: ReadMachine, board_text: str) -> None:
    """A board profile in the place of a machine is refused in one line that says what it is."""
    with pytest.raises(FileProblems) as caught:
        read_machine(board_text)

    assert [str(problem) for problem in caught.value.problems] == [
        "machine.toml: this looks like a board profile (a machine profile names its board and its parts)"
    ]


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        (
            '"386dx-33"',
            '"386dx-40"',
            "machine.toml:6: fit.cpu.part: unknown part '386dx-40' (did you mean '386dx-33' or '386dx-25'?)",
        ),
        (
            '"386dx-33"',
            '"sram-20"',
            "machine.toml:6: fit.cpu.part: slot 'cpu' takes a part of kind 'cpu', 'sram-20' "
            "is of kind 'sram' (known here: 386dx-25, 386dx-33)",
        ),
        ('"card-vl"', '"card-isa8"', ""),
        (
            'vl-1 = "card-vl"',
            'vl-2 = "card-vl"',
            "machine.toml:9: fit.vl-2: the board has no slot 'vl-2' (did you mean 'vl-1'?)",
        ),
        (
            'disk = "drive"',
            'board-disk = "drive"',
            "machine.toml:10: fit.board-disk: 'drive' is soldered here (leave this slot out)",
        ),
        (
            'part = "sram-15", count = 1',
            'part = "sram-15", count = 2',
            "machine.toml:7: fit.cache-0: 5 parts in a slot for 4 (correct the count)",
        ),
        (
            'part = "sram-15", count = 1',
            'part = "sram-16", count = 1',
            "machine.toml:7: fit.cache-0[1].part: unknown "
            "part 'sram-16' (did you mean 'sram-15' or 'sram-20'?)",
        ),
        (
            'part = "sram-15", count = 1',
            'part = "sram-15", cuont = 1',
            "machine.toml:7: fit.cache-0[1].cuont: unknown key \"cuont\" (did you mean 'count'?)",
        ),
        (
            'part = "sram-20", count = 3',
            'part = "sram-20", count = 3, size_mb = 1',
            "machine.toml:7: fit.cache-0[0].size_mb: only memory modules have one (leave it out)",
        ),
        (
            "size_mb = 0.25",
            "size_mb = -1",
            "machine.toml:8: fit.simm-0.size_mb: expected the size of one module: "
            "more than 0, at most 256 MB",
        ),
        (
            'refresh = "refresh-1024"',
            'refresh = "refresh-2048"',
            "machine.toml:8: fit.simm-0.refresh: unknown part 'refresh-2048' (did you mean 'refresh-1024'?)",
        ),
        (
            'refresh = "refresh-1024"',
            'refresh = "fpm-70"',
            "machine.toml:8: fit.simm-0.refresh: 'fpm-70' is no refresh class (known here: refresh-1024)",
        ),
        (
            'clock = "33"',
            'clock = "34"',
            "machine.toml:12: current.clock: option 'clock' has no choice '34' (known here: 25, 33)",
        ),
        (
            'clock = "33"\n',
            "",
            "machine.toml:11: current: option 'clock' has no current choice (add clock = one of 25, 33)",
        ),
        ('read = "3"', "read = 3", "machine.toml:13: current.read: expected a text, found 3"),
        (
            '"clock.33"',
            '"clock.34"',
            "machine.toml:16: labels.\"clock.34\": option 'clock' has no choice '34' (known here: 25, 33)",
        ),
        (
            '"clock" =',
            '"clok" =',
            "machine.toml:15: labels.clok: the board has no option 'clok' (did you mean 'clock'?)",
        ),
        (
            "supply_v = 4.92",
            "supply_v = 49.2",
            "machine.toml:18: environment.supply_v: expected more than 0, at most 20 V",
        ),
        (
            "supply_v = 4.92",
            "suply_v = 4.92",
            "machine.toml:18: environment.suply_v: unknown key \"suply_v\" (did you mean 'supply_v'?)",
        ),
        (
            "hours = 40",
            'hours = 40\nsymptoms = ["hang"]',
            "machine.toml:19: proven: expected hours or symptoms, and "
            "not both (how long it ran, or how it failed)",
        ),
        (
            "hours = 40",
            "hours = 0",
            "machine.toml:20: proven.hours: expected more than 0, at most 100000 hours",
        ),
        ("hours = 40", "symptoms = []", "machine.toml:20: proven.symptoms: expected at least one symptom"),
        ("count = 9", "count = 0", "machine.toml:23: spare[0].count: expected at least 1, found 0"),
        (
            'part = "sram-15"\ncount = 9',
            'part = "srom-15"',
            "machine.toml:22: spare[0].part: unknown part 'srom-15' (did you mean 'sram-15'?)",
        ),
        (
            'unit = "mV"',
            'unit = "flag"',
            "machine.toml:27: measured[0].unit: expected a unit of numbers, found 'flag'",
        ),
        ('"100/3"', '"100/0"', 'machine.toml:26: measured[0].value: "100/0" divides by zero'),
        ("schema = 1", "schema = 9", "machine.toml:1: schema: expected 1, found 9"),
        (
            'cpu = "386dx-33"',
            "cpu = 386",
            "machine.toml:6: fit.cpu: expected a part id, { part = ... }, or a list of those, found 386",
        ),
    ],
)
def test_mistakes(read_machine: ReadMachine, machine_text: str, old: str, new: str, line: str) -> None:
    """Every mistake in a machine is told with file, line, key, what is wrong and what was meant."""
    assert old in machine_text
    text = machine_text.replace(old, new, 1)
    if not line:  # an 8-bit card goes into a slot of the local bus
        assert read_machine(text).fit[SlotId("vl-1")][0].part == "card-isa8"
        return
    with pytest.raises(FileProblems) as caught:
        read_machine(text)

    assert [str(problem) for problem in caught.value.problems] == [line]


def test_unknown_option_offers_the_nearest(read_machine: ReadMachine, machine_text: str) -> None:
    """A mistyped option is told as unknown, and the one it leaves open as missing."""
    with pytest.raises(FileProblems) as caught:
        read_machine(machine_text.replace('clock = "33"', 'clok = "33"'))

    assert [str(problem) for problem in caught.value.problems] == [
        "machine.toml:11: current: option 'clock' has no current choice (add clock = one of 25, 33)",
        "machine.toml:12: current.clok: the board has no option 'clok' (did you mean 'clock'?)",
    ]


def test_all_mistakes_of_a_machine_come_together(read_machine: ReadMachine, machine_text: str) -> None:
    """Mistakes of shape do not hide mistakes of meaning elsewhere in the file."""
    text = machine_text.replace("title =", "titel =", 1).replace('"386dx-33"', '"386dx-34"')
    text = text.replace('read = "3"', 'read = "4"').replace("count = 9", 'count = "nine"')
    with pytest.raises(FileProblems) as caught:
        read_machine(text)

    assert [problem.key for problem in caught.value.problems] == [
        "",
        "titel",
        "fit.cpu.part",
        "current.read",
        "spare[0].count",
    ]


def test_a_card_that_does_not_plug_in(small: Rulebook, board_text: str, machine_text: str) -> None:
    """A local-bus card does not go into a plain ISA slot."""
    board = load_board(board_text.replace('bus = "vl"', 'bus = "isa16"'), small, "board.toml")
    with pytest.raises(FileProblems) as caught:
        load_machine(machine_text, small, lambda name: board, "machine.toml")

    assert [str(problem) for problem in caught.value.problems] == [
        "machine.toml:9: fit.vl-1.part: slot 'vl-1' is on bus 'isa16'; 'card-vl' plugs into 'vl' "
        "(did you mean 'card-isa8'?)"
    ]


def test_a_board_that_is_missing_or_broken(small: Rulebook, machine_text: str) -> None:
    """A missing board is told at its key; the errors of a broken one are told as that file's."""

    def missing(name: str) -> BoardProfile:
        raise UsageError(f"unknown board {name!r}")

    def broken(name: str) -> BoardProfile:
        raise FileProblems((Problem("other.toml", "slot", "broken"),))

    with pytest.raises(FileProblems) as caught:
        load_machine(machine_text.replace("count = 9", "count = 0"), small, missing, "m.toml")
    assert [str(problem) for problem in caught.value.problems] == [
        "m.toml:4: board: unknown board 'test-board'",
        "m.toml:23: spare[0].count: expected at least 1, found 0",
    ]
    with pytest.raises(FileProblems, match=r"^other\.toml: slot: broken$"):
        load_machine(machine_text, small, broken, "m.toml")
    with pytest.raises(FileProblems, match=r'm\.toml: missing key "board"'):
        load_machine(machine_text.replace('board = "test-board"\n', ""), small, missing, "m.toml")


def test_dump_is_read_back_equal(read_machine: ReadMachine, machine_text: str) -> None:
    """A profile that is written and read again is the same profile."""
    machine = read_machine(machine_text)

    assert read_machine(dump_machine(machine)) == machine


def numbers(least: int, most: int) -> st.SearchStrategy[int | Fraction]:
    """Exact numbers as profiles hold them: whole ones as int."""
    fractions = st.fractions(min_value=least, max_value=most, max_denominator=10**6)
    return fractions.map(lambda number: number.numerator if number.denominator == 1 else number)


LINES = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20)
CHANGES = st.fixed_dictionaries(
    {
        "title": LINES,
        "note": LINES | st.just(""),
        "current": st.builds(
            lambda clock, read: {OptionId("clock"): ChoiceId(clock), OptionId("read"): ChoiceId(read)},
            st.sampled_from(["25", "33"]),
            st.sampled_from(["2", "3"]),
        ),
        "labels": st.dictionaries(st.sampled_from(["clock", "clock.25", "read.3"]), LINES),
        "environment": st.builds(Environment, st.none() | numbers(1, 20), st.none() | numbers(-59, 200)),
        "proven": st.none()
        | st.builds(Proven, numbers(1, 10**5))
        | st.builds(
            Proven, st.none(), st.lists(st.sampled_from(SYMPTOMS), min_size=1, max_size=8).map(tuple)
        ),
        "spares": st.lists(
            st.builds(SpareDef, st.sampled_from(["sram-15", "fpm-60", "drive"]), st.integers(1, 10_000)),
            max_size=3,
        ).map(tuple),
        "measured": st.lists(
            st.builds(MeasuredDef, st.just("x"), numbers(-1000, 1000), st.sampled_from(["V", "ohm"]), LINES),
            max_size=3,
        ).map(tuple),
        "fit": st.fixed_dictionaries(
            {},
            optional={
                SlotId("cpu"): st.just((FitDef(PartId("386dx-25")),)),
                SlotId("cache-0"): st.lists(
                    st.builds(FitDef, st.sampled_from(["sram-15", "sram-20"]), st.integers(1, 2)),
                    min_size=1,
                    max_size=2,
                ).map(tuple),
                SlotId("simm-0"): st.builds(
                    FitDef,
                    st.sampled_from(["fpm-60", "fpm-70"]),
                    st.integers(1, 4),
                    st.none() | st.sampled_from([2**18, 2**20, 2**24]),
                    st.none() | st.just("refresh-1024"),
                ).map(lambda fit: (fit,)),
            },
        ),
    }
)


@given(CHANGES)
def test_any_profile_is_read_back_equal(
    small: Rulebook, board_text: str, machine_text: str, changes: dict[str, object]
) -> None:
    """Whatever a profile holds, writing and reading it again gives the same profile, exactly."""
    board = load_board(board_text, small, "board.toml")
    base = load_machine(machine_text, small, lambda name: board, "machine.toml")
    machine = replace(base, **changes)  # type: ignore[arg-type]

    assert load_machine(dump_machine(machine), small, lambda name: board, "again.toml") == machine


def test_files_and_texts_are_read_alike(
    read_machine: ReadMachine, machine_text: str, small: Rulebook, tmp_path: Path
) -> None:
    """A profile may come from a path."""
    path = tmp_path / "m.toml"
    path.write_text(machine_text, "utf-8")
    machine = read_machine(machine_text)

    assert load_machine(path, small, lambda name: machine.board, "m.toml") == machine
