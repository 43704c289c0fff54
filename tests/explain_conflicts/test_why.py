"""``why`` as a whole: its keys, its agreement with itself, its text, and what common practice knows."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from functools import cache
from typing import Any

import pytest
from rich.console import Console

from tests.workshop import MACHINES, NEW, OLD
from waitwright.api.opening import Question
from waitwright.api.why import why
from waitwright.report.text.why import show_why
from waitwright.report.views import WhyView

FAST_BUS = ("isa-clock=clk2-4",)
MIXED = ("isa-clock=clk2-4", "isa-io=1", "isa-memory=0", "refresh-hidden=on")
KINDS = {"setting", "jumper", "mode", "clock", "card", "drive", "chip", "cpu", "pair"}
WISHES = [(), FAST_BUS, MIXED, ("host-clock=50",), ("cache-read=2-1-1-1", "ras-precharge=2")]


@cache
def asked(name: str, sets: tuple[str, ...] = (), parts: tuple[str, ...] = ()) -> WhyView:
    """The answer to a question."""
    return why(Question(name, sets=sets, parts=parts))


def data(name: str, sets: tuple[str, ...] = (), parts: tuple[str, ...] = ()) -> dict[str, Any]:
    """The same as JSON carries it."""
    found: dict[str, Any] = json.loads(json.dumps(asked(name, sets, parts).to_dict(), allow_nan=False))
    return found


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("sets", WISHES)
def test_conflicts_are_told_where_something_fails(name: str, sets: tuple[str, ...]) -> None:
    """There are conflicts exactly where the settings do not stand; every proof cites rules with sources."""
    found = data(name, sets)

    assert bool(found["conflicts"]) == (not found["stands"])
    assert [proof["members"] for proof in found["conflict_proofs"]] == found["conflicts"]
    assert found["conflicts_complete"]
    for proof in found["conflict_proofs"]:
        assert set(proof) == {"members", "sentence", "arguments"}
        for argument in proof["arguments"]:
            assert argument["sentences"] and argument["rules"]
            assert all(rule["source"] and rule["title"] for rule in argument["rules"])
    for correction in found["corrections"]:
        assert all(set(correction) & set(conflict) for conflict in found["conflicts"])


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("sets", WISHES)
def test_keys_of_remedies_and_tolls(name: str, sets: tuple[str, ...]) -> None:
    """They are the contract's; shares of what is lost add up to one but for rules too small to be told."""
    found = data(name, sets)

    for remedy in found["remedies"]:
        assert set(remedy) == {"kind", "change", "odds", "gain", "stands", "sentence"}
        assert remedy["kind"] in KINDS
        assert (remedy["kind"] == "pair") == (len(remedy["change"].split()) == 2)
        assert remedy["odds"] >= found["wanted_odds"] or found["odds"] >= found["wanted_odds"]
    shares = [toll["share"] for toll in found["survival"]]
    assert shares == sorted(shares, reverse=True)
    assert sum(shares) <= 1 + 1e-5
    odds = {rule["id"]: rule["odds"] for rule in (*found["short"], *found["tight"])}
    assert all(odds[toll["id"]] == toll["odds"] for toll in found["survival"] if toll["id"] in odds)
    assert {reason["id"] for reason in found["reasons"]} in (
        {rule["id"] for rule in found["short"]},
        set(),
    )


@pytest.mark.parametrize(
    ("sets", "stands"), [((), None), (FAST_BUS, True), (("host-clock=50",), False), (("row-open=yes",), True)]
)
def test_whether_the_wish_can_be_met_at_all(sets: tuple[str, ...], stands: bool | None) -> None:
    """What is asked for stands in some combination, in none, or nothing is asked."""
    assert data(OLD, sets)["wish_stands"] is stands


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("sets", WISHES)
def test_text_fits_eighty_columns(name: str, sets: tuple[str, ...]) -> None:
    """Conflicts, remedies and tolls are told without colour in 80 columns, and the first of each is there."""
    view = asked(name, sets)
    out = io.StringIO()
    show_why(view, Console(file=out, width=80, no_color=True, highlight=False))
    text = out.getvalue()

    assert all(len(line) <= 80 and line == line.rstrip() for line in text.splitlines())
    flat = " ".join(text.split())
    if view.help.conflicts:
        assert view.help.conflicts[0].sentence in flat
        assert f"It takes {view.help.corrections[0].phrase}." in flat
    if view.help.remedies:
        assert view.help.remedies[0].sentence in flat


