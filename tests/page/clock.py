"""A time that stands still."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

NOW = datetime(2026, 3, 1, 21, 40, tzinfo=timezone(timedelta(hours=1)))
