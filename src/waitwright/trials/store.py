"""Where the logbook is kept: one file beside the machine profile, changed by one process at a time."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from waitwright._resources import LOGBOOK_SUFFIX
from waitwright.errors import FileProblems, InputError, Problem
from waitwright.trials.logbook import Logbook
from waitwright.trials.logfile import dump_logbook, load_logbook
from waitwright.trials.safekeeping import locked, replace_content


@dataclass(frozen=True, slots=True)
class LogbookStore:
    """The logbook in the file at *path*.

    Attributes:
        path: As the user knows it; a link is followed, never replaced.
        patience: Seconds to wait while another process changes the logbook.
    """

    path: Path
    patience: float = 10.0

    @classmethod
    def beside(cls, profile: Path) -> LogbookStore:
        """The store of the machine whose profile is at path *profile*."""
        return cls(profile.with_name(profile.stem + LOGBOOK_SUFFIX))

    def read(self) -> Logbook:
        """What the file holds; an empty logbook where there is no file.

        Raises:
            FileProblems: with every error of the file.
        """
        try:
            self.path.stat()
        except FileNotFoundError:
            return Logbook(self.path.name.removesuffix(LOGBOOK_SUFFIX))
        except OSError:
            pass  # The file may well exist: the reader below says what is wrong.
        return load_logbook(self.path, str(self.path))

    def change(self, function: Callable[[Logbook], Logbook]) -> Logbook:
        """Replace the logbook by what *function* makes of it, and return that.

        Nobody else can change the file between reading and writing.  If *function* raises, or the file is
        damaged or of a newer layout, it stays as it is.

        Raises:
            FileProblems: with every error of the file.
            InputError: if the file cannot be locked or written, or could not be read again.
        """
        real = Path(os.path.realpath(self.path))
        with locked(real, str(self.path), self.patience):
            before = self.read()
            after = function(before)
            if after != before:
                replace_content(real, str(self.path), self._checked(after))
        return after

    def _checked(self, logbook: Logbook) -> bytes:
        """*logbook* as the content of its file, which is sure to be read again as the same.

        So bounds have one place, the models of the file, and no logbook grows into one that is refused.
        """
        text = dump_logbook(logbook)
        try:
            content = text.encode()
            again = load_logbook(text, str(self.path))
        except UnicodeEncodeError:
            raise InputError("not recorded: a text holds a sign that no file can keep") from None
        except FileProblems as error:
            raise InputError(f"not recorded: {'; '.join(map(_reason, error.problems))}") from None
        if again != logbook:
            raise AssertionError("a logbook must be read again as it was written")
        return content


def _reason(problem: Problem) -> str:
    if not problem.key:
        return f"the logbook would be refused: {problem.message}; move it away to begin a new one"
    return f"{problem.key}: {problem.message}"
