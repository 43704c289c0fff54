"""Logbooks that many processes write at once, and that dying processes write.

WAITWRIGHT_KILLS sets how many processes are killed, WAITWRIGHT_INTERRUPTS how often each command is
interrupted; few unless set.
"""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
import tomllib
from pathlib import Path
from typing import Any

import pytest

from .bench import COMMANDS, laid

CROWD = Path(__file__).with_name("crowd.py")
KILLS = int(os.environ.get("WAITWRIGHT_KILLS", "12"))
INTERRUPTS = int(os.environ.get("WAITWRIGHT_INTERRUPTS", "1"))

pytestmark = pytest.mark.skipif(os.name != "posix", reason="forks, and sends signals")

READY = """
import sys
from waitwright.cli.main import main
print("ready", file=sys.stderr, flush=True)
sys.exit(main())
"""


def crowd(folder: Path, what: str, count: int) -> Any:
    """What the processes did."""
    done = subprocess.run(
        [sys.executable, str(CROWD), what, str(count)],
        cwd=laid(folder),
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    return json.loads(done.stdout)


def test_a_hundred_at_once(tmp_path: Path) -> None:
    """A hundred processes that record at the same moment all succeed, and every trial is kept once."""
    found = crowd(tmp_path, "many", 100)

    assert found["codes"] == [0] * 100
    assert sorted(found["notes"], key=int) == [str(number) for number in range(100)]
    assert found["left"] == ["attic.logbook.toml", "attic.logbook.toml.lock", "attic.toml", "millpond.toml"]


def test_killed_while_recording(tmp_path: Path) -> None:
    """Killed at any moment of the command: every trial that was reported is there, and at most one more."""
    found = crowd(tmp_path, "kill", KILLS)

    assert len(found) == KILLS
    for death in found:
        assert death["killed"]
        assert death["whole"]
        assert death["kept"] in {death["told"], death["told"] + 1}


def struck(name: str, folder: Path, number: int, delay: float) -> tuple[int, list[str]]:
    """Exit code and complaints of a command that is sent a signal *delay* seconds after its start."""
    with subprocess.Popen(
        [sys.executable, "-c", READY, *COMMANDS[name]],
        cwd=folder,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stderr is not None
        process.stderr.readline()
        time.sleep(delay)
        process.send_signal(number)
        complaints = process.stderr.read().splitlines()
    return process.returncode, complaints


def check_files(folder: Path) -> None:
    """Every file that a command leaves is whole, and nothing else is left."""
    for path in folder.iterdir():
        if path.suffix == ".toml":
            assert tomllib.loads(path.read_text("utf-8"))["schema"] == 1
        elif path.suffix == ".html":
            assert path.read_text("utf-8").rstrip().endswith("</html>")
        else:
            assert path.suffix == ".lock", path.name


@pytest.mark.parametrize("name", [name for name in COMMANDS if name not in {"--version", "completion"}])
def test_interrupted(name: str, tmp_path: Path) -> None:
    """Ctrl-C at any moment ends a command with status 130 and without a word, or finds it at its end."""
    chance = random.Random(name)
    for _ in range(INTERRUPTS):
        code, complaints = struck(name, laid(tmp_path), signal.SIGINT, chance.uniform(0, 0.7))

        assert code in {0, 1, 130}, complaints  # 1: the answer is "none"
        assert complaints == []
        check_files(tmp_path)
        (tmp_path / "mine.toml").unlink(missing_ok=True)


def test_interrupted_after_the_answer(tmp_path: Path) -> None:
    """Ctrl-C while the interpreter tidies up after an answer does not make a failure of it."""
    chance = random.Random("after")
    for _ in range(5 * INTERRUPTS):
        with subprocess.Popen(
            [sys.executable, "-c", READY, *COMMANDS["rank"]],
            cwd=laid(tmp_path),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        ) as process:
            assert process.stdout is not None
            process.stdout.readline()  # the answer comes in one piece, when the command is done
            time.sleep(chance.uniform(0, 0.03))
            process.send_signal(signal.SIGINT)
            _, complaints = process.communicate()

        assert process.returncode in {0, 130}
        assert complaints == "ready\n"


@pytest.mark.parametrize("name", ["record", "sheet"])
def test_terminated(name: str, tmp_path: Path) -> None:
    """A command that is terminated leaves whole files."""
    chance = random.Random(name)
    for _ in range(INTERRUPTS):
        code, complaints = struck(name, laid(tmp_path), signal.SIGTERM, chance.uniform(0, 0.7))

        assert code in {0, -signal.SIGTERM}
        assert complaints == []
        for path in tmp_path.glob("[a-z]*.toml"):
            assert tomllib.loads(path.read_text("utf-8"))["schema"] == 1


def test_page_is_stopped(tmp_path: Path) -> None:
    """The page tells its address at once, and Ctrl-C stops it without a word."""
    with subprocess.Popen(
        [sys.executable, "-u", "-m", "waitwright", "page", "attic.toml", "--json"],
        cwd=laid(tmp_path),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        told = ""
        while "}" not in told:
            told += process.stdout.readline()
        process.send_signal(signal.SIGINT)
        complaints = process.stderr.read()
        process.wait()

    assert json.loads(told)["url"].startswith("http://127.0.0.1:")
    assert process.returncode in {0, 130}
    assert "Traceback" not in complaints
