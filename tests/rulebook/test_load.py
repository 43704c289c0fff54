"""From rule files to a rulebook."""

from __future__ import annotations

import random
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest

from waitwright.errors import FileProblems
from waitwright.rulebook.domain import Provenance, Rulebook, Spread
from waitwright.rulebook.load import MAX_FILES, build_rulebook, own_sources

Build = Callable[..., Rulebook]
Lines = Callable[..., list[str]]


def test_words_become_domain_objects(small: Rulebook) -> None:
    """Roles, rows and parameters arrive with their bounds in base units."""
    clock = small.parameters["host_clock"]

    assert small.roles["drive"].each and not small.roles["cpu"].each
    assert small.rows["cpu", "core_clock"].worst == "min"
    assert (clock.least, clock.most) == (Fraction(4, 10**6), Fraction(667, 10**7))
    assert small.parameters["bus_source"].values == ("clk2", "fixed")
    assert small.counted["memory.size"].unit == "MB"


def test_a_family_spreads_into_one_part_for_each_grade(small: Rulebook) -> None:
    """Values by grade, values for all grades, missing values and each row's own source are kept apart."""
    slow, fast = small.parts["386dx-25"], small.parts["386dx-33"]

    assert (fast.title, fast.family, fast.grade, fast.kind, fast.note) == (
        "386DX, 33 MHz",
        "386dx",
        "33",
        "cpu",
        "a note",
    )
    assert fast.values["core_clock"].value == Fraction(1, 30_000)
    assert {name: value.value for name, value in slow.values.items()} == {
        "family": "386dx",
        "core_clock": Fraction(25, 10**6),
        "address_valid_min": 4000,
        "address_valid_max": 21_000,
        "burst": False,
    }
    assert fast.values["data_setup"].provenance == Provenance("hearsay", "memory")
    assert fast.values["burst"].provenance == Provenance("data sheet 231630", "published")
    assert fast.delay == Spread(0.64, 0.086, Provenance("logic data book", "published"))
    assert fast.ability is None


def test_a_family_without_grades_is_one_part(small: Rulebook) -> None:
    """Without grades the part has the family's id and title."""
    assert small.parts["refresh-1024"].title == "1024 rows"
    assert small.parts["fpm-70"].title == "memory module, 70"


def test_rules_become_domain_objects(small: Rulebook) -> None:
    """Budgets, limits, logic rules, events, workloads and cautions arrive with their expressions."""
    budget, limit = small.budgets["l2.first"], small.limits["cpu.clock"]

    assert [term.part for term in budget.spend] == ["cpu", "l2.data", "cpu"]
    assert budget.spend[2].when is not None and budget.spend[2].when.text == "cpu.burst"
    assert (limit.quantity.text, limit.sense, limit.when) == ("host_clock", "at most", None)
    assert small.logic["drive.mode"].each == "drive"
    assert small.workloads["integer"].traits["reads"].value == Fraction(3, 10)
    assert small.events["read"].rate.names == {"work.reads"}
    assert small.cautions["heat"].commands == ("check", "next")


def test_the_order_of_files_does_not_matter(files: dict[str, str], build: Build, small: Rulebook) -> None:
    """Whatever order the files are given in, the rulebook is the same, its order included."""
    for seed in range(5):
        shuffled = list(files.items())
        random.Random(seed).shuffle(shuffled)
        again = build(dict(shuffled))

        assert again == small
        assert again.markings == small.markings
        assert list(again.parts) == list(small.parts)
        assert again.files == small.files


def test_own_rules_override_by_id(files: dict[str, str], build: Build) -> None:
    """A user's own file replaces things with the same id, adds others, and leaves the rest alone."""
    own = {
        "deep/er/any-name.toml": files["limits/cpu.toml"].replace('"CPU clock"', '"my clock"')
        + files["budgets/l2.toml"].replace('"l2.first"', '"l2.mine"')
        + files["parts/memory.toml"].replace("[15, 20]", "[14, 19]").replace('"fpm"', '"mine"'),
        "words/parameters.toml": '[read_clocks]\nunit = "clocks"\ntitle = "mine"\nleast = 1\n',
    }

    book = build(files, own)

    assert book.limits["cpu.clock"].title == "my clock"
    assert list(book.budgets) == ["l2.first", "l2.mine"]
    assert book.parts["sram-15"].values["access"].value == 14_000
    assert {"fpm-60", "mine-60"} <= book.parts.keys()
    assert book.parameters["read_clocks"].title == "mine"
    assert "mine/deep/er/any-name.toml" in book.files


