"""Whole tables of a TOML text taken out or put in, with every comment around them left where it stands.

The editing library counts a comment in front of a table as part of the table before it, and would take
it away with that one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tomlkit.items import Table


@dataclass(frozen=True, slots=True)
class _Section:
    """Where a table stands: its header from ``start``, its last key up to ``keyed``, all of it up to ``end``.

    ``loose`` are the comments and empty lines of its own.
    """

    start: int
    keyed: int
    end: int
    loose: str


def without_table(text: str, name: str, place: int) -> str:
    """*text* without the table ``[name]``, or without the one at *place* of the tables ``[[name]]``."""
    import tomlkit

    sections = list(_sections(text, name))
    if not sections:  # written on one line
        doc = tomlkit.parse(text)
        inline: Any = doc[name]
        if isinstance(inline, list) and len(inline) > 1:
            del inline[place]
        else:
            del doc[name]
        return tomlkit.dumps(doc)
    one = sections[place]
    before = text[: one.start]
    loose = one.loose.lstrip("\n") if before.endswith("\n\n") or not before else one.loose
    return before + loose + text[one.end :]


def with_another(text: str, name: str, table: Table) -> str:
    """*text* with *table* behind the other tables ``[[name]]``, or at its end where there are none."""
    import tomlkit

    sections = list(_sections(text, name))
    fresh = f"\n[[{name}]]\n{table.as_string()}"
    if sections:
        keyed = sections[-1].keyed
        return text[:keyed] + fresh + text[keyed:]
    doc = tomlkit.parse(text)
    if name in doc:  # written on one line
        listed: Any = doc[name]
        inline = tomlkit.inline_table()
        inline.update(table)
        listed.append(inline)
        return tomlkit.dumps(doc)
    return text + fresh


def _sections(text: str, name: str) -> Iterator[_Section]:
    """The tables called *name* that have a header, in their order."""
    import tomlkit
    from tomlkit.items import AoT, Table

    found: Any = tomlkit.parse(text).get(name)
    tables = list(found.body) if isinstance(found, AoT) else [found] if isinstance(found, Table) else []
    header = re.compile(rf"^[ \t]*\[\[?[ \t]*[\"']?{re.escape(name)}[\"']?[ \t]*\]\]?[^\n]*\n", re.MULTILINE)
    position = 0
    for table in tables:
        body = table.as_string()
        for seen in header.finditer(text, position):
            # A note of several lines may hold something that looks like a header.
            if text.startswith(body, seen.end()):
                items = table.value.body
                last = max((place for place, (key, _) in enumerate(items) if key is not None), default=-1)
                loose = "".join(item.as_string() for _, item in items[last + 1 :])
                own = "".join(item.as_string() for key, item in items[: last + 1] if key is None)
                end = seen.end() + len(body)
                yield _Section(seen.start(), end - len(loose), end, own + loose)
                position = end
                break
