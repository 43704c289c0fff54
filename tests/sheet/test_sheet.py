"""The sheet: one file that needs nothing else, with everything on it."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests import gallery
from tests.golden import Golden

from waitwright import __version__
from waitwright.explain.figures import signed_percent
from waitwright.report.html.sheet import plates_of, render_sheet
from waitwright.report.sheet_view import SheetView

EMPTY = {"meta", "input", "br", "link", "img", "hr"}


class Reader(HTMLParser):
    """Elements with their attributes, texts, and whether every element was closed in order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self._open: list[str] = []
        self.feed(text)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Take down an element."""
        self.elements.append((tag, dict(attrs)))
        if tag not in EMPTY:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Take down an element that holds nothing."""
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        """See that what ends is what began last."""
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Take down a text."""
        self.texts.append(data)

    @property
    def text(self) -> str:
        """All words, without the spaces of the markup."""
        return " ".join(" ".join(self.texts).split())

    def named(self, tag: str) -> list[dict[str, str | None]]:
        """Attributes of every element *tag*."""
        return [attributes for name, attributes in self.elements if name == tag]


def test_sheet_is_as_approved(golden: Golden) -> None:
    """The sheet of the attic machine is that of the golden file, but for the version and the looks."""
    shown = render_sheet(gallery.sheet()).replace(f"waitwright {__version__}", "waitwright VERSION")
    shown = re.sub(r"<style>.*?</style>", "<style>LOOKS</style>", shown, flags=re.DOTALL)

    golden.same("sheet.html", re.sub(r"\n\s*\n+", "\n", shown))


def test_sheet_needs_nothing_from_elsewhere() -> None:
    """There is no script, no handler, no inline style, and no address but that of the SVG name space."""
    text = render_sheet(gallery.sheet())
    page = Reader(text)

    assert not page.named("script")
    assert not page.named("link")
    assert not page.named("img")
    for _, attributes in page.elements:
        assert not [name for name in attributes if name.startswith("on") or name in {"style", "src", "href"}]
    assert set(re.findall(r"[a-z]+://[^\s\"'<)]+", text)) == {"http://www.w3.org/2000/svg"}
    assert "@import" not in text
    assert set(re.findall(r"url\(([^)]*)\)", text)) <= {f"#{one}" for one in ids(page)}


def ids(page: Reader) -> list[str]:
    """All identifiers."""
    return [attributes["id"] or "" for _, attributes in page.elements if "id" in attributes]


def test_identifiers_are_unique_and_references_resolve() -> None:
    """No identifier is used twice, and whatever names one names one that is there."""
    page = Reader(render_sheet(gallery.sheet()))
    known = Counter(ids(page))

    assert {name for name, count in known.items() if count > 1} == set()
    for _, attributes in page.elements:
        for name in ("aria-labelledby", "aria-describedby", "for"):
            if attributes.get(name):
                assert set((attributes[name] or "").split()) <= set(known)


def test_settings_are_a_list_to_tick_in_the_owners_order() -> None:
    """Every option has a box and its label, in the owner's order; changes are told in words as well."""
    page = Reader(render_sheet(gallery.sheet()))
    boxes = [one for one in page.named("input") if one.get("type") == "checkbox"]
    places = [page.text.index(setting.label) for setting in gallery.SETTINGS]

    assert len(boxes) == len(gallery.SETTINGS)
    assert places == sorted(places)
    assert "change: Rhythm of reads 2-2-2-2 was 3-2-2-2" in page.text
    assert "Oscillator jumper 33 MHz" in page.text
    assert "Pace of the slots slow set by the board itself" in page.text


def test_everything_is_on_the_sheet() -> None:
    """Machine, clocks, fit, reasons, what to watch, way back, cautions, logbook and suspects are there."""
    view = gallery.sheet()
    page = Reader(render_sheet(view))
    expected = [
        view.title,
        view.now.board,
        "33.33 MHz",
        "CPU socket: 386DX, 33 MHz",
        signed_percent(view.task.gain),
        *view.task.soak,
        *view.task.watch,
        *view.task.recover,
        *view.short,
        *(change.reason for change in view.task.changes),
        *(caution.text for caution in (*view.cautions, *view.measuring)),
        *view.next.lessons,
        *(suspect.title for suspect in view.suspects.suspects),
        *(event.title for event in view.shares.events),
        *(rule.title for rule in view.then.rules),
        *(score for entry in view.logbook.entries for score in entry.scores),
        'with "<fast>" memory & all',
        "supply ripple: 60 mV",
        "withdrawn",
        "Measure next: supply ripple",
    ]

    assert [text for text in expected if text not in page.text] == []


