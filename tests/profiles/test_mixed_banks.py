"""Banks that hold parts of several grades or sizes, from the profile to every answer."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from tests.workshop import OLD, checked, fits, named, packed, rebuilt

from waitwright._resources import packed_profile
from waitwright.cli.main import run
from waitwright.explain.incurable import incurable
from waitwright.machine import Machine
from waitwright.timing.bind import bind
from waitwright.timing.margins import LimitMargin, Margins, margins
from waitwright.units import to_base

Ask = Callable[..., dict[str, Any]]
MB = to_base(1, "MB")
MIXED = """simm-0 = [
  { part = "fpm-70", count = 2, size_mb = 1, refresh = "refresh-1024" },
  { part = "fpm-80", count = 2, size_mb = SIZE, refresh = "refresh-1024" },
]"""
BANK = 'simm-0 = { part = "fpm-70", count = 4, size_mb = 1, refresh = "refresh-1024" }'


def judged(machine: Machine) -> Margins:
    """Margins of the current settings."""
    return margins(machine, bind(machine), machine.current)


def with_bank(first: str, second: str, size_mb: int = 1) -> Machine:
    """The packed 386 machine with two pairs of modules in bank 0, the second of *size_mb*."""
    refresh = packed(OLD)[0].rulebook.parts["refresh-1024"].id
    bank = (
        fits(first, 2, size=MB, refresh=refresh),
        fits(second, 2, size=to_base(size_mb, "MB"), refresh=refresh),
    )
    return rebuilt(fit={"simm-0": bank})


def broken(machine: Machine) -> set[str]:
    """Ids of the exact requirements that are not kept."""
    return {one.bound.id for one in judged(machine).broken}


def advice(machine: Machine) -> dict[str, LimitMargin]:
    """Advice that is not kept, by id."""
    return {
        one.bound.id: one
        for one in judged(machine).short
        if isinstance(one, LimitMargin) and one.bound.rule.advisory
    }


def test_grades_of_modules_may_differ() -> None:
    """Modules of 70 and 80 ns and one size share a bank: advice speaks of it, and no rule is broken."""
    machine = with_bank("fpm-70", "fpm-80")

    assert not broken(machine)
    assert judged(machine).stands
    assert advice(machine)["memory.bank.sorts"].value == 2
    assert "l2.bank.sorts" not in advice(machine)


def test_sizes_of_modules_may_not_differ() -> None:
    """Modules of 1 and 4 MB in one bank break a rule."""
    assert broken(with_bank("fpm-70", "fpm-70", size_mb=4)) == {"memory.bank.equal"}


def test_kinds_of_modules_may_not_differ() -> None:
    """A fast-page and an EDO module in one bank break a rule, whatever their grades."""
    assert broken(with_bank("fpm-60", "edo-60")) == {"memory.bank.equal"}


def test_types_of_one_kind_may_differ() -> None:
    """Two fast-page types of one grade and size share a bank, with advice."""
    machine = with_bank("fpm-70", "m5m416160c-7")

    assert not broken(machine)
    assert "memory.bank.sorts" in advice(machine)


def test_grades_of_cache_chips_may_differ() -> None:
    """Cache chips of 15 and 20 ns and one organisation share a bank, with advice."""
    machine = rebuilt(fit={"cache-0": (fits("sram-32kx8-20", 2), fits("sram-32kx8-15", 2))})

    assert not broken(machine)
    assert set(advice(machine)) == {"l2.bank.sorts"}


def test_sizes_of_cache_chips_may_not_differ() -> None:
    """Cache chips of 8 KB and 32 KB in one bank break a rule, even of one grade."""
    machine = rebuilt(fit={"cache-0": (fits("sram-32kx8-20", 2), fits("sram-8kx8-20", 2))})

    assert "l2.bank.equal" in broken(machine)


def test_pure_banks_get_no_advice() -> None:
    """Where every bank holds one part, the advice on mixed banks does not apply at all."""
    shown = {limit.id for limit in checked(OLD).limits}

    assert not {"memory.bank.sorts", "l2.bank.sorts"} & shown


@pytest.mark.parametrize("order", [("fpm-70", "fpm-80"), ("fpm-80", "fpm-70")])
def test_slowest_module_sets_the_pace(order: tuple[str, str]) -> None:
    """Every memory budget of a bank of 70 and 80 ns is that of a bank of 80 ns, in either order."""
    mixed, slow = with_bank(*order), with_bank("fpm-80", "fpm-80")
    fast = with_bank("fpm-70", "fpm-70")

    def spent(machine: Machine) -> dict[str, Fraction]:
        return {
            one.bound.id: Fraction(one.spent)
            for one in judged(machine).budgets
            if one.bound.rule.room == "dram" and one.spent is not None
        }

    assert spent(mixed) == spent(slow)
    assert any(spent(mixed)[name] > time for name, time in spent(fast).items())
    assert all(spent(mixed)[name] >= time for name, time in spent(fast).items())


# ------------------------------------------------------------------------------- the commands


@pytest.fixture
def profile(tmp_path: Path) -> Callable[..., str]:
    """Write the packed 386 machine with a mixed bank 0, and give its path."""

    def written(size_mb: int, more: str = "") -> str:
        found = packed_profile("machines", OLD)
        assert found is not None
        text = found.read_text(encoding="utf-8")
        assert text.count(BANK) == 1
        path = tmp_path / "bench.toml"
        path.write_text(text.replace(BANK, MIXED.replace("SIZE", str(size_mb))) + more, encoding="utf-8")
        return str(path)

    return written


@pytest.fixture
def ask(capsys: pytest.CaptureFixture[str]) -> Ask:
    """The JSON answer of a command line, with its exit status under ``exit``."""

    def told(*words: str) -> dict[str, Any]:
        code = run([*words, "--json"])
        out, err = capsys.readouterr()
        assert not err
        return {**json.loads(out), "exit": code}

    return told


def test_mixed_grades_get_answers(profile: Callable[..., str], ask: Ask) -> None:
    """A bank of 70 and 80 ns gets settings from ``rank`` and a trial from ``next``, as ``check`` lets it."""
    path = profile(1)

    assert not ask("check", path)["conflicts"]
    ranked = ask("rank", path, "--rated", "--top", "1")
    assert ranked["results"] and not ranked["incurable"] and ranked["exit"] == 0
    offered = ask("next", path)
    assert offered["verdict"] == "trial" and not offered["incurable"]


def test_rule_that_no_setting_cures_is_named(profile: Callable[..., str], ask: Ask) -> None:
    """With 1 and 4 MB in a bank, ``rank``, ``next``, ``reach`` and ``swap`` name the broken rule."""
    path = profile(4)
    [named] = ask("check", path)["conflicts"]
    assert named["id"] == "memory.bank.equal"

    for words in (
        ["rank", path],
        ["rank", path, "--rated"],
        ["next", path],
        ["reach", path, "20%"],
        ["swap", path],
    ):
        answer = ask(*words)
        assert answer["incurable"] == [named], words
        assert answer["exit"] == 1, words


def test_next_does_not_call_it_done(profile: Callable[..., str], ask: Ask) -> None:
    """``next`` says ``none``, advises what to fit, and calls nothing sound."""
    answer = ask("next", profile(4))

    assert answer["verdict"] == "none" and answer["trial"] is None and not answer["queue"]
    assert "modules of one size and kind" in answer["advice"]
    assert answer["proven"]["sure"] == 0 and not answer["proven"]["stable"]


@pytest.mark.parametrize("command", [("rank",), ("next",), ("swap",), ("reach", "20%")])
def test_rule_is_named_in_text(
    command: tuple[str, ...], profile: Callable[..., str], capsys: pytest.CaptureFixture[str]
) -> None:
    """The text names the rule, and neither says that nothing is left nor that anything is sound."""
    run([command[0], profile(4), *command[1:]])

    text = " ".join(capsys.readouterr().out.split())
    assert "All modules of a memory bank are of one size and kind" in text
    assert "Nothing worth another evening" not in text and "sound with" not in text
    assert "declared stable" not in text


def test_part_that_makes_it_hold(profile: Callable[..., str], ask: Ask) -> None:
    """Four equal modules in the spares box are said to make it hold, and ``swap`` exits with 0."""
    answer = ask("swap", profile(4, '\n[[spare]]\npart = "fpm-70"\ncount = 4\n'))

    helping = [one for one in answer["swaps"] if one["verdict"] == "makes it hold"]
    assert [exchange["to"] for exchange in helping[0]["exchanges"]] == ["fpm-70"]
    assert answer["best_gain"] is None and answer["exit"] == 0


def test_limit_that_no_setting_keeps_is_named(ask: Ask) -> None:
    """Where data-sheet limits judge, a limit that is missed whatever is set is named as well.

    A CPU made for 16 MHz misses its rating on a board that begins at 20 MHz.
    """
    answer = ask("rank", OLD, "--rated", "--part", "cpu=386dx-16")

    assert "cpu.host-clock" in [rule["id"] for rule in answer["incurable"]]
    assert answer["results"] == [] and answer["exit"] == 1


def test_curable_rules_are_not_named(ask: Ask) -> None:
    """Where another setting holds, ``rank`` finds it and names no rule, whatever is broken now."""
    answer = ask("rank", OLD, "--rated", "--set", "cache-read=2-1-1-1", "--set", "ras-to-cas=1.5")

    assert not answer["baseline"]["stands"]
    assert answer["results"] and not answer["incurable"]


def test_sheet_promises_nothing(profile: Callable[..., str], tmp_path: Path) -> None:
    """The sheet of a machine whose bank mixes sizes names the rule and gives its settings no odds."""
    page = tmp_path / "sheet.html"
    assert run(["sheet", profile(4), "-o", str(page)]) == 0

    text = page.read_text(encoding="utf-8")
    assert "A part has to change first" in text
    assert "All modules of a memory bank are of one size and kind" in text
    assert "The proven settings" not in text
    assert re.search(r"<b>&lt; 0.1 %</b> <span>odds of lasting", text)


def test_rule_that_one_setting_cures_is_curable() -> None:
    """Without cache chips the settings in use break a rule, but switching the cache off cures it."""
    machine = rebuilt(fit={"cache-0": (), "cache-1": ()})

    assert broken(machine) == {"l2.fitted"}
    assert incurable(machine, bind(machine)) == ()
    assert incurable(machine, bind(machine), rated=True) == ()


@pytest.mark.parametrize("changes", [{"cache_read": "2-1-1-1"}, {"host_clock": "50"}])
def test_budget_or_limit_that_one_setting_cures_is_curable(changes: dict[str, str]) -> None:
    """What falls short by data sheet under the settings in use alone is no rule that no setting cures."""
    machine, rules = packed(OLD)
    there = replace(machine, current=named(machine, **changes))

    assert not margins(there, rules, there.current).stands
    assert incurable(there, rules, rated=True) == ()
