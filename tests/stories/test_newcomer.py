"""A newcomer's evening: the README's first command, a machine described by answers, and the first trials."""

from __future__ import annotations

import io
import json
import re
import shlex
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from waitwright.cli.main import run

README = Path(__file__).resolve().parents[2] / "README.md"
Ask = Callable[..., dict[str, Any]]

ANSWERS = """\
386DX-40

128
30

80.000
none

UM61256AK-20

8 x 1Mx9 -80
16-bit display -80
a
16-bit multi-i/o
a

1

slow
61256-15
From the flea market

"""
"""As somebody types them who has the board on the table; an empty line takes what is offered."""


@pytest.fixture
def ask(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Ask:
    """Run a command in an empty folder and return its JSON, whatever its verdict."""
    monkeypatch.chdir(tmp_path)

    def asked(*words: str, answers: str = "") -> dict[str, Any]:
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(answers.encode()), encoding="utf-8"))
        code = run([*words, "--json"])
        out, err = capsys.readouterr()
        assert code in {0, 1}, err
        found: dict[str, Any] = json.loads(out)
        return found

    return asked


def readme_command() -> list[str]:
    """The words of the first command that the README shows."""
    block = re.search(r"^```sh\n(.*?)^```$", README.read_text("utf-8"), re.MULTILINE | re.DOTALL)
    assert block is not None
    line = re.search(r"waitwright (.*)$", block[1], re.MULTILINE)
    assert line is not None
    return shlex.split(line[1])


def test_from_the_readme_to_the_first_trials(ask: Ask, tmp_path: Path) -> None:
    """Rank the packed example, describe a machine that is not packed, try, record, and get the next trial."""
    best = ask(*readme_command())
    assert best["results"][0]["gain"] > 0

    assert ask("new", "mine.toml", answers=ANSWERS) == {"path": "mine.toml"}
    checked = ask("check", "mine.toml", "--rated")
    assert checked["title"] == "From the flea market"
    assert checked["clocks"]["host_mhz"] == 40
    assert checked["conflicts"] == []
    assert all(one["rated"] != "falls short" for one in checked["budgets"])

    first = ask("next", "mine.toml")
    assert first["verdict"] == "trial"
    assert first["trial"]["gain"] > 0
    recorded = ask("record", "mine.toml", "stable", "--hours", "8")
    assert recorded["outcome"] == "stable"
    assert (tmp_path / "mine.logbook.toml").is_file()

    second = ask("next", "mine.toml")
    assert second["proven"]["settings"] == first["trial"]["settings"]
    assert second["trial"] is None or second["trial"]["settings"] != first["trial"]["settings"]


def test_the_machine_grows_with_its_owner(ask: Ask, tmp_path: Path) -> None:
    """Faster chips found in the drawer go into the profile, whose comments stay, and the answers follow."""
    ask("new", "mine.toml", answers=ANSWERS)
    path = tmp_path / "mine.toml"
    path.write_text("# from the flea market, 5 pounds\n" + path.read_text("utf-8"), "utf-8")
    tag = next(line.split(" ")[0] for line in path.read_text("utf-8").splitlines() if line.startswith("tag"))
    before = ask("rank", "mine.toml", "--rated", "--top", "1")["results"][0]["gain"]

    assert ask("new", "--edit", "mine.toml", "--part", f"{tag}=sram-32kx8-15") == {"path": "mine.toml"}

    assert path.read_text("utf-8").startswith("# from the flea market, 5 pounds\n")
    assert ask("rank", "mine.toml", "--rated", "--top", "1")["results"][0]["gain"] >= before
