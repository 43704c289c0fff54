"""What the packed rules say of their own sources."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator

import pytest

from waitwright._resources import packed_files
from waitwright.rulebook.domain import Rulebook
from waitwright.rulebook.lint import lint

UNPUBLISHED = re.compile(
    r"\bfrom memory\b|\bmemory with\b|\bpractice\b|\bassum|\bestimate|\bguess|\bsecondary\b|\bour reading\b"
)
"""Words by which a source says that a figure is not published; "memory" alone may be the machine's own."""


def sourced(entry: object, basis: str = "", place: str = "") -> Iterator[tuple[str, str, str]]:
    """Place, source and basis of all below *entry* that names a source; a row may inherit its basis."""
    if isinstance(entry, dict):
        basis = str(entry.get("basis", basis))
        if "source" in entry:
            yield place, str(entry["source"]), basis
        for key, inner in entry.items():
            yield from sourced(inner, basis, f"{place}.{key}")
    elif isinstance(entry, list):
        for number, inner in enumerate(entry):
            yield from sourced(inner, basis, f"{place}[{number}]")


@pytest.mark.parametrize("name", [name for name, _ in packed_files("rules")])
def test_what_is_called_published_is_published(name: str) -> None:
    """No source of a published rule or figure speaks of memory, practice, assumption or estimate."""
    file = dict(packed_files("rules"))[name]
    found = list(sourced(tomllib.loads(file.read_text(encoding="utf-8"))))

    assert [
        place for place, source, basis in found if basis == "published" and UNPUBLISHED.search(source.lower())
    ] == []


@pytest.mark.parametrize(
    "source", ["Data sheet, p. 3; rest from memory", "p. 4; the spread is an estimate", "assumed skew"]
)
def test_doubtful_words_are_found(source: str) -> None:
    """Each of the words that give an unpublished figure away is seen in a nested entry."""
    entry = {"part": [{"basis": "published", "source": "p. 3", "rows": {"delay": {"source": source}}}]}

    doubtful = [place for place, text, _ in sourced(entry) if UNPUBLISHED.search(text.lower())]

    assert doubtful == [".part[0].rows.delay"]


def test_the_packed_rulebook_gives_no_cause_for_remarks(rulebook: Rulebook) -> None:
    """Every packed word, fact and measurement is used by something."""
    assert lint(rulebook) == ()
