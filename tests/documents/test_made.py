"""What the documents take from rules and tests: claims and sources, whole and well-formed."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from types import ModuleType

import pytest

from waitwright.rulebook.load import load_rulebook

CHECKOUT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def making() -> Iterator[ModuleType]:
    """The package that makes pages, which stands outside the product."""
    sys.path.insert(0, str(CHECKOUT / "docs"))
    yield import_module("making")
    sys.path.remove(str(CHECKOUT / "docs"))


@pytest.mark.usefixtures("making")
def test_published_sources_name_their_documents() -> None:
    """Each source that is called published names at least one document on the shelf of documents."""
    provenance = import_module("making.provenance")
    figures = provenance.figures(load_rulebook())
    published = {figure.origin.source for figure in figures if figure.origin.basis == "published"}

    assert len(published) > 100
    assert [source for source in published if not provenance.documents(source)] == []


@pytest.mark.usefixtures("making")
def test_every_document_on_the_shelf_is_used() -> None:
    """No document is listed that no figure rests on."""
    provenance = import_module("making.provenance")
    sources = {figure.origin.source for figure in provenance.figures(load_rulebook())}
    used = {title for source in sources for title in provenance.documents(source)}

    assert used == {title for title, _ in provenance.shelf()}


@pytest.mark.usefixtures("making")
def test_claims_are_sentences_that_stand_alone() -> None:
    """Each claim is a sentence that says what is compared, with what it stands on, and no two are alike."""
    claims = list(import_module("making.claims").claims(CHECKOUT / "tests"))

    assert len(claims) > 150
    for claim in claims:
        assert claim.says.endswith("."), claim
        assert not claim.says.startswith("The same"), claim
        assert claim.stands_on.strip(" ."), claim
    assert len({(claim.says, claim.stands_on) for claim in claims}) == len(claims)


@pytest.mark.usefixtures("making")
def test_a_claim_is_read_from_a_docstring(tmp_path: Path) -> None:
    """Sentence, mark and basis come out of a docstring; an unmarked test is no claim."""
    tests = tmp_path / "tests"
    tests.mkdir()
    (tests / "test_x.py").write_text(
        'def test_a():\n    """Holds.\n\n    Source: a sheet, from memory.\n    """\n\n'
        'def test_b():\n    """Holds too."""\n\n'
        'def test_c():\n    """Agrees.\n\n    Second opinion: an abacus.\n    """\n',
        "utf-8",
    )
    found = list(import_module("making.claims").claims(tests))

    assert [(claim.says, claim.basis, claim.test) for claim in found] == [
        ("Holds.", "memory", "tests/test_x.py::test_a"),
        ("Agrees.", "second opinion", "tests/test_x.py::test_c"),
    ]
