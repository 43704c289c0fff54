"""The trial study runs, on a few machines, and its strategies keep their order."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

STUDY = Path(__file__).parents[2] / "benchmarks" / "trial_study.py"


def test_a_few_machines_through_the_study() -> None:
    """On two machines of one subject 'next' arrives sooner than the setup screen's order."""
    words = ["--machines", "2", "--draws", "128", "--subject", "0"]
    for strategy in ("setup order", "next", "fault"):
        words += ["--strategy", strategy]
    done = subprocess.run(
        [sys.executable, str(STUDY), *words], check=True, capture_output=True, text=True, timeout=300
    )

    lines = {
        match[1]: float(match[2])
        for match in re.finditer(r"^(setup order|next) +2 +([0-9.]+)", done.stdout, re.MULTILINE)
    }
    assert lines["next"] < lines["setup order"]
    assert "true cause first in" in done.stdout and "1 of 1 lots" in done.stderr
