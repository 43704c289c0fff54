"""Labels of any kind are text in the drawing, never a part of it."""

from __future__ import annotations

from dataclasses import replace
from xml.etree.ElementTree import Element

from hypothesis import given
from hypothesis import strategies as st
from tests import gallery
from tests.pictures.reading import SVG, drawn

from waitwright.report.pictures import board, shares, story, suspects, timing, tradeoff
from waitwright.report.pictures.canvas import clean, identifier, wrapped
from waitwright.report.pictures.picture import Picture

NASTY = st.one_of(
    st.text(max_size=80),
    st.sampled_from([
        "<script>alert(1)</script>",
        "\"><svg onload='x'>",
        "</title></svg><img src=x>",
        "a & b < c > d ' \" `",
        "\x00\x0b\x1b[31m\ufffe",
        "]]><!--",
        "&lt;b&gt; &#x3c;",
        "\ud800",
        "{{ 7 * 7 }} {% raw %}",
    ]),
)  # fmt: skip
PLAIN = {f"{SVG}{name}" for name in (
    "svg", "title", "desc", "defs", "pattern", "line", "rect", "circle", "polyline", "polygon", "text"
)}  # fmt: skip


def sound(picture: Picture) -> Element:
    """The drawing of *picture*, of plain shapes only, without a handler or a style of its own."""
    root = drawn(picture)
    for one in root.iter():
        assert one.tag in PLAIN
        assert not {name for name in one.attrib if name.startswith("on") or name in {"style", "href"}}
    return root


@given(NASTY, NASTY)
def test_labels_of_budgets_stay_text(title: str, name: str) -> None:
    """Titles and names of delays, clocks and rules come out as they went in, on one line."""
    budget = gallery.budget("x", 60.0, (20.0, 50.0), title=title, clock=name)
    budget = replace(budget, delays=tuple(replace(line, name=name) for line in budget.delays))
    for picture in (timing.draw(budget), board.draw([budget])):
        root = sound(picture)
        assert (root.findtext(f"{SVG}desc") or "") == clean(picture.alt)
    assert (drawn(timing.draw(budget)).findtext(f"{SVG}title") or "") == clean(title)


@given(NASTY)
def test_labels_of_all_other_pictures_stay_text(label: str) -> None:
    """Titles of suspects and events, and symptoms, are text."""
    doubt = replace(gallery.SUSPECTS.suspects[0], title=label)
    event = replace(gallery.SHARES.events[0], title=label)
    failed = gallery.entry(1, 0.2, "failed", label[:12])

    sound(suspects.draw([doubt], 0.5))
    sound(shares.draw(replace(gallery.SHARES, title=label, events=(event,))))
    sound(story.draw([failed]))
    sound(tradeoff.draw(gallery.CURVE, gallery.MARKS))


def test_a_script_in_a_label_is_shown_as_written() -> None:
    """A label that looks like markup is drawn letter by letter."""
    budget = gallery.budget("x", 60.0, (20.0,), title="<script>alert(1)</script>")

    assert "<script" not in timing.draw(budget).svg
    assert "&lt;script&gt;" in timing.draw(budget).svg


@given(NASTY)
def test_identifiers_are_identifiers(word: str) -> None:
    """Whatever the words, an identifier begins with a letter and holds nothing that needs an escape."""
    made = identifier("", word, "l2.read@isa-2")

    assert made[0].isalpha()
    assert all(letter.isascii() and (letter.isalnum() or letter in "-_") for letter in made)


@given(st.text(max_size=200), st.integers(4, 50), st.integers(1, 4))
def test_wrapped_lines_fit(text: str, room: int, most: int) -> None:
    """Wrapped lines are no longer than there is room for, and no more than asked for."""
    found = wrapped(text, room, most)

    assert len(found) <= most
    assert all(len(line) <= room for line in found)
    if len(clean(text)) <= room:
        assert " ".join(found) == clean(text)
