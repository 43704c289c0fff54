"""What may stand for each metavar of the command line, for shells that complete words.

Loaded only once somebody presses the key; :mod:`waitwright.cli.completion` is the light half.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from waitwright._resources import packed_names
from waitwright.report.controls_view import ControlsView

Words = Iterator[tuple[str, str]]
"""A word to go on with, and what it means."""

LOGBOOK = ".logbook.toml"


@dataclass(frozen=True, slots=True)
class Asked:
    """What is known when a word is asked for.

    Attributes:
        partial: The word as far as it is typed.
        machine: The machine that the line names so far.
        rules: The folder of rules that it names.
    """

    partial: str
    machine: str | None = None
    rules: Path | None = None

    def controls(self) -> ControlsView:
        """All that can be chosen on the machine."""
        from waitwright.api.controls import controls
        from waitwright.api.opening import Question

        return controls(Question(self.machine or "", rules=self.rules))


def nothing(_: Asked) -> Words:
    """A word that only the user knows, or a file that the shell knows better."""
    yield from ()


def _machines(asked: Asked) -> Words:
    yield from _packed(asked)
    folder = Path(asked.partial if asked.partial.endswith("/") else Path(asked.partial).parent)
    before = asked.partial[: asked.partial.rfind("/") + 1]
    for path in sorted(folder.iterdir()):
        if path.is_dir() and not path.name.startswith("."):
            yield f"{before}{path.name}/", "folder"
        elif path.name.endswith(".toml") and not path.name.endswith(LOGBOOK):
            yield f"{before}{path.name}", "profile"


def _packed(_: Asked) -> Words:
    for name in packed_names("machines"):
        yield name, "packed example"


def _options(asked: Asked) -> Words:
    for option in asked.controls().options:
        yield option.option, option.label


def _choices(asked: Asked) -> Words:
    name, equals, _ = asked.partial.partition("=")
    for option in asked.controls().options:
        if not equals:
            yield f"{option.option}=", option.label
        elif option.option == name:
            for choice in option.choices:
                yield f"{name}={choice.id}", choice.title


def _parts(asked: Asked) -> Words:
    name, equals, _ = asked.partial.partition("=")
    for slot in asked.controls().slots:
        if not equals and not slot.soldered:
            yield f"{slot.slot}=", slot.title
        elif equals and slot.slot == name:
            yield f"{name}=none", "leave it empty"
            for part in slot.parts:
                yield f"{name}={part.id}", part.title


def _workloads(asked: Asked) -> Words:
    from waitwright.rulebook.load import load_rulebook

    for work in load_rulebook(asked.rules).workloads.values():
        yield work.id, work.title


def _suspects(asked: Asked) -> Words:
    from waitwright.rulebook.load import load_rulebook

    for suspect in load_rulebook(asked.rules).suspects.values():
        yield suspect.id, suspect.title


def _measurements(asked: Asked) -> Words:
    from waitwright.rulebook.load import load_rulebook

    name, equals, _ = asked.partial.partition("=")
    for one in load_rulebook(asked.rules).measurements.values():
        if not equals:
            yield f"{one.id}=", one.title
        elif one.id == name and one.kind == "answer":
            yield f"{name}=yes", one.title
            yield f"{name}=no", one.title


def _symptoms(_: Asked) -> Words:
    from waitwright.rulebook.domain import SYMPTOMS

    yield from ((symptom, "") for symptom in SYMPTOMS)


def _outcomes(_: Asked) -> Words:
    yield "stable", "it ran without a fault"
    yield "failed", "tell how with --symptom"


def _kinds(_: Asked) -> Words:
    from waitwright.api.rules import KINDS

    yield from ((kind, "") for kind in KINDS)


def _ids(asked: Asked) -> Words:
    from waitwright.api.rules import list_rules

    for rule in list_rules(asked.rules).rules:
        yield rule.id, rule.title


def _file_kinds(_: Asked) -> Words:
    from waitwright.schema.export import FILE_KINDS

    yield from ((kind, "") for kind in FILE_KINDS)


def _shells(_: Asked) -> Words:
    from waitwright.cli.completion import SCRIPTS

    yield from ((shell, "") for shell in SCRIPTS)


VALUES: Mapping[str, Callable[[Asked], Words]] = {
    "MACHINE": _machines,
    "NAME": _packed,
    "OPTION": _options,
    "OPTION=CHOICE": _choices,
    "SLOT=PART": _parts,
    "W": _workloads,
    "SUSPECT": _suspects,
    "NAME=VALUE": _measurements,
    "S": _symptoms,
    "stable|failed": _outcomes,
    "KIND": _kinds,
    "ID": _ids,
    "FILE-KIND": _file_kinds,
    "SHELL": _shells,
}
"""Metavar to the words that may stand for it; any other is a number, a text or a file."""
