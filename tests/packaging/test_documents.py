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
