"""Tables in Markdown."""

from __future__ import annotations


def cell(text: str) -> str:
    """*text* so that it stays within one cell of a table and is no HTML."""
    return text.replace("|", "\\|").replace("<", "&lt;")
