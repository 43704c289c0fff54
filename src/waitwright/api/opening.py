"""From a name or path to a machine ready for questions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from waitwright._resources import LOGBOOK_SUFFIX, packed_logbook, packed_names, packed_profile
from waitwright.errors import UsageError
from waitwright.ids import Settings
from waitwright.machine import Machine, build_machine, parse_settings, parse_what_if
from waitwright.nearest import hint_behind
from waitwright.rulebook.domain import Rulebook, Workload
from waitwright.rulebook.load import load_rulebook
from waitwright.rulebook.machines import board_finder, load_machine
from waitwright.timing.bind import BoundRules, bind
from waitwright.trials.logbook import Logbook

DEFAULT_WORKLOAD = "integer"


@dataclass(frozen=True, slots=True)
class Question:
    """What every command is asked about.

    Attributes:
        machine: Path of a machine profile, or the name of a packed one.
        rules: Folder with rules of the user's own, added to the packed ones.
        seed: Seed of the cloud.
        sets: ``OPTION=CHOICE`` texts that replace current choices.
        parts: ``SLOT=PART`` texts: what if that part were fitted.
    """

    machine: str
    rules: Path | None = None
    seed: int = 0
    sets: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()

    def at(self, settings: Mapping[str, str]) -> Question:
        """The same question about other *settings*: option id to choice id; the rest stays as it is."""
        return replace(self, sets=tuple(f"{option}={choice}" for option, choice in settings.items()))


@dataclass(frozen=True, slots=True)
class Bench:
    """A machine on the bench: its rules bound, and the settings that the question is about."""

    machine: Machine
    rules: BoundRules
    settings: Settings


def put_on_bench(question: Question) -> Bench:
    """Load everything that *question* needs.

    Raises:
        InputError: with one line for each thing that is wrong.
    """
    rulebook = load_rulebook(question.rules)
    machine = open_machine(question.machine, rulebook, question.parts)
    settings = machine.settings_with(parse_settings(machine, question.sets))
    return Bench(machine, bind(machine), settings)


def open_machine(name: str, rulebook: Rulebook, parts: Sequence[str] = ()) -> Machine:
    """The machine at path *name*, or the packed one of that name.

    Raises:
        UsageError: if there is neither.
        FileProblems: if the profile, its board or the logbook beside it is faulty.
    """
    path = Path(name)
    packed = packed_profile("machines", name)
    if packed is not None:
        profile = load_machine(packed, rulebook, board_finder(rulebook), f"{name}.toml")
    elif path.exists():
        profile = load_machine(path, rulebook, board_finder(rulebook, path.parent), str(path))
    else:
        raise no_such_machine(name)
    machine = build_machine(path.stem, profile, profile.board, rulebook, parse_what_if(parts))
    logbook = logbook_of(name)
    if not logbook.counting:
        return machine
    from waitwright.trials.history import with_history

    return with_history(machine, logbook)


def no_such_machine(name: str) -> UsageError:
    """What to raise where *name* is neither a file nor a packed machine."""
    hint = hint_behind(name, packed_names("machines"))
    return UsageError(f"{name}: no such file, and no packed machine of that name{hint}")


def logbook_of(name: str) -> Logbook:
    """The logbook beside the machine *name*, which is packed or at a path; an empty one where there is none.

    Raises:
        FileProblems: if it is faulty.
    """
    if packed_profile("machines", name) is None:
        from waitwright.trials.store import LogbookStore  # only owners' machines are written to

        return LogbookStore.beside(Path(name)).read()
    packed = packed_logbook(name)
    if packed is None:
        return Logbook(name)
    from waitwright.trials.logfile import load_logbook  # few examples have one

    return load_logbook(packed, f"{name}{LOGBOOK_SUFFIX}")


def find_workload(rulebook: Rulebook, name: str | None) -> Workload:
    """The workload called *name*, or the default one.

    Raises:
        UsageError: if there is none of that name.
    """
    wanted = name or DEFAULT_WORKLOAD
    if wanted not in rulebook.workloads:
        raise UsageError(f"--workload {wanted}: no such workload{hint_behind(wanted, rulebook.workloads)}")
    return rulebook.workloads[wanted]
