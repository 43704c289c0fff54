"""What the documents show works as it stands there."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from waitwright.cli.main import run

CHECKOUT = Path(__file__).resolve().parents[2]
DOCUMENTS = ("README.md", "DEVELOPERS.md")


def blocks(document: str, language: str) -> list[str]:
    """The fenced blocks of *language* in *document*."""
    text = (CHECKOUT / document).read_text("utf-8")
    return re.findall(rf"^```{language}\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def commands(document: str) -> list[str]:
    """The command lines of this program in *document*."""
    lines = [line for block in blocks(document, "sh") for line in block.splitlines()]
    return [line for line in lines if line.startswith("waitwright ")]


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the files of the contributors' examples, as the current folder."""
    for block in blocks("DEVELOPERS.md", "toml"):
        name = block.splitlines()[0].removeprefix("# ")
        path = tmp_path / name.replace("rules/", "my-rules/", 1)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(block, "utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_examples_are_there(bench: Path) -> None:
    """The page for contributors shows a part, a rule, a board and a machine, and commands to try them."""
    shown = {path.relative_to(bench).as_posix() for path in bench.rglob("*.toml")}

    assert shown == {
        "my-rules/parts/my-sram.toml",
        "my-rules/budgets/my-cache.toml",
        "millpond-sx.toml",
        "attic.toml",
    }
    assert len(commands("DEVELOPERS.md")) >= 6


@pytest.mark.usefixtures("bench")
@pytest.mark.parametrize("line", commands("DEVELOPERS.md"))
def test_commands_for_contributors_work(line: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Each command that the page for contributors shows gives an answer, with nothing to complain about."""
    assert run(shlex.split(line)[1:]) == 0

    out, err = capsys.readouterr()
    assert out
    assert err == ""


@pytest.mark.usefixtures("bench")
def test_example_rule_is_applied(capsys: pytest.CaptureFixture[str]) -> None:
    """The rule of the page for contributors takes part once its folder is given."""
    assert run(["check", "tollgate-386dx33", "--rules", "my-rules", "--json"]) == 0

    assert '"l2.read.first.select"' in capsys.readouterr().out


@pytest.mark.usefixtures("bench")
def test_example_board_is_complete(capsys: pytest.CaptureFixture[str]) -> None:
    """The board of the page for contributors leaves no budget unchecked."""
    assert run(["check", "attic.toml", "--json"]) == 0

    assert '"unchecked"' not in capsys.readouterr().out


def test_first_commands() -> None:
    """The readme begins with a command for the main job and one for the tests, and both name what exists."""
    job, tests = blocks("README.md", "sh")[:2]

    machine = re.search(r"waitwright rank (\S+) --rated", job)
    assert machine is not None
    assert (CHECKOUT / "profiles" / "machines" / f"{machine[1]}.toml").is_file()
    assert (CHECKOUT / tests.splitlines()[1].removeprefix("bash ")).is_file()


def test_shown_ledger_is_what_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    """Names and figures in the readme's ledger are those that the program prints."""
    text = (CHECKOUT / "README.md").read_text("utf-8")
    found = re.search(r"<!-- output of: waitwright (.*?) -->\n```text\n(.*?)```", text, re.DOTALL)
    assert found is not None
    run(shlex.split(found[1]))

    printed = " ".join(capsys.readouterr().out.split())
    for line in found[2].splitlines():
        assert " ".join(line.split("[")[0].split()) in printed


@pytest.mark.parametrize("document", DOCUMENTS)
def test_links_lead_somewhere(document: str) -> None:
    """Each link between the documents names a file that exists."""
    text = (CHECKOUT / document).read_text("utf-8")
    targets = [target for target in re.findall(r"\]\(([^)]+)\)", text) if "://" not in target]

    assert all((CHECKOUT / target).is_file() for target in targets)
