"""Reading one TOML file, within bounds, with every number exact.

Bounds keep a file from a stranger from costing more than a moment: size, line length, nesting.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any, Protocol

import tomli

from waitwright.errors import FileProblems, Problem
from waitwright.schema.spans import KeyPath, dotted, line_of

MAX_BYTES = 1 << 20
MAX_LINE = 4000
MAX_DEPTH = 12

_TOML_PLACE = re.compile(
    r"^(?P<what>.*?) \(at (?:line (?P<line>\d+), column \d+|end of document)\)$", re.DOTALL
)


class Readable(Protocol):
    """What a file must offer: a path or a packed resource."""

    def is_dir(self) -> bool:
        """Whether it is a directory."""
        ...

    def read_bytes(self) -> bytes:
        """Its whole content."""
        ...


@dataclass(frozen=True, slots=True)
class TomlFile:
    """One file, read.

    Attributes:
        name: The file as the user knows it.
        text: Its text, kept to find lines.
        data: Its content; decimals are :class:`decimal.Decimal`, never floats.
    """

    name: str
    text: str
    data: dict[str, Any]

    def problem(self, path: KeyPath, message: str, hint: str = "") -> Problem:
        """A problem of this file at *path*, with its line."""
        return Problem(self.name, dotted(path), message, hint, line_of(self.text, path))


def read_toml(source: Readable | str, name: str) -> TomlFile:
    """Read one TOML file, or text that stands for one.

    Args:
        source: A path, a packed resource, or the text itself.
        name: The file as the user knows it; problems name it.

    Raises:
        FileProblems: if there is no such file, or it is a directory, empty, too large, not UTF-8,
            not TOML, or nested too deeply.
    """
    text = source if isinstance(source, str) else _decode(_read(source, name), name)
    text = text.replace("\r\n", "\n")
    _check_text(text, name)
    try:
        data = tomli.loads(text, parse_float=_decimal)
    except tomli.TOMLDecodeError as error:
        raise _syntax_problem(str(error), text, name) from None
    except RecursionError:
        raise _refuse(name, f"nested more than {MAX_DEPTH} levels deep", "flatten it") from None
    except ValueError:
        # tomli lets int() refuse a whole number of thousands of digits, and impossible dates.
        raise _refuse(
            name, "holds a number or a date that cannot be read", "look for an absurd value"
        ) from None
    file = TomlFile(name, text, data)
    too_deep = _too_deep(data)
    if too_deep is not None:
        raise FileProblems(
            (file.problem(too_deep, f"nested more than {MAX_DEPTH} levels deep", "flatten it"),)
        )
    return file


def _refuse(name: str, message: str, hint: str = "", line: int | None = None) -> FileProblems:
    return FileProblems((Problem(name, "", message, hint, line),))


def _read(source: Readable, name: str) -> bytes:
    try:
        if source.is_dir():
            raise _refuse(name, "is a directory, expected a TOML file", "name the file inside it")
        if isinstance(source, Path):
            if source.exists() and not source.is_file():
                raise _refuse(name, "is not a regular file, expected a TOML file")
            with source.open("rb") as stream:
                raw = stream.read(MAX_BYTES + 1)
        else:
            raw = source.read_bytes()
    except FileNotFoundError:
        raise _refuse(name, "no such file", "check the name") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name is not usable"
        raise _refuse(name, f"cannot be read: {reason}") from None
    if len(raw) > MAX_BYTES:
        raise _refuse(
            name, f"larger than {MAX_BYTES >> 20} MiB, too large for a file of this kind", "split it"
        )
    return raw


def _decode(raw: bytes, name: str) -> str:
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise _refuse(name, "is not UTF-8 text", "save it as UTF-8", line) from None


def _check_text(text: str, name: str) -> None:
    if not text.strip():
        raise _refuse(name, "is empty, expected TOML tables")
    if len(text) > MAX_BYTES:
        raise _refuse(
            name, f"larger than {MAX_BYTES >> 20} MiB, too large for a file of this kind", "split it"
        )
    lengths = [len(line) for line in text.split("\n")]
    if max(lengths) > MAX_LINE:
        line = next(number for number, length in enumerate(lengths, start=1) if length > MAX_LINE)
        raise _refuse(name, f"a line of more than {MAX_LINE} characters", "break it up", line)


def _syntax_problem(message: str, text: str, name: str) -> FileProblems:
    match = _TOML_PLACE.match(message)
    if match is None:
        return _refuse(name, f"not valid TOML: {message}")
    line = int(match["line"]) if match["line"] else text.rstrip("\n").count("\n") + 1
    what = match["what"].replace("\n", " ")
    return _refuse(name, f"not valid TOML: {what[:1].lower()}{what[1:]}", line=line)


def _decimal(digits: str) -> Decimal:
    try:
        return Decimal(digits)
    except InvalidOperation:
        # An exponent beyond what Decimal can hold: no usable number, refused where it is used.
        return Decimal("NaN")


def _too_deep(data: dict[str, Any]) -> KeyPath | None:
    """Path of the first value nested deeper than allowed; without recursion, as the input may be deep."""
    level: list[Any] = [data]
    for _ in range(MAX_DEPTH):
        level = [value for outer in level for _, value in _items(outer) if type(value) in {dict, list}]
        if not level:
            return None
    pending: list[tuple[KeyPath, Any]] = [((), data)]
    while pending:
        path, value = pending.pop()
        if len(path) >= MAX_DEPTH:
            return path
        inner = (((*path, key), item) for key, item in _items(value))
        pending.extend(pair for pair in inner if type(pair[1]) in {dict, list})
    return None


def _items(container: dict[str, Any] | list[Any]) -> Iterable[tuple[str | int, Any]]:
    return container.items() if isinstance(container, dict) else enumerate(container)
