"""The workshop, with one rulebook for all tests."""

from __future__ import annotations

import pytest

from waitwright.rulebook.load import load_rulebook

from .shop import Shop


@pytest.fixture(scope="session")
def shop() -> Shop:
    """The packed rulebook and machines."""
    return Shop(load_rulebook())
