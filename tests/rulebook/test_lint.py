"""Checks that need the whole rulebook."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from waitwright.expr import FLAG, TEXT
from waitwright.rulebook.domain import Rulebook
from waitwright.rulebook.kinds import Vocabulary, fact_kinds
from waitwright.rulebook.lint import lint
from waitwright.units import FREQUENCY, NUMBER, SIZE, TIME

Build = Callable[..., Rulebook]
Lines = Callable[..., list[str]]


def test_every_declared_fact_has_its_kind(small: Rulebook) -> None:
    """Parameters, derived and counted facts, part facts with their limits, and presence are all declared."""
    kinds = fact_kinds(small)

    assert kinds["host_clock"] == FREQUENCY
    assert kinds["host_period"] == kinds["cpu.address_valid_max"] == kinds["l2.data.access"] == TIME
    assert kinds["memory.size"] == SIZE
    assert kinds["drive.pio_mode_min"] == kinds["read_clocks"] == NUMBER
    assert kinds["cpu.present"] == kinds["cpu.burst"] == FLAG
    assert kinds["bus_source"] == kinds["cpu.family"] == TEXT
    assert "cpu.burst_max" not in kinds
    assert "cpu.access" not in kinds
    assert "work.reads" not in kinds


def test_facts_computed_from_one_of_several_need_it_too(files: dict[str, str], build: Build) -> None:
    """A fact that speaks of a drive, at first or second hand, needs the role; its presence does not."""
    files["facts/drive.toml"] = (
        '[[fact]]\nname = "fast"\nunit = "flag"\ntitle = "t"\nexpr = "drive.pio_mode > 1"\nsource = "s"\n'
        'basis = "practice"\n[[fact]]\nname = "faster"\nunit = "flag"\ntitle = "t"\nexpr = "not fast"\n'
        'source = "s"\nbasis = "practice"\n'
    )

    needs = Vocabulary.of(build(files)).each_roles

    assert needs["faster"] == needs["fast"] == needs["drive.pio_mode"] == {"drive"}
    assert "drive.present" not in needs


def test_a_sound_rulebook_has_warnings_at_most(small: Rulebook) -> None:
    """The small rulebook has no error."""
    assert [str(finding) for finding in lint(small)] == []


def test_what_nothing_uses_is_a_warning(files: dict[str, str], build: Build) -> None:
    """A parameter, fact or trait that no rule uses is told as a warning and does not stop loading."""
    files["words/parameters.toml"] += '[spare]\nunit = "flag"\ntitle = "spare"\n'
    files["words/traits.toml"] += '[writes]\nunit = "ratio"\ntitle = "writes"\n'
    files["workloads/work.toml"] = files["workloads/work.toml"].replace(
        "traits = {", 'traits = { writes = { value = 1, unit = "ratio" },'
    )

    findings = lint(build(files))

    assert [str(finding) for finding in findings] == [
        "warning: parameter spare: is used by no rule",
        "warning: trait writes: is used by no rule",
    ]


def test_a_parameter_for_boards_needs_no_rule(files: dict[str, str], build: Build) -> None:
    """What only the automatics of boards speak of is no spare word."""
    files["words/parameters.toml"] += '[chooses_itself]\nunit = "flag"\ntitle = "t"\nfor_boards = true\n'

    assert lint(build(files)) == ()


@pytest.mark.parametrize(
    ("name", "old", "new", "line"),
    [
        (
            "budgets/l2.toml",
            "read_clocks * host_period",
            "read_clocks * host_clock",
            "budgets/l2.toml:6: budget[0].available[0].time: ",
        ),
        ("budgets/l2.toml", "not automatic", "host_period", "budgets/l2.toml:5: budget[0].when: "),
        (
            "budgets/l2.toml",
            'when = "cpu.burst"',
            'when = "cpu.data_setup"',
            "budgets/l2.toml:10: budget[0].spend[2].when: ",
        ),
        ("limits/cpu.toml", '"host_clock"', '"host_period"', "limits/cpu.toml:5: limit[0].value: "),
        ("limits/cpu.toml", '"MHz"', '"ns"', "limits/cpu.toml:5: limit[0].value: "),
        (
            "logic/drive.toml",
            "drive.pio_mode >= 1 and",
            "drive.pio_mode >= ns(1) and",
            "logic/drive.toml:5: rule[0].require: ",
        ),
        ("facts/clocks.toml", "1 / host_clock", "host_clock", "facts/clocks.toml:5: fact[0].expr: "),
        ("words/parameters.toml", '"false"', '"3"', "words/parameters.toml:14: automatic.default: "),
        ("workloads/work.toml", "2 * host_period", "host_clock", "workloads/work.toml:5: event[0].time: "),
        ("workloads/work.toml", "1000 * work.reads", "host_period", "workloads/work.toml:4: event[0].rate: "),
        (
            "cautions/heat.toml",
            "host_clock > MHz(33.4)",
            "host_clock",
            "cautions/heat.toml:4: caution[0].when: ",
        ),
    ],
)
def test_dimensions(edited: Lines, name: str, old: str, new: str, line: str) -> None:
    """A time where a frequency belongs, a number where a flag belongs: told with file, key and line."""
    lines = edited(name, old, new)

    assert lines[0].startswith(f"rules/{line}")
    assert "needed" in lines[0] or "compare" in lines[0] or "with" in lines[0]


@pytest.mark.parametrize(
    ("name", "old", "new", "line"),
    [
        (
            "budgets/l2.toml",
            '"l2"',
            '"local"',
            "budgets/l2.toml:4: budget[0].room: unknown room 'local' (did you mean 'local-bus'?)",
        ),
        (
            "budgets/l2.toml",
            'part = "l2.data"',
            'part = "l2.dota"',
            "budgets/l2.toml:9: budget[0].spend[1].part: unknown role 'l2.dota' (did you mean 'l2.data'?)",
        ),
        (
            "limits/cpu.toml",
            'part = "cpu"',
            'part = "drive"',
            'limits/cpu.toml:9: limit[0].part: speaks of one drive among several (add each = "drive")',
        ),
        (
            "logic/drive.toml",
            'each = "drive"',
            'each = "cpu"',
            "logic/drive.toml:4: rule[0].each: role 'cpu' is not one of several (such roles: drive)",
        ),
        (
            "logic/drive.toml",
            'each = "drive"',
            'each = "drives"',
            "logic/drive.toml:4: rule[0].each: unknown role 'drives' (did you mean 'drive'?)",
        ),
        (
            "logic/drive.toml",
            'each = "drive"\n',
            "",
            'logic/drive.toml:4: rule[0].require: speaks of one drive among several (add each = "drive")',
        ),
        (
            "budgets/l2.toml",
            "host_period",
            "work.reads",
            "budgets/l2.toml:6: budget[0].available[0].time: unknown name 'work.reads'",
        ),
        (
            "words/roles.toml",
            'kind = "sram"',
            'kind = "srom"',
            "words/roles.toml:5: l2.data.kind: unknown kind of part 'srom' (did you mean 'sram'?)",
        ),
        (
            "words/counted.toml",
            '["memory.size"]',
            '["cpu.burst"]',
            "words/counted.toml:1: \"cpu.burst\": 'cpu.burst' is already a row of a data sheet (rename it)",
        ),
        (
            "facts/clocks.toml",
            '"host_period"',
            '"host_clock"',
            "facts/clocks.toml:1: fact[0]: 'host_clock' is already a parameter (rename it)",
        ),
    ],
)
def test_names(edited: Lines, name: str, old: str, new: str, line: str) -> None:
    """Unknown rooms, roles and names, wrong ``each`` roles and clashes are told with what was meant."""
    lines = edited(name, old, new)

    assert any(
        found.startswith(f"rules/{line}".replace("l2.data.kind", '"l2.data".kind')) for found in lines
    ), lines


def test_circles_are_named(edited: Lines) -> None:
    """Facts and defaults that need one another are told once, with the whole circle."""
    lines = edited(
        "words/parameters.toml",
        "[read_clocks]\n",
        '[read_clocks]\ndefault = "ceil(host_period / ns(10))"\n',
        ("facts/clocks.toml", "1 / host_clock", "ns(1) * read_clocks"),
    )

    assert lines == [
        "rules/words/parameters.toml:7: read_clocks.default: "
        "is computed from itself: read_clocks -> host_period -> read_clocks"
    ]


def test_a_fact_that_needs_itself(edited: Lines) -> None:
    """The smallest circle is told too."""
    lines = edited("facts/clocks.toml", "1 / host_clock", "2 * host_period")

    assert lines == [
        "rules/facts/clocks.toml:5: fact[0].expr: is computed from itself: host_period -> host_period"
    ]


def test_a_missing_trait(edited: Lines) -> None:
    """A workload that leaves a trait out is told."""
    (line,) = edited("workloads/work.toml", '{ reads = { value = 0.3, unit = "ratio" } }', "{}")

    assert line.endswith("workload[0].traits: has no value for trait 'reads' (every workload needs all)")


@pytest.mark.parametrize(
    "text",
    [
        "cpu.__class__",
        "().__class__",
        "open('x')",
        "exec('1')",
        "host_clock[0]",
        "9 ** 9 ** 9",
        "lambda: 1",
        "[x for x in 1]",
        "f'{1}'",
        "import os",
        "1 if",
        "x := 1",
        "'" * 3,
        "(" * 500,
        "1 " * 300,
        "",
    ],
)
def test_rule_text_that_tries_more(edited: Lines, text: str) -> None:
    """Rule text that reaches for attributes, calls, powers or anything else is one clear line each."""
    new = '"""' + text + '"""' if '"' in text else f'"{text}"'
    (line,) = edited("cautions/heat.toml", '"host_clock > MHz(33.4)"', new)

    assert line.startswith("rules/cautions/heat.toml:4: caution[0].when: ")
    assert len(line) < 400 and "\n" not in line
