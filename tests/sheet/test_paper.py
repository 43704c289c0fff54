"""The sheet on paper, printed by a real browser."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from itertools import permutations
from pathlib import Path

import pytest
from pypdf import PdfReader
from tests import gallery

from waitwright._resources import packed_names
from waitwright.api.opening import Question, open_machine
from waitwright.api.sheet import sheet
from waitwright.report.html.paper_fit import balanced
from waitwright.report.html.sheet import render_sheet
from waitwright.report.pictures.picture import Picture, Table
from waitwright.report.sheet_view import SheetView
from waitwright.report.views import ChangeView, SettingView
from waitwright.rulebook.load import load_rulebook

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
A4 = (595, 842)
"""Points, to the nearest."""

prints = pytest.mark.skipif(CHROMIUM is None, reason="needs a chromium to print with")


def printed(view: SheetView, folder: Path) -> list[str]:
    """The words on each page of the printed sheet, all of which must be A4."""
    page, paper = folder / "sheet.html", folder / "sheet.pdf"
    page.write_text(render_sheet(view), "utf-8")
    done = subprocess.run(
        [
            str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu",
            f"--user-data-dir={folder / 'profile'}",
            "--no-pdf-header-footer", f"--print-to-pdf={paper}", page.as_uri(),
        ],
        capture_output=True, check=False, timeout=120,
    )  # fmt: skip
    assert paper.exists(), done.stderr.decode()
    pages = PdfReader(paper).pages
    assert {(round(float(one.mediabox.width)), round(float(one.mediabox.height))) for one in pages} == {A4}
    return [" ".join(one.extract_text().split()) for one in pages]


def largest() -> str:
    """The packed machine with most settings."""
    book = load_rulebook()
    return max(packed_names("machines"), key=lambda name: (len(open_machine(name, book).options), name))


def most_tried() -> str:
    """The packed machine with the most trials in its logbook."""
    book = load_rulebook()
    return max(
        packed_names("machines"),
        key=lambda name: (len(open_machine(name, book).profile.history.trials), name),
    )


@prints
@pytest.mark.parametrize("which", [largest, most_tried])
def test_packed_machines_take_two_pages(which: Callable[[], str], tmp_path: Path) -> None:
    """The largest sheets of packed machines are small and print on two A4 pages, settings on the first."""
    view = sheet(Question(which()), now=datetime(2026, 3, 8, 21, 40, tzinfo=UTC))
    pages = printed(view, tmp_path)

    assert len(render_sheet(view).encode()) < 400_000
    assert len(pages) == 2
    assert "How it went" in pages[0]
    assert "Take care" in pages[0]
    assert "Where the nanoseconds go" in pages[1]


def busy() -> SheetView:
    """A machine of many options and changes, with a long logbook full of notes, in doubt."""
    view = gallery.sheet()
    settings = tuple(
        SettingView(f"o{i}", "a", f"Clocks of bus cycle {i}", f"{i} clocks of it", "setup") for i in range(36)
    )
    changes = tuple(
        ChangeView(
            f"o{i}", "b", "a", settings[i].label, "half a clock", settings[i].choice_label, "setup", 0.01,
            "Buys 1.2 %. Leaves 'Memory: CAS precharge between two accesses' 2 ns (before: 47 ns).",
        )
        for i in range(16)
    )  # fmt: skip
    entries = tuple(
        gallery.entry(i, i / 100, "failed" if i % 3 else "stable", *(("memory-error",) if i % 3 else ()),
                      note="A long note on what was seen, heard and smelt on this evening. " * 4)
        for i in range(1, 26)
    )  # fmt: skip
    return replace(
        view,
        task=replace(view.task, settings=settings, changes=changes),
        logbook=replace(view.logbook, entries=entries),
        short=("At a host clock of 33.33 MHz, 13.5 ns are left in 'Cache write'; it needs 20 ns. " * 2,) * 9,
        then=gallery.check(budgets=gallery.BUDGETS * 6),
    )


@prints
def test_a_busy_machine_takes_two_pages(tmp_path: Path) -> None:
    """Many options, changes, trials and long notes are cut for paper so that two pages hold them."""
    pages = printed(busy(), tmp_path)

    assert len(render_sheet(busy()).encode()) < 400_000
    assert len(pages) == 2
    assert "35 clocks of it" in pages[0]
    assert "lesser changes" in pages[0]
    assert "Logbook" in pages[1]
    assert "Take care when you measure" in pages[1]


def plates(*heights: float) -> list[Picture]:
    """Pictures of some heights."""
    return [
        Picture(str(place), "a", "", "", height, Table("", (), ())) for place, height in enumerate(heights)
    ]


def columns(pictures: list[Picture]) -> Iterator[float]:
    """The longer column for every break of *pictures* in their order."""
    heights = [3.75 + 5.5 + picture.height for picture in pictures]
    for place in range(len(heights) + 1):
        yield max(sum(heights[:place]), sum(heights[place:]))


@pytest.mark.parametrize("heights", [(10,), (10, 20), (80, 10, 10, 60, 5), (5, 5, 90, 5, 30, 31)])
def test_pictures_are_shared_by_two_columns_as_well_as_can_be(heights: tuple[float, ...]) -> None:
    """No other order that begins with the same picture makes the longer column shorter."""
    found = plates(*heights)
    order, longer = balanced(found, 1.0)
    best = min(min(columns([found[0], *rest])) for rest in permutations(found[1:]))

    assert order[0] is found[0]
    assert sorted(order, key=lambda one: one.id) == found
    assert longer == pytest.approx(best)
    assert min(columns(list(order))) == pytest.approx(best)
