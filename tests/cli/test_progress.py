"""The line that tells how far a long search has come."""

from __future__ import annotations

import io
from collections.abc import Callable
from types import SimpleNamespace

import pytest

from waitwright.cli import progress
from waitwright.cli.progress import PATIENCE_S, counting, searching


class Terminal(io.StringIO):
    """A terminal that remembers what was written."""

    def isatty(self) -> bool:
        """It is one."""
        return True

    @property
    def screen(self) -> str:
        """What stands on the line now: each carriage return goes back to its start, the rest overwrites."""
        line: list[str] = []
        for text in self.getvalue().split("\r"):
            line[: len(text)] = text
        return "".join(line).rstrip()


@pytest.fixture
def wait(monkeypatch: pytest.MonkeyPatch) -> Callable[[float], None]:
    """A clock that stands still; lets so many seconds pass.  The terminal is of common width."""
    monkeypatch.setenv("COLUMNS", "80")
    now = [100.0]
    monkeypatch.setattr(progress, "monotonic", lambda: now[0])

    def passing(seconds: float) -> None:
        now[0] += seconds

    return passing


def put_in(monkeypatch: pytest.MonkeyPatch, stream: io.StringIO) -> None:
    """Let *stream* be standard error for the progress line, whatever the test runner does to the real one."""
    monkeypatch.setattr(progress, "sys", SimpleNamespace(stderr=stream))


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> Terminal:
    """Standard error as a terminal."""
    fake = Terminal()
    put_in(monkeypatch, fake)
    return fake


def test_a_search_tells_share_and_proof(terminal: Terminal, wait: Callable[[float], None]) -> None:
    """The share that is opened and the proven bound of the rest stand on one line, gone at the end."""
    with searching() as observer:
        wait(PATIENCE_S)
        observer.opened(3, 12)
        assert terminal.screen == "searching: 25 % of 12 branches opened"
        observer.bound(41_256_000)
        assert terminal.screen.endswith("25 % of 12 branches opened; the rest takes 41.26 us or more")
        observer.opened(6, 12)
        assert terminal.screen == "searching: 50 % of 12 branches opened; the rest takes 41.26 us or more"

    assert terminal.screen == ""
    assert "\n" not in terminal.getvalue()


def test_a_shorter_text_leaves_nothing_of_the_longer(
    terminal: Terminal, wait: Callable[[float], None]
) -> None:
    """What is written over a longer text covers all of it."""
    with counting("judging") as told:
        wait(PATIENCE_S)
        told(10, 1000)
        told(2, 7)
        assert terminal.screen == "judging: 2 of 7"


@pytest.mark.parametrize("error", [ValueError("broken"), KeyboardInterrupt()])
def test_the_line_goes_however_it_ends(
    error: BaseException, terminal: Terminal, wait: Callable[[float], None]
) -> None:
    """An error or an interruption leaves no remains of the line before its own message."""

    def search() -> None:
        with searching() as observer:
            wait(PATIENCE_S)
            observer.opened(1, 2)
            raise error

    def count() -> None:
        with counting("judging") as told:
            wait(PATIENCE_S)
            told(1, 2)
            raise error

    for run in (search, count):
        with pytest.raises(type(error)):
            run()

    assert "searching" in terminal.getvalue() and "judging" in terminal.getvalue()
    assert terminal.screen == ""


def test_a_narrow_terminal_gets_what_fits(
    terminal: Terminal, wait: Callable[[float], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The text is cut to one line, since a second one would stay behind."""
    monkeypatch.setenv("COLUMNS", "20")
    with counting("judging exchanges") as told:
        wait(PATIENCE_S)
        told(10, 1000)
        assert terminal.screen == "judging exchanges:"

    assert terminal.screen == ""


def test_short_searches_are_silent(terminal: Terminal, wait: Callable[[float], None]) -> None:
    """Before the user has waited for a while, nothing is written at all."""
    with searching() as observer:
        wait(PATIENCE_S / 2)
        observer.opened(1, 2)
        observer.bound(1)

    assert terminal.getvalue() == ""


def test_no_terminal_no_line(monkeypatch: pytest.MonkeyPatch, wait: Callable[[float], None]) -> None:
    """A file or a pipe gets no progress, however long it takes."""
    stream = io.StringIO()
    put_in(monkeypatch, stream)

    with searching() as observer:
        wait(60)
        observer.opened(1, 2)

    assert stream.getvalue() == ""
