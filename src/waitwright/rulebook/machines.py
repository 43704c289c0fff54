"""Machine profiles: read and checked against board and rulebook, and written back."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

from waitwright._resources import packed_names, packed_profile
from waitwright.errors import FileProblems, UsageError
from waitwright.ids import ChoiceId, OptionId, PartId, SlotId
from waitwright.nearest import did_you_mean
from waitwright.rulebook.boards import load_board
from waitwright.rulebook.domain import Part, Rulebook
from waitwright.rulebook.fits import fitting_parts, misfit
from waitwright.rulebook.profiles import (
    BoardProfile,
    Environment,
    FitDef,
    MachineProfile,
    MeasuredDef,
    Proven,
    SlotDef,
    SpareDef,
)
from waitwright.schema.machine import (
    SECTIONS,
    EnvironmentEntry,
    FitEntry,
    MachineHead,
    MeasuredEntry,
    ProvenEntry,
    SpareEntry,
)
from waitwright.schema.problems import Faults, Placed
from waitwright.schema.scalars import MOST, in_base_units
from waitwright.schema.spans import KeyPath
from waitwright.schema.tomlfile import Readable, TomlFile, read_toml
from waitwright.units import UNITS, Exact, to_base

BoardFinder = Callable[[str], BoardProfile]
"""From a board's name, as a machine profile gives it, to the board.

