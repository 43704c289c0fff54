"""What a packed profile is, as plain data."""

from __future__ import annotations

from dataclasses import dataclass

from waitwright.report.margin_view import Json


@dataclass(frozen=True, slots=True)
class PackedView:
    """A board or machine that comes with the package.

    Attributes:
        name: What commands and questions call it.
        note: What it teaches, in some sentences.
        board: Name of the board that a machine is built on; empty for a board.
    """

    name: str
    title: str
    note: str
    board: str = ""

    def to_dict(self) -> Json:
        """Plain data."""
        return {"name": self.name, "title": self.title, "note": self.note, "board": self.board}