def test_an_own_rule_may_be_of_another_sort(files: dict[str, str], build: Build) -> None:
    """A user's logic rule replaces a packed limit of the same id: rules share their ids."""
    own = files["logic/drive.toml"].replace('"drive.mode"', '"cpu.clock"')

    book = build(files, {"x.toml": own})

    assert "cpu.clock" in book.logic
    assert "cpu.clock" not in book.limits


def test_duplicate_ids_name_both_places(edited: Lines) -> None:
    """Two rules with one id, even of different sorts and in different files, are told with both places."""
    assert edited("limits/cpu.toml", '"cpu.clock"', '"l2.first"') == [
        "rules/limits/cpu.toml:1: limit[0]: duplicate rule 'l2.first', "
        "first in rules/budgets/l2.toml:1 (rename one)"
    ]


def test_duplicate_parts(edited: Lines) -> None:
    """Two families that give the same part id clash."""
    (line,) = edited(
        "parts/memory.toml",
        'id = "fpm"',
        'id = "sram"',
        ("parts/memory.toml", '["60", "70"]', '["20", "70"]'),
    )

    assert line == (
        "rules/parts/memory.toml:9: family[1]: duplicate part 'sram-20', "
        "first in rules/parts/memory.toml:1 (rename one)"
    )


def test_all_errors_of_all_files_come_together(edited: Lines) -> None:
    """Errors of shape, of values, of language and of names in several files are told in one go."""
    lines = edited(
        "parts/cpu.toml",
        "[21, 15]",
        "[21, -15]",
        ("limits/cpu.toml", 'unit = "MHz"', 'unit = "mhz"'),
        ("budgets/l2.toml", "cpu.address_valid_max", "cpu.adress_valid_max"),
        ("logic/drive.toml", "drive.pio_mode >= 1", "drive.pio_mode ** 9"),
        ("cautions/heat.toml", '"check"', '"chekc"'),
    )

    assert [line.split(":")[0] for line in lines] == [
        "rules/budgets/l2.toml",
        "rules/cautions/heat.toml",
        "rules/limits/cpu.toml",
        "rules/logic/drive.toml",
        "rules/parts/cpu.toml",
    ]
    assert "unknown name 'cpu.adress_valid_max' (did you mean 'cpu.address_valid_max'" in lines[0]
    assert lines[1].endswith("unknown command 'chekc' (did you mean 'check'?)")
    assert "unknown unit \"mhz\"; did you mean 'MHz'" in lines[2]
    assert "powers are not part of the rule language" in lines[3]
    assert lines[4].endswith("family[0].rows.address_valid.max[1]: -15 ns is negative")


def test_a_broken_file_of_words_does_not_flood(edited: Lines) -> None:
    """Where a word cannot be read, only that is told, and not every name that misses it."""
    lines = edited("words/parameters.toml", 'unit = "MHz"', 'unit = "Mhz"')

    assert lines == [
        'rules/words/parameters.toml:2: host_clock.unit: unknown unit "Mhz"; '
        "did you mean 'MHz' or 'Hz' or 'kHz'?"
    ]


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        (
            '[25, "100/3"]',
            "[25]",
            '12: family[0].rows.core_clock.value: 1 values for 2 grades (write "-" where there is none)',
        ),
        (
            "core_clock =",
            "core_clok =",
            "12: family[0].rows.core_clok: no row 'core_clok' on a data sheet of kind "
            "'cpu' (did you mean 'core_clock'?)",
        ),
        (
            'unit = "MHz"',
            'unit = "ns"',
            "12: family[0].rows.core_clock.unit: unit 'ns' does not fit (write it in 'MHz')",
        ),
        ("[21, 15]", "[3, 15]", "13: family[0].rows.address_valid: min is above max"),
        (
            "max = [21",
            "value = [21",
            "13: family[0].rows.address_valid: has both value and min (a row has value, or min, typ and max)",
        ),
        (
            "value = false",
            'value = "no"',
            '15: family[0].rows.burst.value: expected true or false, found "no"',
        ),
        (
            "value = false",
            "min = 1",
            "15: family[0].rows.burst.min: a row of unit 'flag' has a value only (use value)",
        ),
        ("value = false, ", "", "15: family[0].rows.burst: has no value (give value, or min, typ, max)"),
        (
            "[21, 15]",
            "[21, 9999999999]",
            "13: family[0].rows.address_valid.max[1]: 9999999999 ns is above 1000000000 ns",
        ),
        (
            'kind = "cpu"',
            'kind = "cqu"',
            "3: family[0].kind: unknown kind of part 'cqu' (did you mean 'cpu'?)",
        ),
        (
            "ratio = 0.64",
            "ratio = 1.2",
            "17: family[0].delay.ratio: expected typical over maximum: more than 0, at most 1",
        ),
        (
            "[family.delay]",
            "[family.ability]",
            "17: family[0].ability.ratio: expected true ability over rating: at least 1, at most 1000",
        ),
        ('["25 MHz", ', "[", "6: family[0].grade_titles: expected 2 of them, as there are grades"),
    ],
)
def test_parts_are_checked(edited: Lines, old: str, new: str, line: str) -> None:
    """A data sheet with a wrong length, row, unit, order or value is told with its line."""
    assert edited("parts/cpu.toml", old, new) == [f"rules/parts/cpu.toml:{line}"]