Raises :class:`UsageError` where there is none, :class:`FileProblems` where it is faulty.
"""


def load_machine(
    source: Readable | str, rulebook: Rulebook, find_board: BoardFinder, name: str = "machine"
) -> MachineProfile:
    """The machine profile in *source*, a path, packed resource or text that users know as *name*.

    Raises:
        FileProblems: with every error of the file, or of its board.
    """
    return _MachineReader(read_toml(source, name), rulebook).read(find_board)


def board_finder(rulebook: Rulebook, beside: Path | None = None) -> BoardFinder:
    """A finder for packed boards by name, and for paths relative to the folder *beside*."""

    def find(name: str) -> BoardProfile:
        packed = packed_profile("boards", name)
        if packed is not None:
            return load_board(packed, rulebook, f"profiles/boards/{name}.toml")
        if beside is not None and ("/" in name or name.endswith(".toml")):
            path = beside / name
            if path.exists():
                return load_board(path, rulebook, str(path))
            raise UsageError(f"no board file {str(path)!r}")
        hint = did_you_mean(name, packed_names("boards"))
        raise UsageError(f"unknown board {name!r}" + (f" ({hint})" if hint else ""))

    return find


@dataclass(slots=True)
class _MachineReader:
    file: TomlFile
    rulebook: Rulebook
    faults: Faults = field(default_factory=Faults)

    def read(self, find_board: BoardFinder) -> MachineProfile:
        self._refuse_a_board()
        head, broken = self.faults.take_head(MachineHead, self.file, SECTIONS)
        spares = tuple(map(self._spare, self.faults.take_list(SpareEntry, self.file, "spare")))
        measured = tuple(map(self._measured, self.faults.take_list(MeasuredEntry, self.file, "measured")))
        board = None if head is None else self._board(head, find_board)
        if head is None or board is None:
            self.faults.raise_if_any()
            raise AssertionError("a profile without head or board is a fault")
        profile = MachineProfile(
            title=head.title,
            note=head.note,
            board_name=head.board,
            board=board,
            fit=self._fit(head.fit, board),
            current={} if "current" in broken else self._current(head.current, board),
            labels=self._labels(head.labels, board),
            environment=self._environment(head.environment),
            proven=self._proven(head.proven),
            spares=spares,
            measured=measured,
        )
        self.faults.raise_if_any()
        return profile

    def _refuse_a_board(self) -> None:
        """A board taken for a machine is told as that, rather than by all that it lacks."""
        keys = self.file.data.keys()
        if keys & {"slot", "option"} and not keys & {"board", "fit", "current"}:
            self._fault(
                (), "this looks like a board profile", "a machine profile names its board and its parts"
            )
            self.faults.raise_if_any()

    def _fault(self, path: KeyPath, message: str, hint: str = "") -> None:
        self.faults.add(self.file, path, message, hint)

    def _board(self, head: MachineHead, find_board: BoardFinder) -> BoardProfile | None:
        try:
            return find_board(head.board)
        except FileProblems as error:
            self.faults.problems.extend(error.problems)
        except UsageError as error:
            self._fault(("board",), str(error))
        return None

    # ------------------------------------------------------------------------------------- parts

    def _part(self, path: KeyPath, part_id: str, slot: SlotDef | None = None) -> Part | None:
        """The part with that id; where there is none, the nearest that *slot* could take are offered."""
        part = self.rulebook.parts.get(part_id)
        if part is None:
            fitting = [other.id for other in fitting_parts(slot, self.rulebook)] if slot else []
            hint = did_you_mean(part_id, fitting or self.rulebook.parts)
            self._fault(path, f"unknown part {part_id!r}", hint)
        return part

    def _fit(
        self, fit: Mapping[str, tuple[Mapping[str, Any], ...]], board: BoardProfile
    ) -> dict[SlotId, tuple[FitDef, ...]]:
        slots = {str(slot.id): slot for slot in board.slots}
        fitted: dict[SlotId, tuple[FitDef, ...]] = {}
        for name, raw in fit.items():
            path: KeyPath = ("fit", name)
            slot = slots.get(name)
            if slot is None:
                self._fault(path, f"the board has no slot {name!r}", did_you_mean(name, slots))
            elif slot.soldered:
                self._fault(path, f"{slot.soldered!r} is soldered here", "leave this slot out")
            else:
                fitted[slot.id] = self._fill(path, slot, raw)
        return fitted

    def _fill(self, path: KeyPath, slot: SlotDef, raw: tuple[Mapping[str, Any], ...]) -> tuple[FitDef, ...]:
        as_list = isinstance(self.file.data["fit"][slot.id], list)
        fits = []
        for position, item in enumerate(raw):
            where = (*path, position) if as_list else path
            entry = self.faults.take(FitEntry, self.file, where, item)
            if entry is not None:
                fits.append(self._fitted(where, slot, entry))
        if sum(one.count for one in fits) > slot.chips:
            total = sum(one.count for one in fits)
            self._fault(path, f"{total} parts in a slot for {slot.chips}", "correct the count")
        return tuple(fits)

    def _fitted(self, path: KeyPath, slot: SlotDef, entry: FitEntry) -> FitDef:
        part = self._part((*path, "part"), entry.part, slot)
        reason = misfit(slot, part, self.rulebook) if part is not None else ""
        if reason:
            names = [other.id for other in fitting_parts(slot, self.rulebook)]
            self._fault((*path, "part"), reason, did_you_mean(entry.part, names))
        is_memory = part is None or part.kind == "dram"
        for key in ("size_mb", "refresh"):
            if getattr(entry, key) is not None and not is_memory:
                self._fault((*path, key), "only memory modules have one", "leave it out")
        size = entry.size_mb
        if size is not None and not 0 < size <= 256:
            self._fault((*path, "size_mb"), "expected the size of one module: more than 0, at most 256 MB")
        if entry.refresh is not None:
            refresh = self._part((*path, "refresh"), entry.refresh)
            if refresh is not None and refresh.kind != "refresh":
                known = [part.id for part in self.rulebook.parts.values() if part.kind == "refresh"]
                hint = did_you_mean(entry.refresh, known)
                self._fault((*path, "refresh"), f"{entry.refresh!r} is no refresh class", hint)
        return FitDef(
            part=PartId(entry.part),
            count=slot.chips if entry.count is None else entry.count,
            size=None if size is None else to_base(Fraction(size), "MB"),
            refresh=PartId(entry.refresh) if entry.refresh else None,
        )

    def _spare(self, placed: Placed[SpareEntry]) -> SpareDef:
        self._part((*placed.path, "part"), placed.entry.part)
        return SpareDef(PartId(placed.entry.part), placed.entry.count)

    # ---------------------------------------------------------------------------------- settings

    def _current(self, current: Mapping[str, str], board: BoardProfile) -> dict[OptionId, ChoiceId]:
        options = {str(option.id): option for option in board.options}
        for name in current:
            if name not in options:
                hint = did_you_mean(name, options)
                self._fault(("current", name), f"the board has no option {name!r}", hint)
        settings: dict[OptionId, ChoiceId] = {}
        for name, option in options.items():
            choices = [str(choice.id) for choice in option.choices]
            chosen = current.get(name)
            if chosen is None:
                hint = f"add {name} = one of {', '.join(choices[:8])}"
                self._fault(("current",), f"option {name!r} has no current choice", hint)
            elif chosen not in choices:
                hint = did_you_mean(chosen, choices)
                self._fault(("current", name), f"option {name!r} has no choice {chosen!r}", hint)
            else:
                settings[option.id] = ChoiceId(chosen)
        return settings

    def _labels(self, labels: Mapping[str, str], board: BoardProfile) -> dict[str, str]:
        options = {str(option.id): option for option in board.options}
        for key in labels:
            name, dot, choice = key.partition(".")
            option = options.get(name)
            if option is None:
                hint = did_you_mean(name, options)
                self._fault(("labels", key), f"the board has no option {name!r}", hint)
            elif dot and all(choice != known.id for known in option.choices):
                hint = did_you_mean(choice, [str(known.id) for known in option.choices])
                self._fault(("labels", key), f"option {name!r} has no choice {choice!r}", hint)
        return dict(labels)

    # ---------------------------------------------------------------------------------- readings

    def _environment(self, entry: EnvironmentEntry) -> Environment:
        return Environment(
            self._within("supply_v", entry.supply_v, 0, 20, "V"),
            self._within("case_c", entry.case_c, -60, 200, "C"),
        )

    def _within(self, key: str, value: Exact | None, least: int, most: int, unit: str) -> Exact | None:
        if value is not None and not least < value <= most:
            self._fault(("environment", key), f"expected more than {least}, at most {most} {unit}")
        return value

    def _proven(self, entry: ProvenEntry | None) -> Proven | None:
        if entry is None:
            return None
        if (entry.hours is None) == (entry.symptoms is None):
            self._fault(
                ("proven",), "expected hours or symptoms, and not both", "how long it ran, or how it failed"
            )
        if entry.hours is not None and not 0 < entry.hours <= 100_000:
            self._fault(("proven", "hours"), "expected more than 0, at most 100000 hours")
        if entry.symptoms is not None and not entry.symptoms:
            self._fault(("proven", "symptoms"), "expected at least one symptom")
        return Proven(entry.hours, tuple(entry.symptoms or ()))

    def _measured(self, placed: Placed[MeasuredEntry]) -> MeasuredDef:
        entry = placed.entry
        value = entry.value
        if entry.unit not in UNITS:
            self._fault((*placed.path, "unit"), f"expected a unit of numbers, found {entry.unit!r}")
        else:
            try:
                in_base_units(value, entry.unit, least=-MOST, most=MOST)
                value = to_base(Fraction(value), entry.unit)
            except ValueError as error:
                self._fault((*placed.path, "value"), str(error))
        return MeasuredDef(entry.name, value, entry.unit, entry.where)
