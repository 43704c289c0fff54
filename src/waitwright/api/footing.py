"""What an answer rests on: the files behind a question, and the trials so far."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

from waitwright._resources import packed_profile
from waitwright.api.opening import Question, logbook_of
from waitwright.errors import InputError
from waitwright.rulebook.load import own_sources
from waitwright.schema.tomlfile import read_toml
from waitwright.trials.store import LogbookStore


def files_behind(question: Question) -> tuple[Path, ...]:
    """The owner's files: logbook (whether or not there is one), profile, board and rules, as far as any.

    Packed machines, boards and rules do not change and are left out.  Nothing is raised: a file that
    cannot be read is named all the same.
    """
    files = list(_rules(question.rules))
    if packed_profile("machines", question.machine) is None:
        profile = Path(question.machine)
        files += [LogbookStore.beside(profile).path, profile, *_board(profile)]
    return tuple(files)


def trials_behind(machine: str) -> str:
    """A short text that stands for the entries of the logbook; an offer changes nothing in it.

    Raises:
        FileProblems: with every error of the logbook.
    """
    return sha256(repr(logbook_of(machine).entries).encode()).hexdigest()


def _rules(folder: Path | None) -> list[Path]:
    try:
        return [] if folder is None else [Path(source.name) for source in own_sources(folder)]
    except InputError:
        return []


def _board(profile: Path) -> list[Path]:
    try:
        name = read_toml(profile, str(profile)).data.get("board")
    except (InputError, OSError):
        return []
    packed = not isinstance(name, str) or packed_profile("boards", name) is not None
    return [] if packed else [profile.parent / str(name)]