@pytest.mark.parametrize("wanted", [0.0, 0.5, 0.9, 0.999999])
@pytest.mark.parametrize("sets", [*WISHES, ("local-ready=straight", "host-clock=40")])
def test_what_cannot_hold(sets: tuple[str, ...], wanted: float) -> None:
    """Choices shut each other out, or a data-sheet limit is missed and the odds are below those asked for."""
    view = why(Question(OLD, sets=sets), wanted=wanted)
    missed = any(not rule.advisory for rule in view.short)

    assert view.can_hold == (not view.conflicts and (not missed or (view.odds or 0.0) >= wanted))
    assert view.to_dict()["can_hold"] is view.can_hold
    assert view.help.wanted == wanted


def test_speeds_are_those_of_the_named_work() -> None:
    """The gain is that of a ranking's workload, and remedies are priced in it."""
    views = [
        why(Question(OLD, sets=("isa-clock=clk2-4",)), workload=name) for name in ("integer", "disk-copy")
    ]

    assert [view.workload for view in views] == ["integer", "disk-copy"]
    assert views[1].gain > views[0].gain
    assert views[1].help.remedies[0].gain < views[0].help.remedies[0].gain


def test_answers_are_the_same_for_any_hash_seed() -> None:
    """The JSON answer does not depend on how Python hashes text."""
    answers = {answer_under(seed) for seed in ("1", "20")}

    assert len(answers) == 1


def answer_under(seed: str) -> str:
    """``why`` in a process of its own."""
    words = [word for wish in MIXED for word in ("--set", wish)]
    done = subprocess.run(
        [sys.executable, "-m", "waitwright", "why", OLD, "--json", *words],
        env={**os.environ, "PYTHONHASHSEED": seed},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (1, "")
    return done.stdout


# ------------------------------------------------------------------------- common practice, no source


def test_a_fast_bus_clock_fails_on_a_386_at_33_mhz() -> None:
    """16.7 MHz on the ISA bus starts but does not run reliably; 13.3 MHz is much the better bet."""
    fast, milder = data(OLD, FAST_BUS), data(OLD, ("isa-clock=clk2-5",))

    assert not fast["stands"]
    assert fast["odds"] < 0.1
    assert milder["odds"] > 0.5
    assert {"isa-clock=clk2-4", "host-clock=33"} <= set(fast["conflicts"][0])
    assert any(remedy["kind"] == "clock" for remedy in fast["remedies"])


def test_faster_display_memory_cures_artefacts() -> None:
    """At 20 MHz with one wait, 70 ns display memory is too slow and 60 ns is not."""
    sets = ("host-clock=40", "isa-clock=clk2-4", "isa-memory=1")
    rule = "display.memory.mem16@isa-2"
    slow, fast = (data(OLD, sets, (f"isa-2=display-isa16-{grade}",)) for grade in ("70", "60"))

    (entry,) = [one for one in slow["short"] if one["id"] == rule]
    assert "display-artefact" in entry["symptoms"]
    assert rule not in {one["id"] for one in fast["short"]}


def test_bus_clock_does_nothing_for_cards_on_the_local_bus() -> None:
    """Whatever the ISA clock, nothing that fails speaks of a card or drive on the local bus."""
    found = data(NEW, FAST_BUS)
    failing = [one["id"] for one in found["short"]]

    assert not found["stands"]
    assert not any(rule.endswith(("@local-1", "@local-2", "@drive-local")) for rule in failing)
    assert any(rule.startswith("isa.") for rule in failing)
    assert not any("part:local" in member for conflict in found["conflicts"] for member in conflict)
