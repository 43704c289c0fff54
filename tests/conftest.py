"""Settings for all tests."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

from tests.golden import Golden

if TYPE_CHECKING:
    from playwright.sync_api import Browser

_CHROMIUM = ("chromium", "chromium-browser", "google-chrome")

# The same examples in every run and on every machine, and no verdict that depends on how busy it is.
settings.register_profile(
    "repeatable", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("repeatable")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the switch that approves golden files."""
    parser.addoption("--approve", action="store_true", help="Write the golden files anew.")


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> Golden:
    """Compares with golden files, or writes them where that was asked for."""
    return Golden(approve=bool(request.config.getoption("--approve")))


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """The system's Chromium, without a window.

    It goes with its module: its driver keeps an event loop running, and no other can run beside that.
    """
    pytest.importorskip("playwright", reason="playwright is not installed")
    path = next(filter(None, map(shutil.which, _CHROMIUM)), None)
    if path is None:
        pytest.skip("no Chromium on this machine")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        found = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield found
        found.close()
