"""The names that somebody may have meant, for messages about a name that is not known."""

from __future__ import annotations

from collections.abc import Iterable

MOST_WORTH_LISTING = 12
"""Up to so many names are all told where none is close."""


def nearest(word: str, known: Iterable[str], most: int = 3) -> tuple[str, ...]:
    """The *known* names closest to *word*, closest first, whatever their case; empty when none is close."""
    from difflib import get_close_matches  # only where something is wrong already

    names: dict[str, list[str]] = {}
    for name in sorted(set(known)):
        names.setdefault(name.lower(), []).append(name)
    close = get_close_matches(word[:100].lower(), names, n=most, cutoff=0.6)
    return tuple(name for lowered in close for name in names[lowered])[:most]


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A hint: the closest names, else all names where they are few, else nothing."""
    names = sorted(set(known))
    close = nearest(word, names)
    if close:
        return f"did you mean {' or '.join(repr(name) for name in close)}?"
    return f"known here: {', '.join(names)}" if 0 < len(names) <= MOST_WORTH_LISTING else ""


def hint_behind(word: str, known: Iterable[str]) -> str:
    """The hint of :func:`did_you_mean` as the end of a message, in brackets; nothing where there is none."""
    hint = did_you_mean(word, known)
    return f" ({hint})" if hint else ""
