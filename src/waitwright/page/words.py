"""What the page calls things."""

from __future__ import annotations

from datetime import datetime

ROOMS = (
    ("/", "Bench"),
    ("/trial", "Next trial"),
    ("/margins", "Margins"),
    ("/why", "What if"),
    ("/fastest", "Fastest"),
    ("/spares", "Spares"),
    ("/suspects", "Suspects"),
    ("/logbook", "Logbook"),
)
"""Address and name of every page, in the order of the bar."""

SYMPTOMS = {
    "no-start": "does not start",
    "hang": "hangs",
    "reboot": "restarts by itself",
    "memory-error": "memory error",
    "display-artefact": "marks on the screen",
    "disk-error": "disk error",
    "sound-fault": "sound breaks up",
    "port-error": "port error",
}

OUTCOMES = {"stable": "held", "failed": "failed", "withdrawn": "withdrawn", "noted": "noted"}


def symptom(name: str) -> str:
    """How a failure looked, as people say it."""
    return SYMPTOMS.get(name, name.replace("-", " "))


def when(time: str) -> str:
    """A time of the logbook as people write it: ``25 Nov 2026, 18:05``."""
    return f"{datetime.fromisoformat(time):%d %b %Y, %H:%M}".lstrip("0")


def hours(length: float) -> str:
    """``4 hours``, ``1 hour``, ``30 minutes``."""
    if 0 < length < 1:
        minutes = round(60 * length)
        return f"{minutes} minute{'' if minutes == 1 else 's'}"
    return f"{length:g} hour{'' if length == 1 else 's'}"
