"""The menu of choices that trials are picked from."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from shutil import copytree

from waitwright.api.next_trial import next_trial
from waitwright.api.opening import Question

SMALL = Path(__file__).resolve().parents[1] / "hardness" / "files"


def test_options_that_nothing_ties_together(tmp_path: Path) -> None:
    """A board so simple that no option stands above the others still gets its trial."""
    copytree(SMALL, tmp_path, dirs_exist_ok=True)
    found = next_trial(Question(str(tmp_path / "attic.toml")), now=datetime(2026, 1, 31, tzinfo=UTC))

    assert found.trial is not None
    assert "memory-rhythm" in {change.option for change in found.trial.changes}
