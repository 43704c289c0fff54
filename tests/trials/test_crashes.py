"""Sudden death: a process that is killed while it records leaves the old logbook or the new one.

WAITWRIGHT_KILLS sets how many processes are killed at random instants (20 unless set).
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

RECORDER = Path(__file__).with_name("recorder.py")
KILLS = int(os.environ.get("WAITWRIGHT_KILLS", "20"))

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="forks and kills processes")


def deaths(folder: Path, *words: str) -> list[dict[str, Any]]:
    """What the recorder found in the logbook after each death."""
    what, *more = words
    path = folder / "bench.logbook.toml"
    done = subprocess.run(
        [sys.executable, str(RECORDER), what, str(path), *more], stdout=subprocess.PIPE, text=True, check=True
    )
    found: list[dict[str, Any]] = json.loads(done.stdout)
    return found


def test_killed_at_any_instant(tmp_path: Path) -> None:
    """After a death at any instant the logbook is whole: every trial that was reported, at most one more."""
    found = deaths(tmp_path, "kill", str(KILLS))

    assert len(found) == KILLS
    for death in found:
        count = len(death["numbers"])
        assert death["numbers"] == list(range(1, count + 1))
        assert count in {death["told"], death["told"] + 1}


def test_killed_before_any_line(tmp_path: Path) -> None:
    """Killed before each line of the writing in turn: the old logbook up to the renaming, then the new one.

    The next process is neither kept waiting nor misled by what the dead one left.
    """
    found = deaths(tmp_path, "kill-at-lines")

    changed = []
    for death in found:
        before = len(death["before"])
        assert len(death["after"]) in {before, before + 1}
        assert death["later"] == list(range(1, len(death["after"]) + 2))
        changed.append(len(death["after"]) > before)
    assert len(found) > 20
    assert set(changed) == {False, True}
    assert changed == sorted(changed)
