"""The reference of commands, from the command line itself."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from waitwright.cli.app import command

_COMMON = ("--set", "--part", "--rules", "--seed", "--json")


def page() -> str:
    """The reference of commands, as Markdown."""
    return "\n".join(_lines(command())) + "\n"


def _lines(app: Any) -> Iterator[str]:
    yield "# Commands"
    yield ""
    yield 'Exit status: 0, an answer is given; 1, the answer is "none"; 2, bad input, told in one line for'
    yield "each thing that is wrong."
    yield "Data go to standard output, talk to standard error. `NO_COLOR` is honoured."
    yield ""
    yield "## On every machine"
    yield ""
    yield "| option | means |"
    yield "| --- | --- |"
    common = {option.opts[0]: option for option in app.commands["check"].params if option.opts[0] in _COMMON}
    for name in _COMMON:
        yield _row(common[name])
    for name, entry in app.commands.items():
        for path, single in _spread(name, entry):
            yield from _command(path, single)


def _spread(path: str, entry: Any) -> Iterator[tuple[str, Any]]:
    inner = getattr(entry, "commands", None)
    if inner is None:
        yield path, entry
        return
    for name, single in inner.items():
        yield from _spread(f"{path} {name}", single)


def _command(path: str, entry: Any) -> Iterator[str]:
    arguments = [one for one in entry.params if one.param_type_name == "argument"]
    options = [one for one in entry.params if one.param_type_name == "option" and one.name != "help"]
    shown = " ".join(_shown(one) for one in arguments)
    yield ""
    yield f"## {path}"
    yield ""
    yield "```text"
    yield f"waitwright {path} {shown} [OPTIONS]".replace("  ", " ")
    yield "```"
    yield ""
    yield " ".join((entry.help or "").split())
    own = [one for one in (*arguments, *options) if one.opts[0] not in _COMMON]
    if own:
        yield ""
        yield "| argument or option | means |"
        yield "| --- | --- |"
        for one in own:
            yield _row(one)


def _shown(argument: Any) -> str:
    name = _name(argument)
    return name if argument.required else f"[{name}]"


def _name(argument: Any) -> str:
    return str(argument.metavar or argument.name.upper()).strip("{}[]")


def _row(one: Any) -> str:
    if one.param_type_name == "argument":
        name, text = _name(one), getattr(one, "help", "") or ""
    else:
        takes = "" if one.is_flag else f" {one.metavar or one.type.name.upper()}"
        name, text = f"{', '.join(one.opts)}{takes}", one.help or ""
    default = one.default
    said = (
        f" Default: {default}."
        if isinstance(default, (int, float, str)) and not isinstance(default, bool)
        else ""
    )
    return f"| `{name.replace('|', chr(92) + '|')}` | {' '.join(text.split())}{said} |"
