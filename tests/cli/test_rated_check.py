"""``--rated``: verdicts by data sheet alone."""

from __future__ import annotations

import subprocess
import sys

import pytest

from waitwright.api.check import check
from waitwright.api.opening import Question
from waitwright.cli.main import run


def test_verdicts_are_those_of_the_full_check() -> None:
    """Without odds the margins and verdicts are the same, and no odds are claimed."""
    plain, full = check(Question("tollgate-386dx33"), hours=None), check(Question("tollgate-386dx33"))

    assert [rule.rated for rule in plain.rules] == [rule.rated for rule in full.rules]
    assert plain.odds is None
    assert all(rule.odds is None for rule in plain.rules)


def test_numbers_library_is_not_loaded() -> None:
    """Nothing of the cloud is imported: that is what makes it quick."""
    code = (
        "import sys; from waitwright.cli.main import run; "
        "code = run(['check', 'tollgate-386dx33', '--rated', '--json']); "
        "sys.exit(code or int('numpy' in sys.modules))"
    )

    assert (
        subprocess.run([sys.executable, "-c", code], stdout=subprocess.DEVNULL, check=False).returncode == 0
    )


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (["check", "--soak", "4"], "--soak"),
        (["rank", "--soak", "4"], "--soak"),
        (["rank", "--odds", "0.9"], "--odds"),
        (["rank", "--odds", "0"], "--odds"),
        (["rank", "--curve"], "--curve"),
        (["rank", "--curve", "--soak", "9", "--odds", "0.5"], "--odds, --soak and --curve"),
    ],
)
def test_wishes_about_odds_are_refused(
    words: list[str], named: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """An option that data-sheet limits would ignore is refused in one line, even if it says the default."""
    command, *options = words

    assert run([command, "tollgate-386dx33", "--rated", *options]) == 2

    out, err = capsys.readouterr()
    assert out == ""
    (line,) = err.splitlines()
    assert line.startswith(f"waitwright: {named} cannot stand beside --rated")
