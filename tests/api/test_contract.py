"""What every command answers: stable keys, plain JSON, figures that fit together."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from tests.workshop import MACHINES, NEW, OLD, checked, explained, packed, ranked

from waitwright.api.check import check
from waitwright.api.opening import Question
from waitwright.api.rank import Wish, rank
from waitwright.api.rules import KINDS, list_rules, show_rule, validate_rules
from waitwright.api.why import why
from waitwright.cli.common import View
from waitwright.errors import InputError, UsageError

FAST = ("cache-read=2-1-1-1", "refresh-hidden=on")

CHECK = {
    "machine", "title", "board", "clocks", "settings", "inert", "parameters", "budgets", "limits",
    "conflicts", "cautions", "odds", "soak_h",
}  # fmt: skip
BUDGET = {
    "id", "title", "room", "available_ns", "spent_ns", "margin_ns", "rated", "odds", "available", "delays",
    "symptoms", "advice", "source", "advisory", "clock", "period_ns", "typical_ns",
}  # fmt: skip
DELAY = {"name", "part", "ns", "source", "typical_ns"}
LIMIT = {
    "id", "title", "room", "value", "limit", "unit", "margin", "rated", "odds", "sense", "symptoms",
    "advice", "source", "advisory",
}  # fmt: skip
CONFLICT = {"id", "title", "options", "advice", "source"}
CAUTION = {"id", "text"}
RANK = {
    "machine", "title", "workload", "rated", "wanted_odds", "space", "baseline", "results", "verdict",
    "bound_gain", "cautions", "elapsed_s", "soak_h", "listing", "apart", "own_scores", "curve",
    "curve_complete", "incurable",
}  # fmt: skip
SPACE = {"raw", "legal", "groups", "conditions"}
BASELINE = {"settings", "odds", "stands"}
RESULT = {"settings", "changes", "gain", "odds", "tightest", "reasons"}
CHANGE = {"option", "from", "to", "label", "from_label", "to_label", "kind", "share", "reason"}
TIGHT = {"id", "title", "margin_ns", "margin", "unit", "odds"}
WHY = {
    "machine", "title", "settings", "changes", "workload", "gain", "odds", "soak_h", "short", "tight",
    "conflicts", "conflict_rules", "unchecked", "stands", "symptoms", "cautions", "conflict_proofs",
    "conflicts_complete", "corrections", "wish_stands", "reasons", "remedies", "wanted_odds", "survival",
    "can_hold", "remedies_complete",
}  # fmt: skip
RULE = {"id", "kind", "title", "source", "basis", "detail"}


@cache
def answer(command: str, name: str = OLD, sets: tuple[str, ...] = ()) -> dict[str, Any]:
    """The answer of a command as JSON carries it."""
    views: dict[str, Callable[[], View]] = {
        "check": lambda: checked(name, *sets),
        "rated": lambda: ranked(name),
        "rank": lambda: ranked(name, rated=False),
        "why": lambda: explained(name, *sets),
        "list": list_rules,
        "validate": validate_rules,
    }
    found: dict[str, Any] = json.loads(json.dumps(views[command]().to_dict(), allow_nan=False))
    return found


def numbers_in(value: Any) -> Iterator[float]:
    """Every number in a JSON value."""
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        for item in value:
            yield from numbers_in(item)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield value


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("command", ["check", "rated", "rank", "why"])
def test_answers_are_plain_json(command: str, name: str) -> None:
    """Every answer survives JSON, without a number that is none or without end."""
    assert all(math.isfinite(number) for number in numbers_in(answer(command, name)))
    assert answer(command, name)["machine"] == name


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("sets", [(), FAST])
def test_keys_of_check(name: str, sets: tuple[str, ...]) -> None:
    """``check`` has exactly these keys, at every depth."""
    found = answer("check", name, sets)

    assert set(found) == CHECK
    for budget in found["budgets"]:
        assert set(budget) == BUDGET
        assert all(set(line) == DELAY for line in (*budget["available"], *budget["delays"]))
    assert all(set(limit) == LIMIT for limit in found["limits"])
    assert all(set(conflict) == CONFLICT for conflict in found["conflicts"])
    assert all(set(caution) == CAUTION for caution in found["cautions"])
    assert bool(found["conflicts"]) == bool(sets)
    assert {"host_mhz", "core_mhz", "clk2_mhz", "isa_mhz"} <= set(found["clocks"])


def test_keys_of_rank() -> None:
    """``rank`` has exactly these keys, at every depth, by data sheet and by odds."""
    for command in ("rated", "rank"):
        found = answer(command)

        assert set(found) == RANK
        assert set(found["space"]) == SPACE
        assert set(found["baseline"]) == BASELINE
        assert found["results"]
        for result in (*found["results"], *found["curve"]):
            assert set(result) == RESULT
            assert all(set(change) == CHANGE for change in result["changes"])
            assert all(set(tight) == TIGHT for tight in result["tightest"])
    assert answer("rank")["curve"]
    assert answer("rated")["curve"] == []


@pytest.mark.parametrize("sets", [(), FAST, ("host-clock=50",)])
def test_keys_of_why(sets: tuple[str, ...]) -> None:
    """``why`` has exactly these keys; what is short or tight is a budget or a limit in full."""
    found = answer("why", NEW, sets)

    assert set(found) == WHY
    assert {frozenset(rule) for rule in (*found["short"], *found["tight"])} <= {
        frozenset(BUDGET), frozenset(LIMIT)
    }  # fmt: skip
    assert all(set(change) == CHANGE for change in found["changes"])
    assert all(set(conflict) == CONFLICT for conflict in found["conflict_rules"])
    assert [change["option"] for change in found["changes"]] or not sets


@pytest.mark.parametrize("command", ["list", "validate"])
def test_keys_of_rules(command: str) -> None:
    """``rules`` has exactly these keys."""
    found = answer(command)

    assert set(found) == {"rules", "findings"}
    assert all(set(rule) == RULE for rule in found["rules"])


# --------------------------------------------------------------------------- what must agree


@pytest.mark.parametrize("name", MACHINES)
def test_figures_of_a_budget_fit_together(name: str) -> None:
    """Spent is the sum of the delays, margin is available less spent, and the verdict follows its sign."""
    for budget in answer("check", name)["budgets"]:
        spent = sum(line["ns"] for line in budget["delays"])
        assert budget["spent_ns"] == pytest.approx(spent, abs=0.03)
        assert budget["margin_ns"] == pytest.approx(budget["available_ns"] - budget["spent_ns"], abs=0.03)
        assert (budget["rated"] == "falls short") == (budget["margin_ns"] < 0)


@pytest.mark.parametrize("name", MACHINES)
def test_settings_are_words_for_set(name: str) -> None:
    """The settings of an answer, given back with ``--set``, lead to the same answer."""
    best = answer("rated", name)["results"][0]["settings"]
    sets = tuple(f"{option}={choice}" for option, choice in best.items())

    found = answer("check", name, sets)

    assert found["settings"] == best
    assert set(found["settings"]) == {str(option.id) for option in packed(name)[0].options}
    assert not [b for b in found["budgets"] if b["rated"] == "falls short" and not b["advisory"]]


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("sets", [(), FAST, ("host-clock=50",)])
def test_check_and_why_agree(name: str, sets: tuple[str, ...]) -> None:
    """What ``why`` takes apart is what ``check`` shows as short or tight, with the same figures and odds."""
    checked, explained = answer("check", name, sets), answer("why", name, sets)
    rules = {rule["id"]: rule for rule in (*checked["budgets"], *checked["limits"])}

    for verdict, key in (("falls short", "short"), ("tight", "tight")):
        assert {rule["id"] for rule in explained[key]} == {
            name for name, rule in rules.items() if rule["rated"] == verdict
        }
        for rule in explained[key]:
            assert rule == rules[rule["id"]]
    assert explained["odds"] == checked["odds"]
    assert explained["settings"] == checked["settings"]
    assert explained["conflict_rules"] == checked["conflicts"]
    assert bool(explained["conflicts"]) == (not explained["stands"])


@pytest.mark.parametrize("name", MACHINES)
def test_why_puts_the_worst_first(name: str) -> None:
    """Rules that decide come before advice, and of these the one with the least relative margin first."""
    short = answer("why", name, ("host-clock=50",))["short"]
    shares = [
        rule["margin_ns"] / rule["available_ns"] if "margin_ns" in rule else rule["margin"] / rule["limit"]
        for rule in short
        if not rule["advisory"]
    ]

    assert shares == sorted(shares)
    assert [rule["advisory"] for rule in short] == sorted(rule["advisory"] for rule in short)


@pytest.mark.parametrize("name", MACHINES)
def test_odds_of_all_are_below_the_odds_of_each(name: str) -> None:
    """No combination is likelier to hold than the least likely of its rules; advice has no odds."""
    found = answer("check", name)
    rules = (*found["budgets"], *found["limits"])

    assert found["odds"] <= min(rule["odds"] for rule in rules if rule["odds"] is not None) + 1e-6
    assert all(rule["odds"] is None for rule in rules if rule["advisory"])
    assert answer("check", NEW, FAST)["odds"] == answer("why", NEW, FAST)["odds"] == 0.0


def test_longer_soak_lower_odds() -> None:
    """A longer soak test is passed less often, and the answer says how long it is."""
    question = Question(OLD, sets=("cache-read=2-1-1-1", "cache-write=2"))
    views = [why(question, hours=hours) for hours in (1.0, 100.0)]

    assert [view.hours for view in views] == [1.0, 100.0]
    short, long = (view.odds for view in views)
    assert short is not None and long is not None
    assert long < short


def test_gain_of_what_is_asked_about() -> None:
    """``why`` tells the gain of the asked settings as ``rank`` does, shared out among the changes."""
    best = answer("rated")["results"][0]
    sets = tuple(f"{change['option']}={change['to']}" for change in best["changes"])

    found = answer("why", OLD, sets)

    assert found["gain"] == best["gain"]
    assert {c["option"]: c["share"] for c in found["changes"]} == {
        c["option"]: c["share"] for c in best["changes"]
    }
    assert answer("why")["gain"] == 0.0
    assert answer("why")["changes"] == []


def test_inert_options_are_told() -> None:
    """With the board choosing by itself, the options that it passes over are listed."""
    assert answer("check")["inert"] == []
    inert = answer("check", OLD, ("self-timing=on",))["inert"]

    assert "cache-read" in inert
    assert "host-clock" not in inert


# -------------------------------------------------------------------------------------- rules


def test_every_kind_can_be_listed() -> None:
    """Each kind lists its own entries only, and all kinds together are the whole list."""
    whole = [rule.id for rule in list_rules().rules]
    parts = [list_rules(kind=kind).rules for kind in KINDS]

    for kind, rules in zip(KINDS, parts, strict=True):
        assert rules, kind
        assert {rule.kind for rule in rules} == {kind}
    assert sum(map(len, parts)) == len(whole)


def test_rules_are_shown_in_words() -> None:
    """A rule shown in full tells its condition, each time in words, advice and source."""
    (rule,) = show_rule("l2.read.first.data").rules

    assert rule.detail[0].startswith("applies if ")
    assert "spends CPU address valid: CPU: address valid" in " ".join(rule.detail)
    assert any(line.startswith("advice: ") for line in rule.detail)
    assert rule.source


def test_every_entry_can_be_shown() -> None:
    """Whatever the list names can be shown, and says where it comes from or who sets it."""
    listed = list_rules().rules
    for rule in listed[:: len(listed) // 40]:
        assert rule.id in {shown.id for shown in show_rule(rule.id).rules}
    assert all(rule.source for rule in listed if rule.kind not in {"caution", "workload"})


@pytest.mark.parametrize(
    ("ask", "message"),
    [
        (lambda: list_rules(kind="budgets"), r"--kind budgets: no such kind \(did you mean 'budget'\?\)"),
        (lambda: list_rules(kind="zzz"), r"--kind zzz: no such kind \(known here: budget, caution, "),
        (lambda: show_rule("l2.read.frist.data"), r"no rule, part or figure of that name \(did you mean 'l2"),
        (lambda: show_rule("\x00"), "no rule, part or figure of that name$"),
        (
            lambda: rank(Question(OLD), Wish(workload="integr")),
            r"no such workload \(did you mean 'integer'\?\)",
        ),
        (
            lambda: rank(Question(OLD), Wish(fix=("host-clok",))),
            r"no such option \(did you mean 'host-clock'",
        ),
        (lambda: check(Question("mill")), "mill: no such file, and no packed machine of that name"),
        (lambda: list_rules(Path("/no/such/folder")), "no such directory"),
    ],
)
def test_wrong_names(ask: Any, message: str) -> None:
    """A name that is not known is one line with the nearest ones."""
    with pytest.raises(InputError, match=message) as caught:
        ask()

    assert "\n" not in str(caught.value)
    assert issubclass(UsageError, InputError)
