"""Directives in a page: a line ``{{ kind: argument }}`` is replaced by what the program says.

- ``{{ output: COMMAND LINE | from START }}``: what the command prints, from the line that begins with
  START to the next empty line; without ``| from``, all of it.
- ``{{ picture: KIND ARGUMENTS }}``: a picture, with its numbers in a table.
- ``{{ measurement: ID }}``, ``{{ cautions: ID ... }}``: as the rulebook has them.
"""

from __future__ import annotations

import io
import re
import shlex
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from functools import cache

from making import pictures
from waitwright.api.rules import dictionary
from waitwright.cli.main import run
from waitwright.report.bands import band_end, expectation
from waitwright.rulebook.domain import Rulebook
from waitwright.rulebook.load import load_rulebook

_DIRECTIVE = re.compile(r"^\{\{ (\w+): (.+) \}\}$", re.MULTILINE)


class DocumentError(Exception):
    """A page asks for something that the program does not have."""


def expand(text: str) -> str:
    """The page *text* with every directive replaced.

    Raises:
        DocumentError: naming the directive that means nothing.
    """

    def made(found: re.Match[str]) -> str:
        kind, argument = found.groups()
        maker = _MAKERS.get(kind)
        if maker is None:
            raise DocumentError(f"{found[0]}: nothing is called {kind}; known are {', '.join(_MAKERS)}")
        try:
            return maker(argument)
        except (KeyError, ValueError) as error:
            raise DocumentError(f"{found[0]}: {error}") from error

    return _DIRECTIVE.sub(made, text)


def printed(line: str) -> tuple[int, str]:
    """Exit code and standard output of the command *line* of this program."""
    words = shlex.split(line, comments=True)
    if words[:1] != ["waitwright"]:
        raise ValueError(f"{line}: expected a command of waitwright")
    out = io.StringIO()
    with redirect_stdout(out), redirect_stderr(io.StringIO()):
        code = run(words[1:])
    return code, out.getvalue()


def _output(argument: str) -> str:
    line, bar, start = (part.strip() for part in argument.partition("| from "))
    code, text = printed(line)
    if code not in {0, 1}:
        raise ValueError(f"exit status {code}")
    if bar:
        text = _from(text, start)
    lines = (piece.rstrip() for piece in text.strip("\n").splitlines())
    return "\n".join(("```text", *lines, "```"))


def _from(text: str, start: str) -> str:
    lines = text.splitlines()
    first = next((place for place, line in enumerate(lines) if line.startswith(start)), None)
    if first is None:
        raise ValueError(f"no line of the output begins with {start!r}")
    end = next((place for place in range(first, len(lines)) if not lines[place].strip()), len(lines))
    return "\n".join(lines[first:end])


def _measurement(argument: str) -> str:
    measurement = _book().measurements[argument]
    rows = [f"| {band_end(measurement, band)} | {band.text} |" for band in measurement.bands]
    held_against = expectation(measurement, dictionary(_book()))
    source = f"{measurement.provenance.source} ({measurement.provenance.basis})"
    return "\n".join(
        (
            measurement.how,
            "",
            f"{held_against[:1].upper()}{held_against[1:]}.",
            "",
            f"| {'reading of each' if measurement.kind == 'list' else 'reading'} | means |",
            "| --- | --- |",
            *rows,
            "",
            f"Source: {source}.",
        )
    )


def _cautions(argument: str) -> str:
    return "\n".join(f"- {_book().cautions[name].text}" for name in argument.split())


@cache
def _book() -> Rulebook:
    return load_rulebook()


_MAKERS: dict[str, Callable[[str], str]] = {
    "output": _output,
    "picture": pictures.figure,
    "measurement": _measurement,
    "cautions": _cautions,
}
