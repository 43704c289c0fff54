"""Where the packed rules and profiles are: inside an installed wheel, or above ``src/`` in a checkout."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from waitwright.errors import PackedDataMissing

LOGBOOK_SUFFIX = ".logbook.toml"
"""What the file of a logbook is called, behind the name of the machine that it lies beside."""


@cache
def packed_root() -> Traversable:
    """The folder that holds ``rules`` and ``profiles``.

    Raises:
        PackedDataMissing: if the installation lacks them.
    """
    packaged = files("waitwright") / "_data"
    if packaged.is_dir():
        return packaged
    checkout = Path(__file__).resolve().parents[2]
    if (checkout / "pyproject.toml").is_file() and (checkout / "rules").is_dir():
        return checkout
    raise PackedDataMissing("the packed rules and profiles are missing; install waitwright again")


@cache
def packed_files(folder: str, suffix: str = ".toml") -> tuple[tuple[str, Traversable], ...]:
    """Every packed file below *folder*, as (name like ``rules/parts/sram.toml``, resource), sorted by name.

    Raises:
        PackedDataMissing: if the installation lacks its data.
    """
    start = packed_root()
    for step in folder.split("/"):
        start = start / step
    return tuple(sorted(_below(start, folder, suffix), key=lambda pair: pair[0]))


def _below(place: Traversable, name: str, suffix: str) -> Iterator[tuple[str, Traversable]]:
    if not place.is_dir():
        return
    for entry in place.iterdir():
        path = f"{name}/{entry.name}"
        if entry.is_dir():
            yield from _below(entry, path, suffix)
        elif entry.name.endswith(suffix):
            yield path, entry


def packed_names(kind: str) -> tuple[str, ...]:
    """Names of the packed profiles of *kind* (``boards`` or ``machines``), sorted."""
    return tuple(_profiles(kind))


def packed_profile(kind: str, name: str) -> Traversable | None:
    """The packed profile of *kind* called *name*, or None."""
    return _profiles(kind).get(name)


def packed_logbook(machine: str) -> Traversable | None:
    """The logbook beside the packed *machine*, an example to read; None where there is none."""
    found = {Path(name).name: entry for name, entry in packed_files("profiles/machines", LOGBOOK_SUFFIX)}
    return found.get(machine + LOGBOOK_SUFFIX)


def _profiles(kind: str) -> dict[str, Traversable]:
    """The packed profiles of *kind* by name; logbooks beside them are none."""
    return {
        Path(path).stem: entry
        for path, entry in packed_files(f"profiles/{kind}")
        if not path.endswith(LOGBOOK_SUFFIX)
    }
