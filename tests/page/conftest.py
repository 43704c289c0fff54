"""A bench that is served, with and without a browser before it."""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from tests.page.kit import Bench

from waitwright.api.new import copy_packed
from waitwright.api.opening import Question
from waitwright.page.desk import Desk
from waitwright.page.door import Door
from waitwright.page.serving import open_place, server_for

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext

OLD = "tollgate-386dx33"


@pytest.fixture
def profile(tmp_path: Path) -> Path:
    """A machine of one's own, without any trial."""
    return copy_packed(OLD, tmp_path / "bench.toml")


@pytest.fixture(scope="module")
def serve() -> Iterator[Callable[..., Bench]]:
    """Serves a machine on a port of its own, for as long as the tests of a file run."""
    stops: list[Callable[[], None]] = []

    def start(machine: str | Path, door: Door | None = None) -> Bench:
        place = open_place(0, lan=False)
        door = door or Door()
        desk = Desk(Question(str(machine)))
        server = server_for(desk, door, place)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [place.listener]})
        thread.start()

        def stop() -> None:
            server.handle_exit(signal.SIGTERM, None)
            thread.join(20)
            assert not thread.is_alive(), "the server does not end"

        stops.append(stop)
        until = time.monotonic() + 20
        while not server.started:
            assert time.monotonic() < until and thread.is_alive(), "the server does not start"
            time.sleep(0.01)
        return Bench(place.url.rstrip("/"), f"{place.address}:{place.port}", door, desk, Path(machine))

    yield start
    for stop in stops:
        stop()


@pytest.fixture(scope="module")
def bench(serve: Callable[..., Bench], tmp_path_factory: pytest.TempPathFactory) -> Bench:
    """A machine without any trial, to look at: all tests of a file share it, and none records anything."""
    return serve(copy_packed(OLD, tmp_path_factory.mktemp("bench") / "bench.toml"))


@pytest.fixture
def own(serve: Callable[..., Bench], profile: Path) -> Bench:
    """A machine of the test's own, served."""
    return serve(profile)


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    """A phone beside the machine."""
    made = browser.new_context(viewport={"width": 360, "height": 740})
    made.set_default_timeout(90_000)  # where many tests share few cores
    yield made
    made.close()
