"""The page on adding parts, rules and boards: its examples are whole, and take part."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from waitwright.cli.main import run

PAGE = Path(__file__).resolve().parents[2] / "docs" / "pages" / "extending.md"


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the files of the page's examples, as the current folder."""
    for block in re.findall(r"^```toml\n(.*?)^```$", PAGE.read_text("utf-8"), re.MULTILINE | re.DOTALL):
        name = block.splitlines()[0].removeprefix("# ")
        path = tmp_path / name.replace("rules/", "my-rules/", 1)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(block, "utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_examples_are_there(bench: Path) -> None:
    """The page shows a part, a rule, a board and a machine."""
    shown = {path.relative_to(bench).as_posix() for path in bench.rglob("*.toml")}

    assert shown == {
        "my-rules/parts/my-sram.toml",
        "my-rules/budgets/my-cache.toml",
        "millpond-sx.toml",
        "attic.toml",
    }


@pytest.mark.usefixtures("bench")
def test_example_rules_are_without_remark(capsys: pytest.CaptureFixture[str]) -> None:
    """The examples are valid, and nobody has anything to complain about."""
    assert run(["rules", "validate", "--rules", "my-rules"]) == 0

    assert capsys.readouterr().err == ""


@pytest.mark.usefixtures("bench")
def test_example_rule_is_applied(capsys: pytest.CaptureFixture[str]) -> None:
    """The page's rule takes part once its folder is given."""
    assert run(["check", "tollgate-386dx33", "--rules", "my-rules", "--json"]) == 0

    assert '"l2.read.first.select"' in capsys.readouterr().out


@pytest.mark.usefixtures("bench")
def test_example_board_is_complete(capsys: pytest.CaptureFixture[str]) -> None:
    """The page's board leaves no budget unchecked."""
    assert run(["check", "attic.toml", "--json"]) == 0

    assert '"unchecked"' not in capsys.readouterr().out
