"""Board and machine profiles as frozen objects: what the rest of the package sees of ``profiles/``.

Read by :mod:`waitwright.rulebook.boards` and :mod:`waitwright.rulebook.machines`, which check every
name and value first.  Numbers are exact, in base units.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from waitwright.expr import Expression
from waitwright.ids import ChoiceId, OptionId, ParameterName, PartId, SlotId
from waitwright.rulebook.domain import LogicRule, Scalar, Symptom
from waitwright.units import Exact

Bus = Literal["", "isa8", "isa16", "vl", "pci"]
OptionKind = Literal["setup", "jumper"]

# ---------------------------------------------------------------------------------------- board


@dataclass(frozen=True, slots=True)
class SlotDef:
    """A place for parts.

    Attributes:
        role: Role that rules use for what sits here; empty for card slots.
        bus: Bus of a card slot; empty for all others.
        accepts: Part families that fit; empty means any of the right kind.
        chips: How many parts fill the place.
        soldered: Part that belongs to the board and cannot be exchanged.
        on: For drives, the card slot that carries their port, or ``board-isa``, ``board-vl``, ``board-pci``.
        loads: Local-bus loads soldered to the board here.
    """

    id: SlotId
    title: str
    role: str = ""
    bus: Bus = ""
    accepts: tuple[str, ...] = ()
    chips: int = 1
    soldered: PartId | None = None
    on: str = ""
    loads: int = 0


@dataclass(frozen=True, slots=True)
class ChoiceDef:
    """One choice of an option and the timing parameters that it sets, in base units."""

    id: ChoiceId
    label: str
    sets: Mapping[ParameterName, Scalar]


@dataclass(frozen=True, slots=True)
class OptionDef:
    """One line of the setup screen, or one jumper, with its choices in the board's order."""

    id: OptionId
    label: str
    kind: OptionKind
    help: str
    choices: tuple[ChoiceDef, ...]

    def choice(self, choice_id: ChoiceId) -> ChoiceDef:
        """The choice with that id.

        Raises:
            KeyError: if there is none.
        """
        for choice in self.choices:
            if choice.id == choice_id:
                return choice
        raise KeyError(choice_id)

    @property
    def parameters(self) -> tuple[ParameterName, ...]:
        """Every parameter that some choice of this option sets, in order of first mention."""
        return tuple(dict.fromkeys(name for choice in self.choices for name in choice.sets))


@dataclass(frozen=True, slots=True)
class Automatic:
    """While ``when`` holds, the board itself sets these parameters and options setting them do nothing."""

    when: Expression
    sets: Mapping[ParameterName, Expression]


@dataclass(frozen=True, slots=True)
class BoardProfile:
    """A mainboard.

    Attributes:
        fixed: Parameters that no option of this board sets, in base units.
        rules: Logic rules that hold on this board only.
    """

    title: str
    note: str
    fixed: Mapping[ParameterName, Scalar]
    slots: tuple[SlotDef, ...]
    options: tuple[OptionDef, ...]
    automatics: tuple[Automatic, ...] = ()
    rules: tuple[LogicRule, ...] = ()


# -------------------------------------------------------------------------------------- machine


@dataclass(frozen=True, slots=True)
class FitDef:
    """Equal parts in one slot.

    Attributes:
        size: Bytes of one memory module; None for other parts.
        refresh: Part id of a memory module's refresh class, when known.
    """

    part: PartId
    count: int = 1
    size: Exact | None = None
    refresh: PartId | None = None


@dataclass(frozen=True, slots=True)
class Environment:
    """What the owner measured around the CPU: volts at its pins, degrees Celsius on its case."""

    supply_v: Exact | None = None
    case_c: Exact | None = None


@dataclass(frozen=True, slots=True)
class Proven:
    """What the owner knows of the current settings: they ran so many hours, or failed with ``symptoms``."""

    hours: Exact | None = None
    symptoms: tuple[Symptom, ...] = ()


@dataclass(frozen=True, slots=True)
class SpareDef:
    """Parts in the owner's drawer."""

    part: PartId
    count: int = 1


@dataclass(frozen=True, slots=True)
class MeasuredDef:
    """A reading of the owner.  ``value`` is in base units, ``unit`` is how the owner wrote it."""

    name: str
    value: Exact
    unit: str
    where: str = ""


@dataclass(frozen=True, slots=True)
class PastTrial:
    """How a combination fared.

    Attributes:
        hours: How long it ran, or after how long it failed; None where that is not known.
        repairs: How often each suspect had been mended by then.
        fit: What sat in each slot; None for the parts of the profile.
    """

    settings: Mapping[OptionId, ChoiceId]
    stable: bool
    symptoms: tuple[Symptom, ...] = ()
    hours: Exact | None = None
    repairs: Mapping[str, int] = field(default_factory=dict)
    fit: Mapping[SlotId, tuple[FitDef, ...]] | None = None


@dataclass(frozen=True, slots=True)
class PastReading:
    """What a measurement showed.

    Attributes:
        measurement: Its id.
        places: For each place the log-densities of its readings if all is well there, and if not.
        repairs: How often each suspect had been mended by then.
        failure: The failure that it was about; None where there was none before.
    """

    measurement: str
    places: tuple[tuple[float, float], ...]
    repairs: Mapping[str, int]
    failure: PastTrial | None


@dataclass(frozen=True, slots=True)
class History:
    """What has been tried, measured and mended on a machine so far."""

    trials: tuple[PastTrial, ...] = ()
    readings: tuple[PastReading, ...] = ()
    repairs: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class MachineProfile:
    """One machine as its owner describes it.

    Attributes:
        board_name: How the file names the board: a packed name or a path relative to the file.
        fit: What sits in each slot; several entries where a bank is mixed.  Soldered parts are not listed.
        current: The current choice of every option of the board.
        labels: The owner's own words, by option id or ``option.choice``.
        environment: Measured surroundings.
        proven: What is known of the current settings; None where nothing is.
        history: From the logbook, which is a file of its own.
    """

    title: str
    note: str
    board_name: str
    board: BoardProfile
    fit: Mapping[SlotId, tuple[FitDef, ...]]
    current: Mapping[OptionId, ChoiceId]
    labels: Mapping[str, str] = field(default_factory=dict)
    environment: Environment = Environment()
    proven: Proven | None = None
    spares: tuple[SpareDef, ...] = ()
    measured: tuple[MeasuredDef, ...] = ()
    history: History = field(default_factory=History)
