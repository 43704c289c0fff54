"""The page in a real browser: a whole story, two windows, no script, phone and desk, light and dark."""

from __future__ import annotations

import subprocess
import sys
import threading
from collections.abc import Callable
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from tests.page.kit import PAGES, Bench, Watch, settled, until, visit

from waitwright.api.new import copy_packed
from waitwright.api.opening import Question
from waitwright.api.swap import swap
from waitwright.report.swap_views import SwapsView
from waitwright.trials.logbook import Trial
from waitwright.trials.store import LogbookStore

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page


WHAT_IF = "/why?set=cache-read%3D2-1-1-1&set=isa-clock%3Dclk2-4"


def trials(bench: Bench) -> tuple[Trial, ...]:
    """What the logbook holds."""
    return LogbookStore.beside(bench.profile).read().trials


def held(page: Page) -> None:
    """Tap that the trial held, and wait for the next."""
    page.get_by_role("button", name="It held").click()
    page.wait_for_url("**/trial?told=*")
    settled(page)


def failed(page: Page, *symptoms: str, hours: str) -> None:
    """Tap that the trial failed, and how."""
    page.locator("#hours").fill(hours)
    page.get_by_text("It failed", exact=True).click()
    for symptom in symptoms:
        page.get_by_label(symptom).check()
    page.get_by_role("button", name="Record the failure").click()
    page.wait_for_url("**/trial?told=*")
    settled(page)


def test_a_whole_story(own: Bench, context: BrowserContext) -> None:
    """From an empty logbook, four trials, a failure and a reading lead to faster, proven settings."""
    watch, page = Watch().over(context), context.new_page()
    visit(page, own, "/")
    page.get_by_role("link", name="next trial").first.click()
    settled(page)
    assert page.locator("h1").inner_text().startswith("Trial 1")
    page.locator(".ticklist input").first.check()

    held(page)
    assert page.locator(".slip h2").inner_text() == "Trial 1: held"

    failed(page, "memory error", "hangs", hours="0,5")
    assert "most likely due to" in page.locator(".slip").inner_text()

    page.get_by_text("Score, reading, repair, note").click()
    page.locator("#score").fill("36.1")
    page.locator("#unit").fill("points")
    page.locator("#note").fill("case closed")
    held(page)

    visit(page, own, "/suspects")
    page.locator("#measure").select_option("cpu-ripple")
    page.locator("#value").fill("45")
    page.locator("#where").fill("at the socket")
    page.get_by_role("button", name="Record it").click()
    page.wait_for_url("**/trial?told=4")
    settled(page)
    assert page.locator(".slip h2").inner_text() == "Entry 4: noted"
    assert "at the socket: very good" in page.locator(".slip").inner_text()

    if page.get_by_role("button", name="It held").count():
        held(page)
    else:  # nothing is left to try: the proven settings once more, from what is asked about them
        page.get_by_role("link", name="Take them apart").first.click()
        settled(page)
        page.get_by_text("Tried it?").click()
        held(page)

    visit(page, own, "/")
    told = page.locator("section", has=page.get_by_role("heading", name="Proven settings")).inner_text()
    book = trials(own)
    assert [trial.outcome for trial in book] == ["stable", "failed", "stable", "stable"]
    assert book[1].symptoms == ("hang", "memory-error") and float(book[1].hours or 0) == 0.5
    assert book[2].scores[0].unit == "points" and book[2].note == "case closed"
    noted = LogbookStore.beside(own.profile).read().entries[3]
    assert [(one.name, one.where) for one in noted.readings] == [("cpu-ripple", "at the socket")]
    assert "+0.0 %" not in told
    assert "4" in told
    visit(page, own, "/logbook")
    assert page.locator(".book > li").count() == 5
    assert not watch.complaints() and not watch.outside(own)


def test_the_last_trial_can_be_taken_back(own: Bench, context: BrowserContext) -> None:
    """What was recorded by mistake is taken back with one tap, and stays in the book, struck out."""
    page = context.new_page()
    visit(page, own, "/trial")
    held(page)
    page.get_by_role("button", name="Take it back").click()
    page.wait_for_url("**/logbook")

    assert page.locator(".book .withdrawn").count() == 1
    assert [trial.withdrawn for trial in trials(own)] == [True]


def test_two_windows(own: Bench, context: BrowserContext) -> None:
    """What one window records shows in the other by itself; what is half typed there is not lost."""
    here, there = context.new_page(), context.new_page()
    visit(here, own, "/trial")
    visit(there, own, "/logbook")
    assert "Nothing counts yet" in there.locator("main").inner_text()
    held(here)
    there.wait_for_selector(".book > li")

    visit(there, own, "/trial")
    there.get_by_text("Score, reading, repair, note").click()
    there.locator("#note").fill("half a thou")
    before = there.locator("h1").inner_text()
    held(here)
    there.wait_for_selector("#news:not([hidden])")
    assert there.locator("#note").input_value() == "half a thou"
    assert there.locator("h1").inner_text() == before

    there.get_by_role("button", name="It held").click()
    there.wait_for_selector("#problems")
    assert "the logbook has changed meanwhile" in there.locator(".problems").inner_text()
    assert there.locator("#note").input_value() == "half a thou"
    assert len(trials(own)) == 2


