"""Where in a TOML text a key stands: key path -> line number.

``tomli`` forgets lines, so a problem found later looks its line up here.  The finder reads text
that ``tomli`` has already accepted; it is built only when there is something to complain about.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

import tomli

KeyPath = tuple[str | int, ...]
"""Keys and list positions from the top of a file, e.g. ``("option", 3, "choice", 0, "set")``."""

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_BLANK = re.compile(r"[ \t\r\n]*(?:#[^\n]*[ \t\r\n]*)*")
_SCALAR = re.compile(r"[^,\]}#\n]*")
_LONG_QUOTES = ('"""', "'''")


def dotted(path: KeyPath) -> str:
    """*path* as people read it: ``option[3].choice[0].set``."""
    shown = ""
    for step in path:
        if isinstance(step, int):
            shown += f"[{step}]"
        elif _BARE.fullmatch(step):
            shown += f".{step}" if shown else step
        else:
            shown += ("." if shown else "") + quoted(step)
    return shown


def quoted(text: str) -> str:
    """*text* in quotes, shortened, on one line whatever it holds."""
    short = text if len(text) <= 40 else text[:37] + "..."
    return '"' + "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in short) + '"'


def line_of(text: str, path: KeyPath) -> int | None:
    """Line of *path* in *text*, counted from 1; of its nearest known parent when it is absent itself.

    None for the empty path, and where not even its first key exists.
    """
    lines = key_lines(text)
    for length in range(len(path), 0, -1):
        line = lines.get(path[:length])
        if line is not None:
            return line
    return None


@lru_cache(maxsize=4)
def key_lines(text: str) -> Mapping[KeyPath, int]:
    """Line of every key, table and list item of a valid TOML *text*."""
    return _Scanner(text).scan()


class _Scanner:
    """One pass over a valid TOML text; every ``_read`` method moves ``at`` past what it reads."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[KeyPath, int] = {}
        self._counts: dict[KeyPath, int] = {}
        self._line = 1
        self._line_at = 0

    def scan(self) -> dict[KeyPath, int]:
        table: KeyPath = ()
        while self._skip_blank():
            if self._sees("["):
                table = self._read_header()
            else:
                self._read_pair(table)
        return self.lines

    def _note(self, path: KeyPath) -> None:
        self._line += self.text.count("\n", self._line_at, self.at)
        self._line_at = self.at
        self.lines.setdefault(path, self._line)

    def _skip_blank(self) -> bool:
        match = _BLANK.match(self.text, self.at)
        if match:
            self.at = match.end()
        return self.at < len(self.text)

    def _sees(self, mark: str) -> bool:
        return self.text.startswith(mark, self.at)

    def _read_header(self) -> KeyPath:
        is_list = self._sees("[[")
        self.at += 2 if is_list else 1
        keys = self._read_key()
        path: KeyPath = ()
        for key in keys[:-1]:
            path = self._inside((*path, key))
            self._note(path)
        path = (*path, keys[-1])
        self._note(path)
        if is_list:
            self._counts[path] = self._counts.get(path, -1) + 1
            path = (*path, self._counts[path])
            self._note(path)
        self.at = self.text.index("]", self.at) + (2 if is_list else 1)
        return path

    def _inside(self, path: KeyPath) -> KeyPath:
        """A header names a list of tables without position; it means the last one begun."""
        return (*path, self._counts[path]) if path in self._counts else path

    def _read_pair(self, table: KeyPath) -> None:
        path = table
        for key in self._read_key():
            path = (*path, key)
            self._note(path)
        self.at = self.text.index("=", self.at) + 1
        self._read_value(path)

    def _read_key(self) -> list[str]:
        keys = []
        while True:
            self._skip_blank()
            if self.text[self.at] in "\"'":
                keys.append(self._read_string())
            elif match := _BARE.match(self.text, self.at):
                keys.append(match.group())
                self.at = match.end()
            self._skip_blank()
            if not self._sees("."):
                return keys
            self.at += 1

    def _read_string(self) -> str:
        quote = self.text[self.at]
        begin = self.at
        self.at += 1
        while self.text[self.at] != quote:
            self.at += 2 if self.text[self.at] == "\\" and quote == '"' else 1
        self.at += 1
        inner = self.text[begin + 1 : self.at - 1]
        if quote == '"' and "\\" in inner:  # a key may be written with escapes
            return str(tomli.loads(f'key = "{inner}"')["key"])
        return inner

    def _read_long_string(self, quotes: str) -> None:
        self.at += 3
        while not self._sees(quotes):
            self.at += 2 if self.text[self.at] == "\\" and quotes == '"""' else 1
        self.at += 3
        while self._sees(quotes[0]):
            self.at += 1

    def _read_value(self, path: KeyPath) -> None:
        self._skip_blank()
        opening = self.text[self.at]
        for quotes in _LONG_QUOTES:
            if self._sees(quotes):
                self._read_long_string(quotes)
                return
        if opening in "\"'":
            self._read_string()
        elif opening == "[":
            self._read_list(path)
        elif opening == "{":
            self._read_table(path)
        elif match := _SCALAR.match(self.text, self.at):
            self.at = match.end()

    def _read_list(self, path: KeyPath) -> None:
        self.at += 1
        position = 0
        while self._skip_blank() and not self._sees("]"):
            self._note((*path, position))
            self._read_value((*path, position))
            position += 1
            self._skip_comma()
        self.at += 1

    def _read_table(self, path: KeyPath) -> None:
        self.at += 1
        while self._skip_blank() and not self._sees("}"):
            self._read_pair(path)
            self._skip_comma()
        self.at += 1

    def _skip_comma(self) -> None:
        self._skip_blank()
        if self._sees(","):
            self.at += 1
