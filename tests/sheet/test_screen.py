"""The sheet on screens, shown by a real browser."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from tests.sheet.test_paper import busy

from waitwright.report.html.sheet import render_sheet

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

PHONE, DESK = 360, 1280


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Where the sheet of a busy machine is."""
    path: Path = tmp_path_factory.mktemp("screen") / "sheet.html"
    path.write_text(render_sheet(busy()), "utf-8")
    return path.as_uri()


@pytest.fixture(params=[PHONE, DESK])
def page(browser: Browser, address: str, request: pytest.FixtureRequest) -> Iterator[Page]:
    """The sheet on a phone and on a desk; nothing may complain or reach for anything else."""
    opened = browser.new_page(viewport={"width": request.param, "height": 800})
    complaints: list[str] = []
    opened.on("console", lambda message: complaints.append(message.text))
    opened.on("pageerror", lambda error: complaints.append(str(error)))
    opened.on("request", lambda asked: complaints.append(asked.url) if asked.url != address else None)
    opened.goto(address)
    yield opened
    opened.close()
    assert complaints == []


def test_nothing_has_to_be_pushed_sideways(page: Page) -> None:
    """The sheet is no wider than the screen; only tables scroll by themselves."""
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_letters_in_pictures_can_be_read(page: Page) -> None:
    """No letter in a picture is lower than 11 pixels, nor higher than 18."""
    sizes = page.evaluate(
        """[...document.querySelectorAll("figure:not(.paper) svg")]
           .filter(svg => svg.getBoundingClientRect().width)
           .map(svg => 12 * svg.getBoundingClientRect().width / svg.viewBox.baseVal.width)"""
    )

    assert sizes
    assert 11 <= min(sizes) <= max(sizes) <= 18


def test_words_in_pictures_stay_in_their_picture(page: Page) -> None:
    """With the fonts of this machine no word leaves its drawing by more than a hair."""
    outside = page.evaluate(
        """[...document.querySelectorAll("svg.picture text")].filter(text => {
             const box = text.ownerSVGElement.viewBox.baseVal, own = text.getBBox();
             return own.width && (own.x < -3 || own.x + own.width > box.width + 3);
           }).map(text => text.textContent)"""
    )

    assert outside == []


def test_settings_can_be_ticked_by_touching_their_line(page: Page) -> None:
    """Each line of settings is as high as a finger needs, and a touch anywhere on it ticks the box."""
    line = page.locator(".ticks label").first
    box = line.bounding_box()
    assert box is not None
    assert box["height"] >= 24  # WCAG 2.2, 2.5.8

    line.locator(".choice").click()
    assert line.locator("input").is_checked()


def test_what_is_for_paper_is_not_on_the_screen(page: Page) -> None:
    """The form for the outcome is printed only, and what paper has no room for is on the screen."""
    assert not page.locator(".outcome").is_visible()
    assert page.get_by_text("All other margins").first.is_visible()
    page.emulate_media(media="print")
    assert page.locator(".outcome").is_visible()
    assert not page.get_by_text("All other margins").first.is_visible()