def test_a_record_on_the_command_line_shows(own: Bench, context: BrowserContext) -> None:
    """What another program puts into the logbook shows in an open page."""
    page = context.new_page()
    visit(page, own, "/trial")
    visit(page, own, "/logbook")
    done = subprocess.run(
        [sys.executable, "-m", "waitwright", "record", str(own.profile), "stable", "--note", "by hand"],
        check=False,
        capture_output=True,
    )
    assert done.returncode == 0, done.stderr

    page.wait_for_selector(".book > li")
    assert "by hand" in page.locator(".book").inner_text()


def test_everything_works_without_a_script(own: Bench, browser: Browser) -> None:
    """With scripts off a trial is planned, recorded, looked up, taken back, and settings are asked about."""
    context = browser.new_context(java_script_enabled=False, viewport={"width": 360, "height": 740})
    context.set_default_timeout(30_000)
    page = context.new_page()

    def go(path: str) -> None:
        page.goto(own.url + path)
        wait = page.get_by_role("link", name="Wait for it here")
        if wait.count():
            wait.click()

    go("/trial")
    page.get_by_text("It failed", exact=True).click()
    page.get_by_label("hangs").check()
    page.get_by_role("button", name="Record the failure").click()
    wait = page.get_by_role("link", name="Wait for it here")
    if wait.count():
        wait.click()
    assert trials(own)[0].symptoms == ("hang",)
    go("/why")
    page.get_by_label("Cache read rhythm").select_option(label="2-1-1-1")
    page.get_by_role("button", name="Show").click()
    if wait.count():
        wait.click()
    assert "do not hold" in page.locator("#answer").inner_text()
    go("/fastest?exactly=99.5&fix=host-clock")
    assert "99.5 %" in page.locator("output").inner_text()
    assert page.locator(".results > li").count() >= 1
    go("/logbook")
    page.get_by_role("button", name="Take back trial 1").click()
    assert page.locator(".withdrawn").count() == 1
    context.close()


def test_what_if_answers_in_place(bench: Bench, context: BrowserContext) -> None:
    """Each choice shows its effect without a new page, and the address can be kept."""
    watch, page = Watch().over(context), context.new_page()
    visit(page, bench, "/why")
    page.evaluate("window.same = true")
    page.get_by_label("Cache read rhythm").select_option(label="2-1-1-1")
    until(page, "document.querySelector('#gist').textContent.includes('falls short')")
    page.get_by_text("Parts", exact=True).click()
    page.get_by_label("tag chip socket").select_option("tag=sram-32kx8-15")
    until(page, "document.querySelector('#gist').textContent.includes('holds')")

    assert page.evaluate("window.same") is True
    assert "Cache read rhythm" in page.locator("#answer").inner_text()
    address = page.url
    page.goto(address)
    settled(page)
    assert page.get_by_label("tag chip socket").input_value() == "tag=sram-32kx8-15"
    assert not watch.complaints() and not watch.outside(bench)


def test_a_bad_choice_is_told_in_full(bench: Bench, context: BrowserContext) -> None:
    """Where a what-if cannot be, the page says why in one line."""
    page = context.new_page()
    visit(page, bench, "/why")
    page.get_by_text("Parts", exact=True).click()
    page.get_by_label("CPU socket").select_option(label="empty")
    page.wait_for_selector(".problems")

    assert "without a CPU there is no timing" in page.locator(".problems").inner_text()


def test_work_in_progress_shows(own: Bench, context: BrowserContext, monkeypatch: pytest.MonkeyPatch) -> None:
    """A long search shows at once that it is at work, and then its answer, while other pages answer."""
    go_on = threading.Event()

    def long_swap(question: Question, *, told: Callable[[int, int], None], **wishes: Any) -> SwapsView:
        """The real answer, as late as the test wants it."""
        told(1, 3)
        assert go_on.wait(60)
        return swap(question, told=told, **wishes)

    monkeypatch.setattr("waitwright.page.asking.swap", long_swap)
    page, other = context.new_page(), context.new_page()
    page.goto(f"{own.url}/spares?odds=91")
    page.wait_for_selector("#progress")
    until(page, "document.querySelector('#progress-shown').textContent.includes('1 of 3')")
    visit(other, own, "/margins")
    assert page.locator("#progress").count() == 1
    go_on.set()
    page.wait_for_selector(".results")


