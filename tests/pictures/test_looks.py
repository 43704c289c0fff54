"""Looks: readable on every paper, told by more than colour, and all in the style sheet."""

from __future__ import annotations

import re

import pytest
from tests import gallery
from tests.pictures.reading import SVG, drawn

from waitwright.report.html.render import stylesheet
from waitwright.report.pictures import board, shares, story, suspects, timing, tradeoff
from waitwright.report.pictures.canvas import WIDTH
from waitwright.report.pictures.picture import Picture

CSS = stylesheet()
PICTURES = (
    *(timing.draw(budget) for budget in gallery.BUDGETS),
    board.draw(gallery.RULES),
    suspects.draw(gallery.SUSPECTS.suspects, 0.76),
    shares.draw(gallery.SHARES),
    story.draw(gallery.ENTRIES),
    tradeoff.draw(gallery.CURVE, gallery.MARKS, hours=4.0),
)
PAPERS = ("light", "dark", "print")
COLOUR = re.compile(r"--([a-z]+):\s*(#[0-9a-f]{6})")


def colours(paper: str) -> dict[str, str]:
    """The named colours on one kind of paper."""
    blocks = re.findall(r":root \{(.*?)\}", CSS, re.DOTALL)
    assert len(blocks) == len(PAPERS)
    return dict(COLOUR.findall(blocks[0])) | dict(COLOUR.findall(blocks[PAPERS.index(paper)]))


def luminance(colour: str) -> float:
    """Relative luminance, by the Web Content Accessibility Guidelines 2.2."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, two: str) -> float:
    """Contrast ratio, by the same guidelines: 1 to 21."""
    light, dark = sorted((luminance(one), luminance(two)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_reckoned_as_published() -> None:
    """Black on white is 21, and #767676 on white just passes 4.5 (WCAG 2.2, understanding 1.4.3)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("paper", PAPERS)
def test_text_can_be_read(paper: str) -> None:
    """Ink, pencil and crayon stand out from paper and from its squares by 4.5 at least (WCAG 2.2, 1.4.3)."""
    found = colours(paper)
    for pen in ("ink", "pencil", "crayon"):
        for ground in ("paper", "lit", "square"):
            assert contrast(found[pen], found[ground]) >= 4.5, (pen, ground)


@pytest.mark.parametrize("paper", PAPERS)
def test_shapes_can_be_seen(paper: str) -> None:
    """Whatever carries meaning in a picture stands out by 3 at least (WCAG 2.2, 1.4.11)."""
    found = colours(paper)
    for pen in ("ink", "pencil", "crayon", "wash"):
        assert contrast(found[pen], found["paper"]) >= 3, pen
    assert contrast(found["ink"], found["lit"]) >= 3


@pytest.mark.parametrize("picture", PICTURES, ids=lambda one: one.id)
def test_every_look_is_in_the_style_sheet(picture: Picture) -> None:
    """Each class of a drawing has a rule; labels alone look as all text does."""
    known = set(re.findall(r"\.picture \.([a-z-]+)", CSS)) | {"picture", "label"}
    used = {name for one in drawn(picture).iter() for name in one.get("class", "").split()}

    assert used <= known


@pytest.mark.parametrize("picture", PICTURES, ids=lambda one: one.id)
def test_every_picture_has_words_and_numbers(picture: Picture) -> None:
    """A picture has a name, a description in sentences, and a table whose rows are whole."""
    root = drawn(picture)
    named = {one.get("id"): one.text for one in root if one.tag in {f"{SVG}title", f"{SVG}desc"}}

    assert root.get("role") == "img"
    assert named[root.get("aria-labelledby")] == picture.title
    assert named[root.get("aria-describedby")] == picture.alt
    assert picture.alt.endswith(".")
    assert picture.table.rows
    assert {len(row) for row in picture.table.rows} == {len(picture.table.headers)}


@pytest.mark.parametrize("picture", PICTURES, ids=lambda one: one.id)
def test_drawing_stays_on_its_paper(picture: Picture) -> None:
    """Everything lies within the view box, whose width is that of a small phone."""
    root = drawn(picture)
    assert root.get("viewBox") == f"0 0 {WIDTH} {picture.height:g}"
    for text in root.iter(f"{SVG}text"):
        length = 7.3 * len(text.text or "")
        x = float(text.get("x", "0"))
        left = {"": x, "middle": x - length / 2, "end": x - length}[text.get("text-anchor", "")]
        assert left >= -1, text.text
        assert left + length <= WIDTH + 1, text.text
        assert 8 <= float(text.get("y", "0")) <= picture.height


def test_failure_is_never_told_by_colour_alone() -> None:
    """What is missing is hatched and called so; what failed is a cross with a word."""
    short = timing.draw(gallery.BUDGETS[0])
    assert "url(#" in short.svg
    assert "missing" in short.svg
    told = story.draw(gallery.ENTRIES)
    assert "cross" in told.svg
    assert "failed" in told.svg


def test_letters_are_large_enough_on_a_small_phone() -> None:
    """On a screen of 360 pixels with the sheet's margins, letters are 11 pixels high at least."""
    size = re.search(r"\.picture text \{[^}]*font-size: (\d+)px", CSS)
    margins = re.search(r"\.sheet \{[^}]*padding: [\d.]+rem ([\d.]+)rem", stylesheet("sheet.css"))
    assert size is not None
    assert margins is not None
    assert int(size[1]) * (360 - 2 * 16 * float(margins[1])) / WIDTH >= 11
