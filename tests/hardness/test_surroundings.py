"""Wherever it is started: odd locales, no home, narrow terminals, readers that leave, nowhere to write."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from waitwright.cli.app import command

from .bench import COMMANDS, ask, laid, told

posix = pytest.mark.skipif(os.name != "posix", reason="shell redirections and devices of POSIX systems")
LOUD = ["--help", "check", "next", "sheet", "rules", "completion"]
"""Commands that write to standard output in each of the ways there are."""


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """A folder with a machine whose title holds signs of many scripts."""
    return laid(tmp_path)


def test_every_command_is_tried() -> None:
    """The commands tried here are all that there are, but for the page, which runs until it is stopped."""
    assert {*command().commands} - {*COMMANDS} == {"page"}  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "changes",
    [
        {"LC_ALL": "C", "LANG": None, "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
        {"LC_ALL": "POSIX", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "PYTHONIOENCODING": "ascii"},
        {"LC_ALL": "tr_TR.UTF-8"},
        {"LC_ALL": "no_SUCH.locale", "PYTHONIOENCODING": "latin-1"},
        {"HOME": None, "USERPROFILE": None, "XDG_CACHE_HOME": None, "PATH": "/nowhere"},
        {"TERM": "dumb", "COLUMNS": "40"},
        {"TERM": "", "COLUMNS": "0", "LINES": "0"},
        {"TERM": "unknown", "COLUMNS": "-7"},
        {"TZ": "Nowhere/At_All"},
        {"TMPDIR": "/no/such/folder"},
        {"NO_COLOR": "1", "FORCE_COLOR": "1"},
    ],
    ids=["C", "POSIX and ascii", "Turkish", "no such locale", "no home", "40 columns", "no columns",
         "odd terminal", "odd zone", "no temporary folder", "colours both ways"],
)  # fmt: skip
def test_odd_surroundings(changes: dict[str, str | None], bench: Path) -> None:
    """Neither locale, terminal nor missing folders take an answer or the logbook away."""
    done = ask(COMMANDS["next"], bench, changes=changes)

    assert told(done) == []
    assert done.stdout
    assert "[offer]" in (bench / "attic.logbook.toml").read_text("utf-8")
    if changes.get("COLUMNS") == "40":
        assert max(map(len, done.stdout.splitlines())) <= 40
    if changes.get("PYTHONIOENCODING") == "ascii":
        assert done.stdout.isascii()


@pytest.mark.parametrize("name", ["sheet", "new"])
def test_files_in_an_odd_locale(name: str, bench: Path) -> None:
    """What is written to a file is UTF-8 whatever the locale."""
    done = ask(COMMANDS[name], bench, changes={"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONIOENCODING": "ascii"})

    assert told(done) == []
    written = (bench / COMMANDS[name][-1]).read_text("utf-8")
    assert ("東京" in written) == (name == "sheet")


@posix
@pytest.mark.parametrize("name", LOUD)
def test_a_reader_that_leaves(name: str, bench: Path) -> None:
    """A reader that takes one line and goes, as ``head -1`` does, gets no complaint."""
    process = subprocess.Popen(
        [sys.executable, "-m", "waitwright", *COMMANDS[name]],
        cwd=bench,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.readline()
    process.stdout.close()
    complaint = process.stderr.read()
    process.stderr.close()

    assert complaint == b""
    assert process.wait() in {0, 1}


@posix
@pytest.mark.parametrize(
    ("name", "closed"),
    [
        *(("record", closed) for closed in (">&-", "<&-", "2>&-", "<&- >&- 2>&-")),
        ("--version", ">&-"),
        ("--help", ">&- 2>&-"),
    ],
)
def test_closed_streams(name: str, closed: str, bench: Path) -> None:
    """Streams that are closed from the start are no reason to fail, and no file takes their place."""
    line = " ".join([sys.executable, "-m", "waitwright", *COMMANDS[name], closed])
    done = subprocess.run(["/bin/sh", "-c", line], cwd=bench, capture_output=True, text=True, check=False)

    assert told(done) == []
    assert done.returncode == 0
    if name == "record":
        assert (bench / "attic.logbook.toml").read_text("utf-8").count("[[trial]]") == 1


@posix
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize("name", ["--version", *LOUD, "record"])
def test_output_on_a_full_disk(name: str, bench: Path) -> None:
    """An answer that cannot be shown is one line, exit code 2; what was recorded stays recorded."""
    with Path("/dev/full").open("wb") as full:
        done = ask(COMMANDS[name], bench, stdout=full)

    assert told(done) == ["waitwright: standard output: No space left on device"]
    assert done.returncode == 2
    if name == "record":
        assert (bench / "attic.logbook.toml").read_text("utf-8").count("[[trial]]") == 1


@posix
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_complaints_that_nobody_can_read(bench: Path) -> None:
    """Where not even the complaint can be written, the exit code still tells."""
    with Path("/dev/full").open("wb") as full:
        done = ask(["check", "nowhere.toml"], bench, stdout=full, stderr=full)

    assert done.returncode == 2
