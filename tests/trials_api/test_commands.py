"""``next``, ``record``, ``suspect`` and ``new``: their contract, and what they refuse."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import Any

import pytest

from waitwright.cli.main import run

from .conftest import Say

OLD, NEW = "tollgate-386dx33", "tollgate-486dx2"


def answer(say: Say, *words: str) -> dict[str, Any]:
    """The JSON answer of a command line that has one."""
    code, out, err = say(*words, "--json")
    assert code in {0, 1} and not err
    found: dict[str, Any] = json.loads(out)
    return found


# ----------------------------------------------------------------------------------- contract


@pytest.mark.parametrize("machine", [OLD, NEW])
def test_keys_of_next(say: Say, machine: str) -> None:
    """The keys of the contract are there, and the settings are words for --set."""
    found = answer(say, "next", machine)
    assert {"trial", "queue", "proven"} <= found.keys()
    trial = found["trial"]
    assert {"id", "settings", "changes", "odds", "gain", "watch", "recover", "reason"} <= trial.keys()
    assert {"settings", "gain"} <= found["proven"].keys()
    assert trial["watch"] and trial["recover"] and trial["soak"] and trial["reason"]
    for change in trial["changes"]:
        assert found["proven"]["settings"][change["option"]] == change["from"]
        assert trial["settings"][change["option"]] == change["to"]
    sets = [word for pair in trial["settings"].items() for word in ("--set", "=".join(pair))]
    assert answer(say, "check", machine, *sets)["settings"] == trial["settings"]


def test_keys_of_record_and_suspect(say: Say) -> None:
    """Both have the keys of the contract."""
    recorded = answer(say, "record", "bench.toml", "stable", "--set", "host-clock=33")
    assert {"trial", "outcome", "logbook", "proven"} <= recorded.keys()
    assert recorded["trial"] == 1 and recorded["outcome"] == "stable"
    assert Path(recorded["logbook"]).is_file()
    suspected = answer(say, "suspect", "bench.toml")
    assert {"suspects", "timing_odds"} <= suspected.keys()
    for one in suspected["suspects"]:
        assert {"id", "title", "odds", "evidence", "test"} <= one.keys()


def test_single_changes_one_option(say: Say) -> None:
    """With --single the trial differs from the proven settings in one option."""
    trial = answer(say, "next", "bench.toml", "--single")["trial"]
    assert len(trial["changes"]) == 1


def test_the_offer_is_what_a_record_without_settings_means(say: Say) -> None:
    """The trial last offered is recorded, with its length, and becomes proven when it passes."""
    offered = answer(say, "next", "bench.toml")["trial"]
    assert answer(say, "record", "bench.toml", "stable")["trial"] == offered["id"]
    proven = answer(say, "next", "bench.toml")["proven"]
    assert proven["settings"] == offered["settings"] and proven["gain"] == offered["gain"]


def test_next_is_repeatable(say: Say) -> None:
    """Asked twice, the answer is the same."""
    assert answer(say, "next", "bench.toml") == answer(say, "next", "bench.toml")


def test_odds_say_what_suspects_take_of_them(say: Say) -> None:
    """Where the machine's own state is in doubt, the reason tells those of timing alone as well."""
    trial = answer(say, "next", NEW)["trial"]
    found = re.search(r"holds with (\d+) %\. By timing alone it would with ([\d.]+) %;", trial["reason"])

    assert found is not None
    assert float(found[1]) == pytest.approx(100 * trial["odds"], abs=0.5)
    assert float(found[2]) > float(found[1]) + 2
    assert "timing alone" not in answer(say, "next", OLD)["trial"]["reason"]  # its owner vouches for it


