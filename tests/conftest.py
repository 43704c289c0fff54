"""Settings for all tests."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, settings

from tests.golden import Golden

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
