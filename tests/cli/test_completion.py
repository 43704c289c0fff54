"""What shells offer while somebody types."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.workshop import OLD

from waitwright._resources import packed_names
from waitwright.cli.app import command
from waitwright.cli.completing import VALUES
from waitwright.cli.completion import SCRIPTS, VARIABLE, answer
from waitwright.cli.main import run

TYPED_BY_HAND = {"P", "H", "K", "N", "T", "PERCENT", "SCORE", "VALUE UNIT", "PORT", "HOST"}
LEFT_TO_THE_SHELL = {"DIR", "FILE", "FOLDER"}


def offered(*words: str) -> list[str]:
    """The words that are offered for the last of *words*."""
    return [line.split("\t")[0] for line in answer(command(), "fish", list(words)).splitlines()]


def parameters(one: Any) -> Iterator[Any]:
    """Every argument and option of a command and of those below it."""
    yield from one.params
    for inner in getattr(one, "commands", {}).values():
        yield from parameters(inner)


def test_commands_are_offered() -> None:
    """The first word is one of the commands, and that of a group one of its own."""
    assert offered("") == list(command().commands)  # type: ignore[attr-defined]
    assert offered("re") == ["record", "reach"]
    assert offered("rules", "s") == ["show", "schema"]


def test_machines_are_offered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Machines are packed ones, and profiles and folders beside what is typed; a logbook is none."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "shed").mkdir()
    for name in ("attic.toml", "attic.logbook.toml", "notes.txt", "shed/bench.toml"):
        (tmp_path / name).touch()

    assert offered("check", "") == [*packed_names("machines"), "attic.toml", "shed/"]
    assert offered("check", "shed/") == ["shed/bench.toml"]
    assert offered("check", f"{tmp_path}/att") == [f"{tmp_path}/attic.toml"]
    assert offered("new", "--from", "") == list(packed_names("machines"))


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["check", OLD, "--set", "cache-re"], ["cache-read="]),
        (["check", OLD, "--set", "cache-read=3"], ["cache-read=3-2-2-2", "cache-read=3-1-1-1"]),
        (["check", OLD, "--set=cache-read=3-2"], ["--set=cache-read=3-2-2-2"]),
        (["check", "--set", "cache-read=2-1-1-1", OLD, "--set", "cache-w"], ["cache-write="]),
        (["rank", OLD, "--fix", "isa-c"], ["isa-clock"]),
        (["check", OLD, "--part", "ta"], ["tag="]),
        (["check", OLD, "--part", "tag=sram-32kx8-1"], [f"tag=sram-32kx8-{ns}" for ns in (10, 12, 15)]),
        (["check", OLD, "--part", "tag=no"], ["tag=none"]),
        (["check", OLD, "--part", "logi"], []),  # soldered
        (["rank", OLD, "--workload", "disk"], ["disk-copy"]),
        (["record", "my.toml", ""], ["stable", "failed"]),
        (["record", "my.toml", "failed", "--symptom", "h"], ["hang"]),
        (["record", "my.toml", "stable", ""], []),
        (["rules", "list", "--kind", "wo"], ["workload"]),
        (["rules", "show", "l2.read.first.d"], ["l2.read.first.data"]),
        (["rules", "schema", "lo"], ["logbook"]),
        (["completion", ""], ["bash", "zsh", "fish"]),
        (["check", OLD, "--rat"], ["--rated"]),
        (["check", OLD, "--"], None),
        (["check", OLD, "--seed", ""], []),
        (["check", "--", "--"], []),
        (["check", OLD, "--set", "colour="], []),
        (["check", "no-such-machine", "--set", ""], []),
        (["check", OLD, "--rules", "/no/such/folder", "--set", ""], []),
    ],
)
def test_words_are_offered(words: list[str], expected: list[str] | None) -> None:
    """Options with their choices, slots with their parts, and all words of the rulebook are offered."""
    if expected is None:
        expected = [word for one in parameters(command().commands["check"]) for word in one.opts]  # type: ignore[attr-defined]
        expected = [*(word for word in expected if word.startswith("--")), "--help"]

    assert offered(*words) == expected


def test_measurements_and_suspects_are_offered() -> None:
    """A reading is named by its measurement, a yes or no can be chosen, and so can what was repaired."""
    names = offered("record", "my.toml", "stable", "--measure", "")

    assert len(names) > 5
    assert all(name.endswith("=") for name in names)
    answers = [offered("record", "my.toml", "stable", "--measure", name) for name in names]
    assert [f"{name}yes" for name in names] != [found[0] for found in answers if found]
    assert any(found and found[0].endswith("=yes") for found in answers)
    assert len(offered("record", "my.toml", "stable", "--repaired", "")) > 5


def test_every_metavar_is_known() -> None:
    """What any argument or option stands for can be completed, or is known to be typed by hand or a file."""
    known = set(VALUES) | TYPED_BY_HAND | LEFT_TO_THE_SHELL
    metavars = {
        str(one.metavar or one.name).strip("[]'.")
        for one in parameters(command())
        if not getattr(one, "is_flag", False)
    }

    assert metavars <= known


def test_candidates_have_a_meaning() -> None:
    """For shells that show it, the owner's label stands behind each candidate."""
    lines = answer(command(), "zsh", ["check", OLD, "--set", "host-cl"])

    assert lines == "host-clock=\tHost clock\n"


