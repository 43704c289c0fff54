"""What one answer may mean: understood, understood in several ways, or not at all."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from string import ascii_lowercase
from typing import Generic, TypeVar

from waitwright.nearest import hint_behind

T = TypeVar("T")
U = TypeVar("U")
R_co = TypeVar("R_co", covariant=True)

MOST_SHOWN = 12
"""So many things are offered by letter at most; a longer list is only searched."""


@dataclass(frozen=True, slots=True)
class Taken(Generic[R_co]):
    """Understood; ``remarks`` are told to the owner."""

    value: R_co
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Refused:
    """Not understood, and why: one line."""

    reason: str


@dataclass(frozen=True, slots=True)
class Unclear(Generic[R_co]):
    """Understood in several ways; ``asks`` asks back, ``ways`` are the labels and what each stands for."""

    asks: str
    ways: tuple[tuple[str, Taken[R_co]], ...]


Reading = Taken[R_co] | Refused | Unclear[R_co]


def then(reading: Reading[T], step: Callable[[T], Reading[U]]) -> Reading[U]:
    """*reading* taken further by *step*; every way of an unclear one, without those that lead nowhere."""
    if isinstance(reading, Refused):
        return reading
    if isinstance(reading, Taken):
        return _with_remarks(step(reading.value), reading.remarks)
    ways, refusals = _told_apart(
        (label, _with_remarks(step(taken.value), taken.remarks)) for label, taken in reading.ways
    )
    if not ways:
        return refusals[0]
    return ways[0][1] if len(ways) == 1 and not refusals else Unclear(reading.asks, tuple(ways))


def _told_apart(
    ways: Iterable[tuple[str, Reading[T]]],
) -> tuple[list[tuple[str, Taken[T]]], list[Refused]]:
    """What may be meant by labelled *ways*, those of an unclear one behind its label; and what is refused."""
    able: list[tuple[str, Taken[T]]] = []
    refusals: list[Refused] = []
    for label, reading in ways:
        if isinstance(reading, Taken):
            able.append((label, reading))
        elif isinstance(reading, Unclear):
            able.extend((f"{label}, {inner}", one) for inner, one in reading.ways)
        else:
            refusals.append(reading)
    return able, refusals


def each(texts: Iterable[str], read: Callable[[str], Reading[T]]) -> Reading[tuple[T, ...]]:
    """What *read* makes of every one of *texts*, together; the first refusal counts for all."""
    together: Reading[tuple[T, ...]] = Taken(())
    for text in texts:
        together = _joined(together, read(text))
    return together


def _joined(before: Reading[tuple[T, ...]], one: Reading[T]) -> Reading[tuple[T, ...]]:
    return then(before, lambda done: then(one, lambda value: Taken((*done, value))))


def _with_remarks(reading: Reading[T], remarks: tuple[str, ...]) -> Reading[T]:
    if isinstance(reading, Taken):
        return Taken(reading.value, (*remarks, *reading.remarks))
    if isinstance(reading, Unclear):
        return Unclear(
            reading.asks,
            tuple((label, Taken(one.value, (*remarks, *one.remarks))) for label, one in reading.ways),
        )
    return reading


def one_of(asks: str, ways: Sequence[tuple[str, T]]) -> Reading[T]:
    """The only one of *ways*, or a question which.

    *ways* must not be empty.
    """
    if len(ways) == 1:
        return Taken(ways[0][1])
    return Unclear(asks, tuple((label, Taken(value)) for label, value in ways))


def either(asks: str, ways: Sequence[tuple[str, Reading[T]]]) -> Reading[T]:
    """The only one of *ways* that is not refused, or a question which; the first refusal where all are.

    *ways* must not be empty.
    """
    able, refusals = _told_apart(ways)
    if not able:
        return refusals[0]
    if len(able) == 1:
        return able[0][1]
    # One way that is unclear by itself asks its own question.
    alone = [reading for _, reading in ways if isinstance(reading, Unclear)]
    return alone[0] if len(refusals) == len(ways) - 1 and alone else Unclear(asks, tuple(able))


def letters(count: int) -> list[str]:
    """``a``, ``b`` ... for a list of that length."""
    return [ascii_lowercase[place] for place in range(min(count, len(ascii_lowercase)))]


def plain(text: str) -> str:
    """*text* as it is compared: lower case, single blanks."""
    return " ".join(text.casefold().split())


@dataclass(frozen=True, slots=True)
class Way(Generic[R_co]):
    """One thing to choose: ``label`` is shown, ``names`` are other words for it, such as its id."""

    label: str
    value: R_co
    names: tuple[str, ...] = ()


def choose(line: str, ways: Sequence[Way[T]], what: str, *, lettered: bool = True) -> Reading[T]:
    """The one of *ways* that *line* names: by label or name, by letter, by its first word, by a part of it.

    Args:
        what: What is chosen, for the refusal: ``choice``, ``slot``.
        lettered: Whether they were shown with letters.
    """
    said = plain(line)
    marks = letters(len(ways)) if lettered else []
    spoken = [(way, [plain(way.label), *map(plain, way.names)]) for way in ways]
    tiers: list[Callable[[int, list[str]], bool]] = [
        lambda _, words: said in words,
        lambda place, _: place < len(marks) and said.rstrip(").") == marks[place],
        lambda _, words: any(said == word.split(" ")[0].rstrip(",;:") for word in words if word),
        lambda _, words: len(said) > 1 and any(said in word for word in words),
    ]
    for fits in tiers:
        found = [way for place, (way, words) in enumerate(spoken) if fits(place, words)]
        if found:
            several = [(way.label, way.value) for way in found]
            return one_of(f"{line.strip()} can mean several: which?", several)
    known: Iterable[str] = [way.label for way in ways]
    shown = ", ".join(known) if len(ways) <= MOST_SHOWN else ""
    hint = f" (one of: {shown})" if shown else hint_behind(line, known)
    return Refused(f"no {what} {shortened(line)!r} here{hint}")


def shortened(text: str, most: int = 40) -> str:
    """*text* as messages quote it: one line, not too long, without control characters."""
    clean = "".join(sign if sign.isprintable() else "?" for sign in text.strip())
    return clean if len(clean) <= most else clean[: most - 3] + "..."
