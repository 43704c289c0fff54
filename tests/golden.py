"""Golden files: what was approved once, compared letter by letter.

``pytest --approve`` writes them anew; then look at what changed before it is committed.
"""

from __future__ import annotations

from pathlib import Path

import pytest

FOLDER = Path(__file__).parent / "golden"


class Golden:
    """Compares texts with the files under ``tests/golden``."""

    def __init__(self, *, approve: bool) -> None:
        self._approve = approve

    def same(self, name: str, text: str) -> None:
        """Fail unless *text* is what the golden file *name* holds."""
        path = FOLDER / name
        if self._approve:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, "utf-8")
        if not path.exists():
            pytest.fail(f"no golden file {name}; look at the output, then run pytest --approve")
        assert text == path.read_text("utf-8"), f"{name} differs; look at it, then run pytest --approve"