def test_every_picture_stands_with_its_numbers() -> None:
    """Each figure has a name, a drawing and a table."""
    view = gallery.sheet(then=gallery.check(budgets=gallery.BUDGETS * 3))
    plates = plates_of(view)
    figures = re.findall(r"<figure.*?</figure>", render_sheet(view), re.DOTALL)

    assert plates.rest is not None
    assert len(figures) == len(plates.on_desk) + 1
    assert all(part in one for one in figures for part in ("<figcaption>", "<svg", "<table>", "<caption>"))


def test_what_paper_has_no_room_for_is_on_the_screen() -> None:
    """The rows of the printed margin board and of the one below it are all rules, each once."""
    budgets = tuple(replace(one, id=f"{one.id}{i}") for i in range(5) for one in gallery.BUDGETS)
    view = gallery.sheet(then=gallery.check(budgets=budgets))
    plates = plates_of(view)
    shown = [plate.picture for plate in plates.on_desk if plate.picture.id == "board"]

    assert plates.rest is not None
    assert sum(len(picture.table.rows) for picture in (*shown, plates.rest)) == len(view.then.rules)


NASTY = st.one_of(
    st.text(max_size=60),
    st.sampled_from(
        ["<script>alert(1)</script>", "\"'><svg onload=x>", "</style></title>", "{{ 7*7 }}", "\x00\x1b&"]
    ),
)


@settings(max_examples=25)
@given(NASTY)
def test_labels_and_notes_are_text(label: str) -> None:
    """What the owner calls things or notes is shown as written; it adds no kind of element or attribute."""
    plain = Reader(render_sheet(named("plain")))
    page = Reader(render_sheet(named(label)))

    assert {name for name, _ in page.elements} <= {name for name, _ in plain.elements}
    assert {name for _, attributes in page.elements for name in attributes} <= {
        name for _, attributes in plain.elements for name in attributes
    }
    assert len(page.named("input")) == len(plain.named("input"))
    assert " ".join(label.split()) in page.text


def test_a_machine_in_doubt_prints_what_to_measure() -> None:
    """Paper tells of the next measurement, and of the care it takes, only where a suspect is likely."""
    view = gallery.sheet()
    doubts = tuple(replace(suspect, odds=0.01) for suspect in view.suspects.suspects)
    calm = replace(view, suspects=replace(view.suspects, suspects=doubts))

    def measured(view: SheetView) -> list[str | None]:
        sections = Reader(render_sheet(view)).named("section")
        return [one.get("class") for one in sections if one.get("aria-labelledby") == "measure"]

    assert measured(view) == ["measure"]
    assert measured(calm) == ["measure screen"]


def named(label: str) -> SheetView:
    """The attic machine with *label* wherever an owner has the word."""
    view = gallery.sheet()
    settings = tuple(replace(setting, label=label, choice_label=label) for setting in view.task.settings)
    changes = tuple(replace(change, label=label, origin_label=label) for change in view.task.changes)
    entries = tuple(replace(entry, note=label) for entry in view.logbook.entries)
    slots = tuple(replace(slot, title=label, now=label) for slot in view.slots)
    return replace(
        view,
        title=label,
        slots=slots,
        now=replace(view.now, board=label),
        task=replace(view.task, settings=settings, changes=changes, reason=label),
        logbook=replace(view.logbook, entries=entries),
    )


@pytest.mark.parametrize(
    ("kind", "told"),
    [
        ("trial", "Trial 7: enter these settings"),
        ("asked", "Enter the settings asked for"),
        ("proven", "The proven settings, to enter or to keep"),
    ],
)
def test_headline_says_what_the_settings_are(kind: str, told: str) -> None:
    """A trial has its number; other settings say what they are."""
    view = gallery.sheet()
    task = replace(view.task, kind=kind, number=7 if kind == "trial" else None)  # type: ignore[arg-type]

    assert told in Reader(render_sheet(replace(view, task=task))).text


def test_sheet_without_a_logbook_has_no_empty_table() -> None:
    """Where nothing was tried there is neither a logbook nor a story."""
    view = gallery.sheet()
    page = Reader(render_sheet(replace(view, logbook=replace(view.logbook, entries=()))))

    assert "Logbook" not in page.text
    assert "Gain over the trials" not in page.text


def test_a_long_story_is_cut_on_paper_only() -> None:
    """Of many trials paper has the last, the screen all."""
    entries = tuple(gallery.entry(number, number / 100, "stable") for number in range(1, 25))
    view = gallery.sheet()
    plates = plates_of(replace(view, logbook=replace(view.logbook, entries=entries)))
    paper = [plate for plate in plates.on_desk if plate.where == "paper"]
    screen = [plate for plate in plates.on_desk if plate.where == "screen" and "whole" in plate.picture.id]

    assert len(paper[0].picture.table.rows) == plates.cut.trials
    assert len(screen[0].picture.table.rows) == len(entries)