def test_a_packed_example_is_copied_first(
    serve: Callable[..., Bench], context: BrowserContext, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A packed machine offers a copy in the current folder, and the page goes on with that."""
    monkeypatch.chdir(tmp_path)
    bench = serve("tollgate-386dx33")
    page = context.new_page()
    visit(page, bench, "/trial")
    assert page.get_by_role("button", name="It held").count() == 0
    visit(page, bench, "/")
    page.get_by_role("button", name="Make a copy").click()
    page.wait_for_selector("h1")
    assert (tmp_path / "tollgate-386dx33.toml").is_file()
    assert page.get_by_role("button", name="Make a copy").count() == 0
    visit(page, bench, "/trial")
    held(page)
    assert (tmp_path / "tollgate-386dx33.logbook.toml").is_file()


def test_ticks_survive_a_reload(bench: Bench, context: BrowserContext) -> None:
    """What has been entered stays ticked off when the phone loads the page again."""
    page = context.new_page()
    visit(page, bench, "/trial")
    page.locator(".ticklist input").nth(2).check()
    page.reload()
    settled(page)

    assert page.locator(".ticklist input:checked").count() == 1
    assert page.locator(".ticklist input").nth(2).is_checked()


SIZES = {"phone": (360, 740), "desk": (1280, 900)}


@pytest.mark.parametrize("path", [*PAGES, WHAT_IF])
def test_every_page_fits(bench: Bench, context: BrowserContext, path: str) -> None:
    """No page is wider than its window, on a phone or a desk, by day or by night, or complains."""
    watch, page = Watch().over(context), context.new_page()
    visit(page, bench, path)
    for width, height in SIZES.values():
        page.set_viewport_size({"width": width, "height": height})
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wide <= 0, (path, width)
    for look, dark in (("light", False), ("dark", True)):
        page.emulate_media(color_scheme="dark" if dark else "light")
        paper = page.evaluate("getComputedStyle(document.body).backgroundColor")
        assert (sum(map(int, paper[4:-1].split(","))) < 300) == dark, look
    assert not watch.complaints() and not watch.outside(bench)


@pytest.mark.parametrize("path", [*PAGES, WHAT_IF, "/nothing"])
def test_the_accessibility_checker_finds_nothing(bench: Bench, context: BrowserContext, path: str) -> None:
    """By the rules of WCAG 2.2 AA that a program can check, no page fails, folds open, day and night."""
    axe = resources.files(pytest.importorskip("axe_playwright_python")) / "axe.min.js"
    page = context.new_page()
    page.goto(bench.url + path)
    settled(page)
    page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
    page.evaluate(axe.read_text("utf-8"))
    for look in ("light", "dark"):
        page.emulate_media(color_scheme="dark" if look == "dark" else "light")
        found = page.evaluate(
            """async tags => (await axe.run(document, {runOnly: tags})).violations.map(one =>
                one.id + ': ' + one.nodes.slice(0, 3).map(node => node.html.slice(0, 160)
                + ' ' + node.failureSummary.slice(0, 200)).join(' | '))""",
            ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"],
        )
        assert not found, (look, found)


def test_targets_are_thumb_sized(bench: Bench, context: BrowserContext) -> None:
    """Buttons, links of the bar, ticks, fields and folds are at least 44 pixels high."""
    page = context.new_page()
    for path in ("/trial", "/suspects", "/fastest", "/why", "/"):
        visit(page, bench, path)
        small = page.evaluate(
            """() => [...document.querySelectorAll(
                'button, .button, nav a, label.tick, select, main input:not([type=hidden]), main summary')]
              .filter(one => one.checkVisibility() && !one.closest('.numbers'))
              .map(one => [one.closest('label.tick') || one, one])
              .filter(([box]) => box.getBoundingClientRect().height < 43.5)
              .map(([box, one]) => one.outerHTML.slice(0, 80))"""
        )
        assert not small, (path, small)


def test_the_keyboard_is_enough(own: Bench, context: BrowserContext) -> None:
    """With the keyboard alone one skips to the content, opens the failure, ticks a symptom and records it."""
    page = context.new_page()
    visit(page, own, "/trial")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the content"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.matches('summary.failed')"):
            break
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.matches('button.failed')"):
            break
    page.keyboard.press("Enter")
    page.wait_for_url("**/trial?told=1")

    assert trials(own)[0].symptoms == ("no-start",)


def test_another_machine_shows_as_well(
    serve: Callable[..., Bench], context: BrowserContext, tmp_path: Path
) -> None:
    """A machine with a local bus and drives shows all its pages without complaint."""
    bench = serve(copy_packed("tollgate-486dx2", tmp_path / "other.toml"))
    watch, page = Watch().over(context), context.new_page()
    for path in ("/", "/trial", "/margins", "/why", "/fastest", "/suspects", "/logbook"):
        visit(page, bench, path)
    assert not watch.complaints()
