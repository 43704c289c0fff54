"""``new --edit``: parts, settings, labels and what is known of them changed in a profile that stands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from waitwright._resources import packed_names
from waitwright.api.files import read_profile, write_profile
from waitwright.api.new import Intake, make_desk
from waitwright.errors import FileProblems, Problem, UsageError
from waitwright.ids import SlotId
from waitwright.intake.changes import changes_between, draft_of, edit_course, profile_after
from waitwright.intake.dialogue import Dialogue
from waitwright.intake.draft import Draft
from waitwright.intake.editing import edited
from waitwright.machine import build_machine, parse_settings, parse_what_if
from waitwright.rulebook.domain import Rulebook
from waitwright.rulebook.load import load_rulebook
from waitwright.rulebook.machines import board_finder, load_machine
from waitwright.rulebook.profiles import FitDef, MachineProfile


@dataclass(frozen=True, slots=True)
class _Standing:
    """A profile as it stands: what it says, and the bytes that say it."""

    path: Path
    content: bytes
    profile: MachineProfile
    rulebook: Rulebook

    def write(self, after: MachineProfile, notes: Mapping[SlotId, str]) -> Path | None:
        """Let the file hold *after*, with *notes* on new parts; None where it does already.

        Raises:
            InputError: if it was changed meanwhile, or cannot be written.
        """
        if after == self.profile:
            return None
        text = edited(self.content.decode(), self.profile, after, notes)
        finder = board_finder(self.rulebook, self.path.parent)
        if load_machine(text.removeprefix("\ufeff"), self.rulebook, finder, str(self.path)) != after:
            raise AssertionError("an edited profile must be read again as what it was changed to")
        write_profile(self.path, text.encode(), self.content)
        return self.path


@dataclass(frozen=True, slots=True)
class Edited:
    """What an edit changed: the path, and one line for each thing; no lines where nothing differs."""

    path: Path
    changes: tuple[str, ...]


def edit(
    file: Path, sets: Iterable[str] = (), parts: Iterable[str] = (), rules: Path | None = None
) -> Edited:
    """Change the profile at *file* as ``OPTION=CHOICE`` and ``SLOT=PART`` texts say, and nothing else in it.

    A part takes the place of all parts in its slot and keeps their count and size, as with ``--part``
    elsewhere; ``SLOT=none`` empties the slot.

    Raises:
        InputError: if profile, rules or wishes are faulty, or the file cannot be written.
    """
    standing = _read(file, rules)
    before = standing.profile
    wishes = parse_what_if(parts)
    machine = build_machine(file.stem, before, before.board, standing.rulebook, wishes)
    current = {**before.current, **parse_settings(machine, sets)}
    fit = dict(before.fit)
    for slot in map(SlotId, wishes):
        found = [one for one in machine.fitted if one.slot == slot]
        old = before.fit.get(slot, ())
        refresh = old[0].refresh if old else None
        fit[slot] = tuple(FitDef(one.part.id, one.count, one.size, refresh) for one in found)
    after = replace(before, current=current, fit={slot: fits for slot, fits in fit.items() if fits})
    changes = tuple(str(change).strip() for change in changes_between(before, after, standing.rulebook))
    standing.write(after, {})
    return Edited(file, changes)


def describe_changes(file: Path, rules: Path | None = None, patience: int | None = None) -> Intake:
    """The questions about what changes in the profile at *file*; arguments as those of ``describe``.

    Raises:
        InputError: if profile or rules are faulty.
    """
    standing = _read(file, rules)
    desk = make_desk(standing.rulebook, str(file))
    course = partial(edit_course, desk, standing.profile)

    def write(draft: Draft) -> Path | None:
        return standing.write(profile_after(standing.profile, draft), draft.notes)

    return Intake(Dialogue(course, patience), draft_of(standing.profile), write)


def _read(file: Path, rules: Path | None) -> _Standing:
    if not file.exists() and file.name in packed_names("machines"):
        raise UsageError(f"{file} is a packed machine: copy it first, with new --from {file}")
    rulebook = load_rulebook(rules)
    content = read_profile(file)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        problem = Problem(str(file), "", "is not UTF-8 text", "save it as UTF-8", line)
        raise FileProblems((problem,)) from None
    profile = load_machine(text, rulebook, board_finder(rulebook, file.parent), str(file))
    return _Standing(file, content, profile, rulebook)
