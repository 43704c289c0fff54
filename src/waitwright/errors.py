"""Every error this package raises on purpose, as one tree.

::

    WaitwrightError
    ├── InputError                something the user gave is wrong            (exit 2)
    │   ├── FileProblems          one or more problems in one file, together
    │   ├── ExpressionError       text in the rule language, with its position
    │   └── UsageError            a name or value on the command line
    ├── NoAnswer                  the question has the answer "none"           (exit 1)
    └── PackedDataMissing         the installation lacks its rules or profiles

Errors carry structure (file, key, line, what was expected, what to do); the text is a rendering
of it, one line for each problem.  The command line decides exit codes in one place from this tree.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong in one file.

    Attributes:
        file: The file as the user knows it (a path, or the name of a packed file).
        key: Dotted key path inside the file, e.g. ``options[3].choices[0].set``; empty for the whole file.
        message: What is wrong and what was expected, without a final full stop.
        hint: What to do about it; empty when the message already says so.
        line: Line number in the file, counted from 1, when it is known.
    """

    file: str
    key: str
    message: str
    hint: str = ""
    line: int | None = None

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        parts = [place, *([self.key] if self.key else []), self.message]
        text = ": ".join(parts)
        return f"{text} ({self.hint})" if self.hint else text


class WaitwrightError(Exception):
    """Root of all errors raised on purpose."""


class InputError(WaitwrightError):
    """Something the user gave is wrong; the message is one clear line."""


class FileProblems(InputError):
    """All problems found in one or several files, reported together."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        super().__init__("\n".join(str(problem) for problem in problems))


class ExpressionError(InputError):
    """Text in the rule language that cannot be accepted.

    Attributes:
        text: The whole expression.
        position: Column of the offending place, counted from 0.
        reason: What is wrong, without position.
    """

    def __init__(self, text: str, position: int, reason: str) -> None:
        self.text = text
        self.position = position
        self.reason = reason
        shown = text if len(text) <= 80 else text[:77] + "..."
        super().__init__(f"{reason} at column {position + 1} of {shown!r}")


class UsageError(InputError):
    """A name or a value on the command line that does not fit the machine."""


class NoAnswer(WaitwrightError):
    """The question was understood and its answer is "none"."""


class PackedDataMissing(WaitwrightError):
    """The installation lacks its packed rules or profiles."""


def place_of(error: BaseException) -> str:
    """A defect in one line: where in the code it showed itself, and how."""
    from pathlib import Path  # a defect may take its time

    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    where = (
        f" at {Path(trace.tb_frame.f_code.co_filename).name}:{trace.tb_lineno}" if trace is not None else ""
    )
    said = " ".join(str(error).split())[:200]
    return f"defect{where}: {type(error).__name__}: {said}"
