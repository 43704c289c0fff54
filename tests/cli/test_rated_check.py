"""``check --rated``: verdicts by data sheet alone."""

from __future__ import annotations

import subprocess
import sys

from waitwright.api.check import check
from waitwright.api.opening import Question


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