def test_bash_replaces_only_behind_the_equals_sign() -> None:
    """Bash cuts words at "=", so that it gets the choice alone."""
    assert answer(command(), "bash", ["check", OLD, "--set", "cache-read=3-2"]) == "3-2-2-2\n"


@pytest.mark.parametrize("shell", list(SCRIPTS))
def test_protocol(shell: str) -> None:
    """With the variable set, the program answers the shell's question and nothing else."""
    done = subprocess.run(
        [sys.executable, "-m", "waitwright", "check", "tollgate-3"],
        env={**os.environ, VARIABLE: shell},
        capture_output=True,
        text=True,
        check=True,
    )

    assert [line.split("\t")[0] for line in done.stdout.splitlines()] == [OLD]
    assert done.stderr == ""


def test_how_to_use_it_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    """Without a shell, the command tells the line to add for each; a shell that it does not know is named."""
    assert run(["completion"]) == 0
    out = capsys.readouterr().out
    assert all(f"waitwright completion {shell}" in out for shell in SCRIPTS)

    assert run(["completion", "tcsh"]) == 2
    assert "expected one of bash, zsh, fish" in capsys.readouterr().err


@pytest.fixture
def on_path(tmp_path: Path) -> dict[str, str]:
    """The environment of a shell that finds the program."""
    program = tmp_path / "waitwright"
    program.write_text(f'#!/bin/sh\nexec {sys.executable} -m waitwright "$@"\n', "utf-8")
    program.chmod(0o755)
    return {**os.environ, "PATH": f"{tmp_path}{os.pathsep}{os.environ['PATH']}", "HOME": str(tmp_path)}


def spoken(shell: str, script: str, environment: dict[str, str]) -> list[str]:
    """What *shell* prints for *script*."""
    if shutil.which(shell) is None:
        pytest.skip(f"{shell} is not installed")
    plain = {"bash": ["--norc"], "zsh": ["-f"], "fish": ["--no-config"]}[shell]
    done = subprocess.run(
        [shell, *plain, "-c", script], env=environment, capture_output=True, text=True, check=True
    )
    return done.stdout.splitlines()


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("waitwright che", ["check"]),
        ("waitwright check tollgate-3", [OLD]),
        (f"waitwright check {OLD} --set cache-re", ["cache-read="]),
        (f"waitwright check {OLD} --set cache-read =", ["3-2-2-2", "3-1-1-1", "2-2-2-2", "2-1-1-1"]),
        (f"waitwright check {OLD} --set cache-read = 3-2", ["3-2-2-2"]),
        (f"waitwright check {OLD} --set cache-read = 3-2-2-2 --rat", ["--rated"]),
    ],
)
def test_bash_script(words: str, expected: list[str], on_path: dict[str, str]) -> None:
    """The script for bash offers the right words, though bash hands it OPTION=CHOICE in pieces."""
    count = len(words.split())
    script = (
        f'eval "$(waitwright completion bash)"; COMP_WORDS=({words}); COMP_CWORD={count - 1};'
        '_waitwright waitwright; printf "%s\\n" "${COMPREPLY[@]}"'
    )

    assert spoken("bash", script, on_path) == expected


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("waitwright che", ["check"]),
        ("waitwright check tollgate-3", [OLD]),
        (f"waitwright check {OLD} --set cache-read=3", ["cache-read=3-1-1-1", "cache-read=3-2-2-2"]),
    ],
)
def test_fish_script(line: str, expected: list[str], on_path: dict[str, str]) -> None:
    """The script for fish offers the right words."""
    script = f'waitwright completion fish | source; complete -C "{line}"'

    assert sorted(found.split("\t")[0] for found in spoken("fish", script, on_path)) == expected


def test_zsh_script(on_path: dict[str, str]) -> None:
    """The script for zsh is accepted by its completion system, and asks with the words before the cursor."""
    script = (
        'autoload -Uz compinit; compinit -u -D; eval "$(waitwright completion zsh)"'
        '; print $_comps[waitwright]; _describe() { print -l -- "${(@P)3}" }'
        '; compadd() { shift 3; print -l -- "$@" }'
        f"; words=(waitwright check {OLD} --set cache-re); CURRENT=5; _waitwright"
        "; words=(waitwright che); CURRENT=2; _waitwright"
    )

    assert spoken("zsh", script, on_path) == [
        "_waitwright",
        "cache-read=",
        "check:Show the clocks, the settings and the margins of a machine.",
    ]