def test_all_errors_of_a_family_come_together(edited: Lines) -> None:
    """A number beyond all reason, an unknown key or a broken spread hides no other fault of its family."""
    lines = edited(
        "parts/cpu.toml",
        "[21, 15]",
        "[21, 1e30]",
        ("parts/cpu.toml", '[25, "100/3"]', "[25, -5]"),
        ("parts/cpu.toml", "value = false", "value = false, vlaue = true"),
        ("parts/cpu.toml", "ratio = 0.64", 'ratio = "much"'),
    )

    assert [line.partition(": ")[2] for line in lines] == [
        "family[0].rows.core_clock.value[1]: -5 MHz is negative",
        'family[0].rows.address_valid.max: expected a number such as 12, 12.5 or "100/3", within reason',
        "family[0].rows.burst.vlaue: unknown key \"vlaue\" (did you mean 'value'?)",
        'family[0].delay.ratio: expected a number such as 12, 12.5 or "100/3", found "much"',
    ]


def test_a_value_without_source_is_refused(edited: Lines) -> None:
    """A number needs a source and a basis, of its row or of its family."""
    lines = edited("parts/memory.toml", 'source = "data sheet"\nbasis = "published"\n', "")

    assert [line.partition(": ")[2] for line in lines] == [
        "family[0].rows.access: has no source (give the row or its family a source)",
        "family[0].rows.access: has no basis (give the row or its family a basis)",
    ]


def test_losses_may_be_negative(small: Rulebook) -> None:
    """A row that is a difference of two delays may be below zero."""
    assert small.parts["fpm-70"].values["width_loss"].value == -3000


def test_traits_are_checked(edited: Lines) -> None:
    """A workload that lacks a trait, or has an unknown one, is told with the nearest."""
    lines = edited("workloads/work.toml", "traits = { reads", "traits = { raeds")

    assert lines == [
        "rules/workloads/work.toml:13: workload[0].traits.raeds: unknown trait of work 'raeds' "
        "(did you mean 'reads'?)"
    ]


def test_unknown_file_of_words(files: dict[str, str], build: Build) -> None:
    """A file of words with an unknown name is told with the nearest."""
    files["words/role.toml"] = files.pop("words/roles.toml")

    with pytest.raises(FileProblems) as caught:
        build(files)

    assert "rules/words/role.toml: unknown file of words 'role' (did you mean 'roles'?)" in str(caught.value)


def test_own_folder(tmp_path: Path, files: dict[str, str]) -> None:
    """All TOML files of a tree are taken, whatever they are called; a folder without any is told."""
    with pytest.raises(FileProblems, match="holds no TOML file"):
        own_sources(tmp_path)
    with pytest.raises(FileProblems, match="no such directory"):
        own_sources(tmp_path / "none")
    for name, text in files.items():
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, "utf-8")
    (tmp_path / "README.md").write_text("no rule file", "utf-8")

    assert len(build_rulebook(own_sources(tmp_path)).files) == len(files)

    for number in range(MAX_FILES):
        (tmp_path / f"{number}.toml").touch()
    with pytest.raises(FileProblems, match="more than 500 TOML files"):
        own_sources(tmp_path)