def test_a_long_shot_says_that_it_is_one(say: Say) -> None:
    """What is only worth a trial if parts differ more than the catalogue says is offered as just that."""
    assert run(["new", "--from", NEW, "-o", "quick.toml"]) == 0
    say("next", "quick.toml")
    say("record", "quick.toml", "stable")
    bold = answer(say, "next", "quick.toml")["trial"]
    say("record", "quick.toml", "failed", "--symptom", "hang", "--hours", "0.2")
    shot = answer(say, "next", "quick.toml")["trial"]

    assert "catalogue" not in bold["reason"]
    assert "A long shot" in shot["reason"] and "2 times as much as the catalogue says" in shot["reason"]
    assert bold["odds"] > shot["odds"] > 0 and shot["step"] > 0


def test_undo_withdraws_by_marking(say: Say) -> None:
    """A withdrawn trial stays in the file, counts for nothing, and its offer is open again."""
    offered = answer(say, "next", "bench.toml")["trial"]
    answer(say, "record", "bench.toml", "failed", "--symptom", "hang")
    undone = answer(say, "record", "bench.toml", "--undo")
    assert undone["outcome"] == "withdrawn" and undone["trial"] == 1
    assert "withdrawn = true" in Path("bench.logbook.toml").read_text("utf-8")
    assert answer(say, "record", "bench.toml", "stable")["trial"] == 2
    assert answer(say, "next", "bench.toml")["proven"]["settings"] == offered["settings"]


def test_what_all_was_told_is_kept(say: Say) -> None:
    """Symptoms, hours, scores, readings, repairs and notes are in the file as they were told."""
    answer(
        say,
        *("record", "bench.toml", "failed", "--set", "host-clock=33", "--symptom", "hang"),
        *("--symptom", "reboot", "--hours", "0.5", "--score", "36.1 points", "--workload", "game-3d"),
        *("--measure", "cpu-ripple=120 mV", "--repaired", "memory-module", "--note", "warm evening"),
    )
    text = Path("bench.logbook.toml").read_text("utf-8")
    for line in (
        'symptoms = ["hang", "reboot"]',
        "hours = 0.5",
        "value = 36.1",
        'workload = "game-3d"',
        'name = "cpu-ripple"',
        'repaired = ["memory-module"]',
        'note = "warm evening"',
    ):
        assert line in text


@pytest.mark.parametrize(("word", "moves"), [("yes", 1), ("no", -1)])
def test_answers_move_their_suspects(say: Say, word: str, moves: int) -> None:
    """A yes makes the suspects of a question likelier, a no less so."""

    def odds() -> float:
        found = answer(say, "suspect", "other.toml")["suspects"]
        return float(next(one["odds"] for one in found if one["id"] == "memory-module"))

    say("new", "--from", NEW, "-o", "other.toml")
    failed = ("record", "other.toml", "failed", "--set", "host-clock=33", "--symptom", "memory-error")
    answer(say, *failed)
    before = odds()
    answer(say, *failed, "--measure", f"swap-memory={word}")
    assert (odds() - before) * moves > 0


def test_new_writes_a_profile_that_checks(say: Say) -> None:
    """The copy of a packed machine is a machine, and is not written over."""
    assert answer(say, "new", "--from", NEW)["path"] == f"{NEW}.toml"
    assert answer(say, "check", f"./{NEW}.toml")["settings"]
    code, _, err = say("new", "--from", NEW)
    assert code == 2 and "exists already" in err


