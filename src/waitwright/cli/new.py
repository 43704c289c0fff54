"""``waitwright new``: copies, asks, edits.  Reads lines and prints; what they mean is for the intake."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from waitwright.cli.common import AsJson, Rules
from waitwright.errors import UsageError

if TYPE_CHECKING:  # --help needs none of these
    from waitwright.api.new import Intake
    from waitwright.intake.dialogue import Turn
    from waitwright.intake.draft import Draft

PATIENCE = 5
"""So many wrong answers to one question end a dialogue whose answers come from a file or pipe."""


def new(
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE]", help="Where to write; asked for unless told.")
    ] = None,
    origin: Annotated[
        str | None, typer.Option("--from", metavar="NAME", help="Copy a packed machine instead of asking.")
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output", "-o", metavar="FILE", help="As FILE; with --from, NAME.toml here unless told."
        ),
    ] = None,
    edit: Annotated[
        Path | None,
        typer.Option("--edit", metavar="FILE", help="Change a profile; its comments and order stay."),
    ] = None,
    sets: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="OPTION=CHOICE", help="With --edit: change without asking."),
    ] = None,
    parts: Annotated[
        list[str] | None,
        typer.Option("--part", metavar="SLOT=PART", help="With --edit: change without asking."),
    ] = None,
    rules: Rules = None,
    as_json: AsJson = False,
) -> int:
    """Describe a machine step by step, as its parts can be read off.

    Answers come from the terminal or from a pipe, one on a line; '?' explains a question, 'back' goes back.
    """
    if file is not None and output is not None:
        raise UsageError(f"{file}: FILE and --output name one thing twice")
    if edit is None and (sets or parts):
        raise UsageError("--set and --part change a profile: add --edit FILE")
    target = file or output
    if edit is not None:
        if origin is not None or target is not None:
            raise UsageError("--edit stands alone: it neither copies a machine nor writes another file")
        return _edit(edit, sets or [], parts or [], rules, as_json=as_json)
    if origin is not None:
        return _copy(origin, target, as_json=as_json)
    return _describe(target, rules, as_json=as_json)


def _copy(origin: str, target: Path | None, *, as_json: bool) -> int:
    from waitwright.api.new import copy_packed

    path = copy_packed(origin, target)
    if as_json:
        _put_json(path=str(path))
    else:
        sys.stdout.write(
            f"{path} written. Edit parts and settings to match your machine, then: check {path}\n"
        )
    return 0


def _describe(target: Path | None, rules: Path | None, *, as_json: bool) -> int:
    from waitwright.api.new import describe

    intake = describe(target, rules, None if _at_terminal() else PATIENCE)
    _tell(
        "A few questions about the machine. Enter takes what stands in brackets, '?' explains, "
        "'back' goes back, Ctrl-C stops. Nothing is written before the end."
    )
    path, draft = _talk(intake)
    if path is None:
        raise AssertionError("a described machine is always written")
    _tell(f"{path} written.")
    first = f"First enter these settings on the machine, which does not have them yet: {_lists(path)}"
    _conclude(path, rules, first if draft.settings == "slow" else "", as_json=as_json)
    return 0


def _lists(path: Path) -> str:
    return f"waitwright check {_quoted(path)} lists them"


def _edit(file: Path, sets: list[str], parts: list[str], rules: Path | None, *, as_json: bool) -> int:
    from waitwright.api.edit import describe_changes, edit

    changed = True
    if sets or parts:
        done = edit(file, sets, parts, rules)
        changed = bool(done.changes)
        for change in done.changes:
            _tell(change)
    else:
        intake = describe_changes(file, rules, None if _at_terminal() else PATIENCE)
        _tell("What has changed? '?' explains, 'back' goes back, Ctrl-C stops and changes nothing.")
        changed = _talk(intake)[0] is not None
    _tell(f"{file} written." if changed else f"Nothing to change: {file} stays as it is.")
    if changed:
        _conclude(file, rules, "", as_json=as_json)
    else:
        _put_path(file, as_json=as_json)
    return 0


def _conclude(path: Path, rules: Path | None, first: str, *, as_json: bool) -> None:
    """The verdict of ``check`` on what was written, and where to go from here: *first* if it may be done."""
    from rich.console import Console

    from waitwright.api.check import check
    from waitwright.cli.common import question
    from waitwright.report.text.check import show_verdict

    view = check(question(str(path), None, None, rules, 0))
    _tell("")
    show_verdict(view, Console(stderr=True, highlight=False, color_system=None))
    _tell("")
    if first and view.stands:
        _tell(first)
    _tell(f"Next: waitwright {'next' if view.stands else 'why'} {_quoted(path)}")
    _put_path(path, as_json=as_json)


def _quoted(path: Path) -> str:
    from shlex import quote

    return quote(str(path))


def _put_path(path: Path, *, as_json: bool) -> None:
    if as_json:
        _put_json(path=str(path))
    else:
        sys.stdout.write(f"{path}\n")


def _put_json(**content: str) -> None:
    import json

    sys.stdout.write(json.dumps(content) + "\n")


# ------------------------------------------------------------------------------------ dialogue


def _talk(intake: Intake) -> tuple[Path | None, Draft]:
    """Ask until all is answered, then write: the path, None where nothing was to be, and what was answered.

    Raises:
        UsageError: if the answers end before the questions, or one question gets too many wrong ones.
    """
    turn = intake.dialogue.begin(intake.draft)
    while turn.ended != "done":
        _show(turn)
        if turn.ended == "gave up":
            where = f"question {turn.number} ({_last_line(turn)})"
            raise UsageError(f"{PATIENCE} wrong answers to {where}; nothing was written")
        try:
            line = _next_line()
        except (KeyboardInterrupt, UsageError):
            _tell("")  # the line of the question is still open
            raise
        if line is None:
            _tell("")
            where = f"question {turn.number} ({_last_line(turn)})"
            raise UsageError(f"the answers end at {where}; nothing was written")
        if not _at_terminal():
            _tell(line)  # so that what was asked and answered can be read later
        turn = intake.dialogue.answer(turn.state, line)
    _say(turn.said)
    return intake.write(turn.state.draft), turn.state.draft


def _last_line(turn: Turn) -> str:
    return turn.asks.splitlines()[-1]


def _show(turn: Turn) -> None:
    from waitwright.intake.dialogue import lettered

    _say(turn.said)
    if turn.ended:
        return
    _tell("")
    _tell(f"Question {turn.number} of about {turn.about}" if turn.about else f"Question {turn.number}")
    for line in turn.asks.splitlines():
        _tell(line)
    for way in lettered(turn.ways):
        _tell(f"  {way}")
    sys.stderr.write(f"[{turn.default}] > " if turn.default else "> ")
    sys.stderr.flush()


def _say(lines: tuple[str, ...]) -> None:
    for line in lines:
        for part in line.splitlines():
            _tell(f"  {part}")


def _tell(line: str) -> None:
    """One line on standard error, wrapped under its own indent."""
    import shutil
    import textwrap

    indent = " " * (len(line) - len(line.lstrip()))
    width = max(40, min(shutil.get_terminal_size().columns, 110) - 1)
    wrapped = textwrap.wrap(
        line.strip(),
        width,
        initial_indent=indent,
        subsequent_indent=f"{indent}  ",
        break_on_hyphens=False,  # ids and markings stay in one piece
    )
    sys.stderr.write("\n".join(wrapped) + "\n")


def _at_terminal() -> bool:
    return sys.stdin is not None and sys.stdin.isatty()


def _next_line() -> str | None:
    """The next answer; None where there are no more.

    Raises:
        UsageError: if it is no text, or longer than any answer.
    """
    from waitwright.intake.dialogue import LONGEST

    stream = getattr(sys.stdin, "buffer", None)
    if stream is None:
        raise UsageError("there is nothing to read answers from")
    raw: bytes = stream.readline(8 * LONGEST)
    if not raw:
        return None
    encoding = (sys.stdin.encoding if _at_terminal() else None) or "utf-8"
    try:
        line = raw.decode(encoding).removeprefix("\ufeff").rstrip("\r\n")
    except UnicodeDecodeError:
        raise UsageError("an answer is not UTF-8 text; nothing was written") from None
    return line
