"""The same machine is judged by several tests; its best settings are worked out once."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.swap.memory import remembered


@pytest.fixture(autouse=True)
def _judged_once() -> Iterator[None]:
    with remembered():
        yield
