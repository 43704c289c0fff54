"""What the commands share: the options that all of them take, and how an answer is put out."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from math import nan
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Protocol, TypeVar

import typer

from waitwright.errors import UsageError

if TYPE_CHECKING:  # slow to import, and --help needs neither
    from rich.console import Console

    from waitwright.api.opening import Question


def between(least: float, most: float) -> Callable[[str | float], float]:
    """A reader of numbers from *least* to *most*; what is no number at all, as "nan", is refused too."""

    def read(given: str | float) -> float:
        try:
            value = float(given)
        except ValueError:
            value = nan
        if least <= value <= most:
            return value
        raise typer.BadParameter(f"expected a number from {least:g} to {most:g}, found {given!r}")

    return read


Machine = Annotated[
    str,
    typer.Argument(metavar="MACHINE", help="Path of a machine profile, or name of a packed one."),
]
Sets = Annotated[
    list[str] | None,
    typer.Option("--set", metavar="OPTION=CHOICE", help="Replace a current choice; may be repeated."),
]
Parts = Annotated[
    list[str] | None,
    typer.Option("--part", metavar="SLOT=PART", help="What if this part were fitted? May be repeated."),
]
Rules = Annotated[
    Path | None,
    typer.Option("--rules", metavar="DIR", help="Rules of your own, added to the packed ones by id."),
]
Seed = Annotated[
    int,
    typer.Option("--seed", metavar="N", min=0, help="Seed of all chance; the same seed, the same answer."),
]
Soak = Annotated[
    float, typer.Option("--soak", metavar="H", parser=between(0.1, 1000), help="Hours of the soak test.")
]
SoakIfAny = Annotated[  # for commands that must know whether it was given
    float | None,
    typer.Option(
        "--soak",
        metavar="H",
        parser=between(0.1, 1000),
        help="Hours of the soak test; 4 unless told.",
    ),
]
Odds = Annotated[
    float, typer.Option(metavar="P", parser=between(0, 1), help="Least odds of passing the soak test.")
]
Workload = Annotated[str | None, typer.Option(metavar="W", help="What the machine is to be fast at.")]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON object on standard output.")]


LEAST_WIDTH = 30
"""Columns that text is laid out for at least."""


class View(Protocol):
    """An answer as plain data."""

    def to_dict(self) -> dict[str, Any]:
        """The answer with the keys of the command contract."""


V = TypeVar("V", bound=View)


def question(
    machine: str, sets: list[str] | None, parts: list[str] | None, rules: Path | None, seed: int
) -> Question:
    """The shared options as the api takes them."""
    from waitwright.api.opening import Question

    return Question(machine, rules=rules, seed=seed, sets=tuple(sets or ()), parts=tuple(parts or ()))


def refuse_beside_rated(**given: object) -> None:
    """Refuse options, by name, that mean nothing where data-sheet limits alone judge; None is not given.

    Raises:
        UsageError: if any is given.
    """
    named = [f"--{name}" for name, value in given.items() if value is not None]
    if named:
        from waitwright.explain.figures import listed

        raise UsageError(
            f"{listed(named)} cannot stand beside --rated: data-sheet limits alone know of no odds "
            "and no soak test"
        )


def put_out(view: V, *, as_json: bool, show: Callable[[V, Console], None]) -> None:
    """Print *view*: as one JSON object, or as *show* puts it on the console."""
    if as_json:
        import json

        sys.stdout.write(json.dumps(view.to_dict(), indent=2, allow_nan=False) + "\n")
        return
    from rich.console import Console

    plain = bool(os.environ.get("NO_COLOR"))  # then no bold face either: not one escape code
    console = Console(highlight=False, color_system=None if plain else "auto")
    console.width = max(
        console.width, LEAST_WIDTH
    )  # a terminal that tells 0 is no reason for one sign a line
    show(view, console)
