"""What the tests of the page share."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING

import httpx

from waitwright.page.desk import Desk
from waitwright.page.door import Door

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page

PAGES = (
    "/",
    "/trial",
    "/margins",
    "/margin?rule=l2.read.tag",
    "/why",
    "/fastest",
    "/spares",
    "/suspects",
    "/logbook",
)
"""An address of every page."""


@dataclass(frozen=True)
class Bench:
    """A bench that is served."""

    url: str
    host: str
    door: Door
    desk: Desk
    profile: Path

    @contextmanager
    def client(self) -> Iterator[httpx.Client]:
        """A browser without a window, a script, or patience for redirects; its session has begun."""
        with httpx.Client(base_url=self.url, timeout=120) as client:
            client.get("/bench.css")
            yield client

    def token(self, client: httpx.Client) -> str:
        """The token of *client*'s session."""
        return self.door.token(next(iter(client.cookies.values())))


def fields_of(html: str, action: str) -> dict[str, list[str]]:
    """The hidden fields of the form that goes to *action*."""
    form = re.search(rf'<form[^>]*action="{action}".*?</form>', html, re.DOTALL)
    assert form is not None, f"no form to {action}"
    found: dict[str, list[str]] = {}
    for name, value in re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)">', form[0]):
        found.setdefault(name, []).append(unescape(value))
    return found


def text_of(html: str) -> str:
    """The words on a page."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


@dataclass
class Watch:
    """Takes down what a browser says and where it goes."""

    said: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def over(self, context: BrowserContext) -> Watch:
        """Watch every page of *context*."""
        context.on("console", lambda message: self.said.append(f"{message.type}: {message.text}"))
        context.on("weberror", lambda error: self.said.append(f"error: {error.error}"))
        context.on("request", lambda request: self.asked.append(request.url))
        return self

    def complaints(self) -> list[str]:
        """Errors and warnings."""
        return [line for line in self.said if line.startswith(("error", "warning"))]

    def outside(self, bench: Bench) -> list[str]:
        """Requests that went anywhere else."""
        return [url for url in self.asked if not url.startswith((f"{bench.url}/", "data:", "about:"))]


def visit(page: Page, bench: Bench, path: str) -> None:
    """Go to a page and wait until its answer is there."""
    page.goto(bench.url + path)
    settled(page)


def settled(page: Page) -> None:
    """Wait until the answer is there: the page of work in progress gives way to it."""
    page.wait_for_selector("main h1")
    page.wait_for_selector("#progress", state="detached", timeout=90_000)


def until(page: Page, expression: str, seconds: float = 90) -> None:
    """Wait until *expression* is true; the page's policy keeps out the driver's own way of waiting."""
    end = time.monotonic() + seconds
    while not page.evaluate(expression):
        assert time.monotonic() < end, f"never true: {expression}"
        page.wait_for_timeout(50)
