"""What the answers rest on, watched: the owner's files and the trials in the logbook."""

from __future__ import annotations

from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from secrets import token_hex

from waitwright.api.footing import files_behind, trials_behind
from waitwright.api.opening import Question
from waitwright.errors import InputError
from waitwright.trials.store import LogbookStore

Mark = tuple[str, int, int, int]
"""A file as the system sees it: name, time of change, length, number; zeros where there is none."""


@dataclass(slots=True)
class Evidence:
    """The files behind *question*.

    Attributes:
        stamp: Stands for what they held when they were last read.  An offer in the logbook is no evidence:
            looking at the next trial changes no answer.
    """

    question: Question
    stamp: str = ""
    _files: tuple[Path, ...] = ()
    _marks: tuple[Mark, ...] = ()
    _process: str = field(default_factory=lambda: token_hex(8))

    def moved(self) -> bool:
        """Whether any file has been touched since :meth:`read`."""
        return tuple(map(_mark, self._files)) != self._marks

    def read(self) -> str:
        """Take down what the files hold now."""
        self._files = files_behind(self.question)
        self._marks = tuple(map(_mark, self._files))
        logbook = str(LogbookStore.beside(Path(self.question.machine)).path)
        others = [mark for mark in self._marks if mark[0] != logbook]
        held = (self._process, self.question, others, self._trials())
        self.stamp = sha256(repr(held).encode()).hexdigest()[:24]
        return self.stamp

    def _trials(self) -> object:
        try:
            return trials_behind(self.question.machine)
        except InputError:  # what is wrong with it is told by every answer
            return self._marks


def _mark(path: Path) -> Mark:
    try:
        found = path.stat()
    except OSError:
        return (str(path), 0, 0, 0)
    return (str(path), found.st_mtime_ns, found.st_size, found.st_ino)
