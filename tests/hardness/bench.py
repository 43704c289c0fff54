"""A machine of few options in a folder of its own, and whole processes that work on it."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path
from shutil import copytree
from typing import Any

FILES = Path(__file__).with_name("files")

COMMANDS: Mapping[str, list[str]] = {
    "--version": ["--version"],
    "--help": ["--help"],
    "check": ["check", "attic.toml"],
    "rank": ["rank", "attic.toml"],
    "why": ["why", "attic.toml", "--set", "memory-rhythm=fast"],
    "next": ["next", "attic.toml"],
    "record": ["record", "attic.toml", "failed", "--symptom", "hang", "--set", "memory-rhythm=fast"],
    "suspect": ["suspect", "attic.toml"],
    "swap": ["swap", "attic.toml"],
    "reach": ["reach", "attic.toml", "5%"],
    "sheet": ["sheet", "attic.toml", "-o", "sheet.html"],
    "new": ["new", "--from", "tollgate-386dx33", "-o", "mine.toml"],
    "rules": ["rules", "list"],
    "completion": ["completion", "bash"],
}
"""A quick command line for every command but ``page``, which does not end by itself."""

CODES = {0, 1, 2}


def laid(folder: Path) -> Path:
    """The machine and its board in *folder*."""
    copytree(FILES, folder, dirs_exist_ok=True)
    return folder


def environment(changes: Mapping[str, str | None] | None = None) -> dict[str, str]:
    """That of this process with *changes*; None takes a variable away."""
    kept = {**os.environ, **(changes or {})}
    return {name: value for name, value in kept.items() if value is not None}


def ask(
    words: Iterable[str], folder: Path, *, changes: Mapping[str, str | None] | None = None, **more: Any
) -> subprocess.CompletedProcess[str]:
    """A whole process in *folder*; its output is read as UTF-8, whatever it is."""
    streams = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **more}
    done: subprocess.CompletedProcess[str] = subprocess.run(
        [sys.executable, "-m", "waitwright", *words],
        cwd=folder,
        env=environment(changes),
        encoding="utf-8",
        errors="replace",
        check=False,
        **streams,
    )
    return done


def told(done: subprocess.CompletedProcess[str]) -> list[str]:
    """What a process complained of that ended as promised: each line says who speaks, none is a traceback."""
    lines = (done.stderr or "").splitlines()
    strange = [line for line in lines if not line.startswith("waitwright: ")]

    assert not strange, "\n".join(strange)
    assert not any("defect" in line for line in lines), lines
    assert done.returncode in CODES, (done.returncode, lines)
    return lines
