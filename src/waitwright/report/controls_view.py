"""What can be chosen, fitted, recorded and asked on one machine, as plain data."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class NamedView:
    """Something to choose: its id and its words."""

    id: str
    title: str


@dataclass(frozen=True, slots=True)
class OptionView:
    """One line of the setup screen, or one jumper, with its choices.

    Attributes:
        current: Choice id in the profile.
        chosen: Choice id that the question is about.
        inert: True where an automatic mode sets all that it would set.
    """

    option: str
    label: str
    kind: str
    help: str
    choices: tuple[NamedView, ...]
    current: str
    chosen: str
    inert: bool

    @property
    def now(self) -> str:
        """The profile's choice in words."""
        return next(choice.title for choice in self.choices if choice.id == self.current)


@dataclass(frozen=True, slots=True)
class SlotView:
    """A place for parts.

    Attributes:
        now: What the profile has there, in words; empty where that is nothing.
        chosen: Part id of a what-if, ``none`` for an empty slot; empty where it stays as it is.
        soldered: True where nothing can be exchanged.
        parts: All that fits there.
    """

    slot: str
    title: str
    now: str
    chosen: str
    soldered: bool
    parts: tuple[NamedView, ...]


@dataclass(frozen=True, slots=True)
class MeasurableView:
    """Something to measure: its usual unit (empty for a yes or no) and whether one reading is a list."""

    id: str
    title: str
    how: str
    unit: str
    answer: bool
    several: bool


@dataclass(frozen=True, slots=True)
class ControlsView:
    """All that a form about one machine needs to offer.

    Attributes:
        packed: True for a packed example, which is never written to.
        spares: True where the profile lists spares.
    """

    machine: str
    title: str
    packed: bool
    spares: bool
    options: tuple[OptionView, ...]
    slots: tuple[SlotView, ...]
    workloads: tuple[NamedView, ...]
    symptoms: tuple[str, ...]
    measurables: tuple[MeasurableView, ...]
    suspects: tuple[NamedView, ...]
