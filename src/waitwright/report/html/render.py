"""The templates, ready to render: the same for the sheet and for the page at the bench."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from waitwright import __version__
from waitwright.explain.figures import asked, chance, measured, plain, several, signed_percent
from waitwright.report.words import CLOCK_NAMES

if TYPE_CHECKING:  # only those who render pay for it
    from jinja2 import Environment

_HERE = Path(__file__).parent


@cache
def environment(*folders: Path) -> Environment:
    """Templates of *folders* and of this one: everything is escaped, and an unknown name is an error."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    templates = Environment(
        loader=FileSystemLoader([*folders, _HERE / "templates"]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    templates.filters.update(
        asked=asked, chance=chance, measured=measured, plain=plain, signed_percent=signed_percent
    )
    templates.globals.update(version=__version__, several=several, clock_words=CLOCK_NAMES)
    return templates


@cache
def stylesheet(*names: str) -> str:
    """The named style sheets of this folder, one after another; ``paper.css`` where none is named."""
    return "\n".join((_HERE / name).read_text("utf-8") for name in names or ("paper.css",))
