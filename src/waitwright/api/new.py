"""``new``: a machine profile to start from, copied, or described step by step."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from waitwright._resources import packed_names, packed_profile
from waitwright.api.files import read_profile, write_profile
from waitwright.errors import UsageError
from waitwright.ids import Settings
from waitwright.intake.boards_near import NearBoard, Wanted, rank_boards
from waitwright.intake.closing import toml_name
from waitwright.intake.course import new_course, still_hidden
from waitwright.intake.dialogue import Dialogue
from waitwright.intake.draft import Draft, profile_of, text_of
from waitwright.intake.options import clock_option, rated_clock
from waitwright.intake.questions import Desk, Standing
from waitwright.intake.slow import first_settings, settings_that_hold
from waitwright.nearest import hint_behind
from waitwright.rulebook.boards import load_board
from waitwright.rulebook.domain import Rulebook
from waitwright.rulebook.load import load_rulebook
from waitwright.rulebook.machines import board_finder, load_machine
from waitwright.rulebook.profiles import BoardProfile, MachineProfile


def copy_packed(name: str, output: Path | None = None) -> Path:
    """Copy the packed machine *name* to *output*, or to ``NAME.toml`` in the current folder.

    Raises:
        UsageError: if there is no such machine, or the file exists already.
        InputError: if the file cannot be written.
    """
    packed = packed_profile("machines", name)
    if packed is None:
        hint = hint_behind(name, packed_names("machines"))
        raise UsageError(f"--from {name}: no packed machine of that name{hint}")
    path = output or Path(f"{name}.toml")
    write_profile(path, packed.read_bytes(), None)
    return path


def near_boards(
    cpu: str | None = None,
    cache_kb: int | None = None,
    buses: Iterable[str] = (),
    pins: Iterable[int] = (),
    rules: Path | None = None,
) -> tuple[NearBoard, ...]:
    """The packed boards, the closest first, with what speaks for and against each.

    Args:
        cpu: Part id of the CPU.
        cache_kb: Second-level cache; 0 for none, None where it is not known.
        buses: Kinds of slots: ``isa``, ``vl``, ``pci``.
        pins: Contacts of the memory modules: 30, 72.

    Raises:
        InputError: if there is no such CPU, or rules or boards are faulty.
    """
    rulebook = load_rulebook(rules)
    if cpu is not None and cpu not in rulebook.parts:
        raise UsageError(f"{cpu}: no such part{hint_behind(cpu, rulebook.parts)}")
    part = None if cpu is None else rulebook.parts[cpu]
    wanted = Wanted(part, cache_kb, frozenset(buses), frozenset(pins))
    return tuple(rank_boards(_packed_boards(rulebook), wanted, rulebook))


# -------------------------------------------------------------------------------- step by step


@dataclass(frozen=True, slots=True)
class Intake:
    """A dialogue that is ready to begin, and what becomes of its answers.

    Attributes:
        draft: To begin with.
        write: Writes what the dialogue came to, and returns the path; None where nothing was to be changed.
    """

    dialogue: Dialogue
    draft: Draft
    write: Callable[[Draft], Path | None]


def describe(file: Path | None = None, rules: Path | None = None, patience: int | None = None) -> Intake:
    """The questions for a machine that has no profile yet.

    Args:
        file: Where to write; asked for where it is None.
        rules: Folder with rules of the user's own.
        patience: So many wrong answers to one question end the dialogue; None for any number.

    Raises:
        InputError: if rules or packed boards are faulty, or *file* cannot be one.
    """
    rulebook = load_rulebook(rules)
    path = "" if file is None else toml_name(str(file))
    if file is not None and (standing(str(file)) == "folder" or standing(path) in {"folder", "no folder"}):
        raise UsageError(f"{file}: no file can be made there")
    desk = make_desk(rulebook, path)
    dialogue = Dialogue(partial(new_course, desk), patience, partial(still_hidden, desk))
    return Intake(dialogue, Draft(), partial(_write_new, desk))


def make_desk(rulebook: Rulebook, file: str = "") -> Desk:
    """Everything that questions are answered from.

    Raises:
        FileProblems: if a packed board is faulty.
    """
    return Desk(
        rulebook=rulebook,
        boards=_packed_boards(rulebook),
        read_board=lambda path: load_board(Path(path), rulebook, path),
        standing=standing,
        slow=_Slow(rulebook, {}),
        file=file,
    )


def standing(path: str) -> Standing:
    """What stands at *path*."""
    try:
        place = Path(path)
        if place.is_dir():
            return "folder"
        if place.exists() or place.is_symlink():
            return "file"
        return "free" if place.parent.is_dir() else "no folder"
    except (OSError, ValueError):
        return "no folder"


def _packed_boards(rulebook: Rulebook) -> dict[str, BoardProfile]:
    find = board_finder(rulebook)
    return {name: find(name) for name in packed_names("boards")}


@dataclass(frozen=True, slots=True)
class _Slow:
    """Settings that should hold with what a draft has fitted; each found once."""

    rulebook: Rulebook
    found: dict[object, Settings]

    def __call__(self, draft: Draft) -> Settings:
        board = draft.board
        if board is None:
            raise AssertionError("settings are asked for behind the board")
        clock = clock_option(board)
        fixed = {} if clock is None or clock.id not in draft.current else {clock.id: draft.current[clock.id]}
        key = (draft.board_name, tuple(draft.in_board_order().items()), tuple(fixed.items()))
        if key not in self.found:
            family = self.rulebook.parts[draft.cpu].family if draft.cpu is not None else ""
            start = first_settings(board, fixed, self._examples(draft.board_name), family)
            profile = profile_of(draft, start, draft.board_name)
            rated = rated_clock(self.rulebook, draft)
            self.found[key] = settings_that_hold(profile, self.rulebook, fixed, rated)
        return self.found[key]

    def _examples(self, board: str) -> list[MachineProfile]:
        """The packed machines on the packed board of that name."""
        find = board_finder(self.rulebook)
        texts = ((name, packed_profile("machines", name)) for name in packed_names("machines"))
        return [
            load_machine(text, self.rulebook, find, name)
            for name, text in texts
            if text is not None and board in text.read_text("utf-8")
        ]


def _write_new(desk: Desk, draft: Draft) -> Path:
    name = desk.file or draft.file
    path = Path(name)
    slow = desk.slow(draft)
    profile = profile_of(draft, slow, _board_name(draft, path))
    slow_ones = draft.settings == "slow"
    content = text_of(profile, draft.notes, draft.absent, to_enter=slow_ones).encode()
    again = load_machine(content.decode(), desk.rulebook, board_finder(desk.rulebook, path.parent), str(path))
    if again != profile:
        raise AssertionError("a profile must be read again as it was described")
    write_profile(path, content, read_profile(path) if draft.overwrite == name else None)
    return path


def _board_name(draft: Draft, path: Path) -> str:
    """The board as the profile names it: packed by name, an own one by its path from the profile."""
    if not draft.board_name.endswith(".toml"):
        return draft.board_name
    return Path(os.path.relpath(draft.board_name, path.parent)).as_posix()
