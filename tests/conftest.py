"""Settings for all tests."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

# The same examples in every run and on every machine, and no verdict that depends on how busy it is.
settings.register_profile(
    "repeatable", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("repeatable")
