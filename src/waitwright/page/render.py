"""From views to HTML: the page's templates on top of those that it shares with the sheet."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from waitwright.api.opening import Question
from waitwright.explain.figures import chance, measured, signed_percent
from waitwright.page import words
from waitwright.page.assets import versioned
from waitwright.report.html.render import environment
from waitwright.report.words import ROOMS, margin_of, soak, tally, unit_of

if TYPE_CHECKING:
    from jinja2 import Environment

_TEMPLATES = Path(__file__).parent / "templates"


@cache
def templates() -> Environment:
    """The templates with the words that they use."""
    made = environment(_TEMPLATES)
    made.filters.update(
        symptom=words.symptom,
        symptomed=lambda name: (name, words.symptom(name)),
        named=lambda view: (view.id, view.title),
        when=words.when,
        hours=words.hours,
        # A figure and its unit stay on one line.
        chance=lambda odds: _together(chance(odds)),
        signed_percent=lambda share: _together(signed_percent(share)),
        measured=lambda value, unit: _together(measured(value, unit)),
    )
    made.globals.update(
        rooms=words.ROOMS,
        outcomes=words.OUTCOMES,
        parts_of_machine=ROOMS,
        asset=versioned,
        link=link,
        tally=tally,
        soak=soak,
        margin_of=margin_of,
        unit_of=unit_of,
    )
    return made


def _together(text: str) -> str:
    return text.replace(" ", "\u00a0")


def link(path: str, asked: Question | None = None, **more: object) -> str:
    """The address of a page that asks about the same settings and parts as *asked*."""
    pairs = [] if asked is None else [("set", text) for text in asked.sets]
    pairs += [] if asked is None else [("part", text) for text in asked.parts]
    pairs += [(name, str(value)) for name, value in more.items() if value not in {None, ""}]
    return f"{path}?{urlencode(pairs)}" if pairs else path


def render(template: str, context: dict[str, Any]) -> str:
    """One page; may run in any thread."""
    return templates().get_template(template).render(context)
