"""A folder with a machine of one's own, and a way to talk to the commands."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from waitwright.cli.main import run

Say = Callable[..., tuple[int, str, str]]
Answer = Callable[..., dict[str, Any]]


@pytest.fixture
def say(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Say:
    """Run a command line in a folder that holds ``bench.toml``: exit status, answer, complaints."""
    monkeypatch.chdir(tmp_path)
    assert run(["new", "--from", "tollgate-386dx33", "-o", "bench.toml"]) == 0
    capsys.readouterr()

    def said(*words: str) -> tuple[int, str, str]:
        code = run([*words])
        out, err = capsys.readouterr()
        return code, out, err

    return said


@pytest.fixture
def answer(say: Say) -> Answer:
    """The JSON answer of a command on ``bench.toml`` that has one."""

    def answered(command: str, *words: str) -> dict[str, Any]:
        code, out, err = say(command, "bench.toml", *words, "--json")
        assert code in {0, 1} and not err
        found: dict[str, Any] = json.loads(out)
        return found

    return answered
