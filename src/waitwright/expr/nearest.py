"""The names that somebody may have meant."""

from __future__ import annotations

from collections.abc import Iterable


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """`` (did you mean 'x' or 'y'?)`` with the closest of *known*, or nothing when none is close."""
    from difflib import get_close_matches  # only where something is wrong already

    close = get_close_matches(word[:100], sorted(set(known)), n=3, cutoff=0.6)
    return f" (did you mean {' or '.join(map(repr, close))}?)" if close else ""
