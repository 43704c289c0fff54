"""The soak test: the long run under load that settings have to pass before anybody trusts them."""

from __future__ import annotations

DEFAULT_SOAK_HOURS = 4.0
"""How long it is unless the user says otherwise (common practice: an evening)."""