# ------------------------------------------------------------------------------------ refusals


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (["record", "bench.toml", "stable"], "no trial is on offer"),
        (["record", OLD, "stable", "--set", "host-clock=33"], f"waitwright new --from {OLD}"),
        (["record", "bench.toml", "stable", "--set", "host-clock=33", "--symptom", "hang"], "no symptoms"),
        (["record", "bench.toml", "failed", "--set", "host-clock=33", "--symptom", "rebot"], "reboot"),
        (["record", "bench.toml", "fine", "--set", "host-clock=33"], "expected stable or failed"),
        (["record", "bench.toml"], "expected stable or failed"),
        (["record", "bench.toml", "--undo"], "no trial to withdraw"),
        (["record", "bench.toml", "stable", "--undo"], "--undo takes no outcome"),
        (["record", "bench.toml", "stable", "--set", "host-clock=33", "--score", "fast"], "VALUE UNIT"),
        (["record", "bench.toml", "stable", "--set", "host-clock=33", "--measure", "cpu-ripple=3"], "unit"),
        (
            ["record", "bench.toml", "stable", "--set", "host-clock=33", "--measure", "cpu-riple=3 mV"],
            "cpu-ripple",
        ),
        (
            ["record", "bench.toml", "stable", "--set", "host-clock=33", "--measure", "reseat=maybe"],
            "yes or no",
        ),
        (
            ["record", "bench.toml", "stable", "--set", "host-clock=33", "--repaired", "supply"],
            "no such suspect",
        ),
        (["new", "--from", "tollgate-386dx3"], "tollgate-386dx33"),
        (["next", "nowhere.toml"], "no such file"),
        (["next", "bench.toml", "--workload", "gaming"], "no such workload"),
    ],
)
def test_wrong_words_are_one_line_and_change_nothing(say: Say, words: list[str], line: str) -> None:
    """Bad input exits 2 with one line that says what was expected; no logbook is written."""
    code, out, err = say(*words)
    assert code == 2 and not out
    assert line in err and len(err.strip().splitlines()) == 1 and "Traceback" not in err
    assert not Path("bench.logbook.toml").exists()


def test_a_damaged_logbook_is_told_and_left(say: Say) -> None:
    """A logbook that cannot be read is named with its line and never written over."""
    Path("bench.logbook.toml").write_text(
        'schema = 1\nmachine = "bench"\n[[trial]]\nnumber = "one"\n', "utf-8"
    )
    before = Path("bench.logbook.toml").read_bytes()
    code, _, err = say("record", "bench.toml", "stable", "--set", "host-clock=33")
    assert code == 2 and "bench.logbook.toml" in err and ":4" in err
    assert Path("bench.logbook.toml").read_bytes() == before


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="nothing is read-only for root")
def test_a_read_only_folder_is_one_line(say: Say, tmp_path: Path) -> None:
    """Where nothing can be written the trial is not recorded, and that is said."""
    tmp_path.chmod(0o500)
    try:
        code, _, err = say("record", "bench.toml", "stable", "--set", "host-clock=33")
    finally:
        tmp_path.chmod(0o700)
    assert code == 2 and "nothing was written" in err


@pytest.mark.parametrize("command", ["next", "suspect"])
def test_text_answers_are_readable(say: Say, command: str) -> None:
    """Without --json there is text with what a person at the bench needs."""
    code, out, _ = say(command, "bench.toml")
    assert code == 0 and "Tollgate workshop" in out
    assert ("Soak test" in out and "->" in out) if command == "next" else "timing" in out


@pytest.mark.parametrize("command", ["check", "why", "rank"])
def test_all_odds_are_conditioned_on_the_logbook(say: Say, command: str) -> None:
    """After a bold combination ran for long, its odds are higher in every command; after crashes, lower."""
    bold = ("--set", "cache-read=2-1-1-1", "--set", "cache-write=2")

    def odds() -> float:
        if command == "rank":
            fixed = ("--fix", "cache-read", "--fix", "cache-write", "--odds", "0.01", "--top", "1")
            return float(answer(say, "rank", "bench.toml", *bold, *fixed)["baseline"]["odds"])
        return float(answer(say, command, "bench.toml", *bold)["odds"])

    before = odds()
    answer(say, "record", "bench.toml", "stable", *bold, "--hours", "200")
    after_hours = odds()
    answer(say, "record", "bench.toml", "--undo")
    assert odds() == before
    for symptom in ("hang", "memory-error"):
        answer(say, "record", "bench.toml", "failed", *bold, "--symptom", symptom, "--hours", "0.1")
    assert odds() < before < after_hours
