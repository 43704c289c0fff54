"""The page of claims: what the tests check against the outside, read from the tests themselves.

A test that checks something against the outside has a paragraph ``Source: ...`` in its docstring (a
document, or common practice), or ``Second opinion: ...`` (another program, or plain counting).  A module
may say it once for all its tests, in a paragraph of its own docstring.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from making.tables import cell

_MARKS = {"Source: ": "source", "Second opinion: ": "second opinion"}
_PRACTICE = ("common practice",)
_MEMORY = ("from memory",)


@dataclass(frozen=True, slots=True)
class Claim:
    """One thing that a test holds against the outside.

    Attributes:
        says: What the test states, one sentence.
        stands_on: Document, practice or program.
        basis: ``published``, ``practice``, ``memory`` (also where a published document is only part of
            what is compared), or ``second opinion``.
        test: Path and name.
    """

    says: str
    stands_on: str
    basis: str
    test: str


def claims(tests: Path) -> Iterator[Claim]:
    """Every claim of the test files below *tests*, by path and place."""
    for path in sorted(tests.rglob("test_*.py")):
        tree = ast.parse(path.read_text("utf-8"))
        for_all = _marked(ast.get_docstring(tree) or "")
        for node in tree.body:
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                text = ast.get_docstring(node) or ""
                own = _marked(text) or for_all
                says = " ".join(text.split("\n\n")[0].split())
                for mark, said in own:
                    name = f"{path.relative_to(tests.parent).as_posix()}::{node.name}"
                    yield Claim(says, said, _basis(mark, said), name)


def _marked(text: str) -> list[tuple[str, str]]:
    """The marked paragraphs of a docstring."""
    found = []
    for paragraph in text.split("\n\n"):
        line = " ".join(paragraph.split())
        for mark, kind in _MARKS.items():
            if line.startswith(mark):
                found.append((kind, line.removeprefix(mark)))
    return found


def _basis(mark: str, said: str) -> str:
    lower = said.lower()
    if mark == "second opinion":
        return mark
    if any(word in lower for word in _MEMORY):
        return "memory"
    return "practice" if any(word in lower for word in _PRACTICE) else "published"


def page(tests: Path) -> str:
    """The page of claims, as Markdown."""
    found = list(claims(tests))
    counts = {basis: sum(claim.basis == basis for claim in found) for basis in _TITLES}
    lines = [
        "# What the tests stand on",
        "",
        "Each line is a test that compares waitwright with something from outside, as the test itself tells.",
        "Many run over dozens of cases.",
        "",
        "| stands on | tests |",
        "| --- | --- |",
        *(f"| {title} | {counts[basis]} |" for basis, title in _TITLES.items()),
    ]
    for basis, title in _TITLES.items():
        lines += ["", f"## {title[0].upper()}{title[1:]}", "", _INTRODUCTIONS[basis], ""]
        lines += ["| the test states | it stands on | test |", "| --- | --- | --- |"]
        lines += [
            f"| {cell(claim.says)} | {cell(claim.stands_on)} | `{claim.test.removeprefix('tests/')}` |"
            for claim in found
            if claim.basis == basis
        ]
    return "\n".join(lines) + "\n"


_TITLES = {
    "published": "published figures",
    "memory": "figures from memory",
    "practice": "common practice",
    "second opinion": "second opinions",
}
_INTRODUCTIONS = {
    "published": "A document that anybody can look up names the figure.",
    "memory": "At least one figure in the comparison is a data sheet remembered, not seen.",
    "practice": "People who do this work agree on it; no document is known.",
    "second opinion": "Another program, or plain counting, answers the same question by other means.",
}
