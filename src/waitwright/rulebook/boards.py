"""Board profiles: read, checked against the rulebook, every error at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from waitwright.expr import FLAG
from waitwright.ids import ChoiceId, OptionId, ParameterName, PartId, SlotId
from waitwright.nearest import did_you_mean
from waitwright.rulebook.domain import LogicRule, Parameter, Rulebook, Scalar
from waitwright.rulebook.fits import misfit
from waitwright.rulebook.kinds import Vocabulary, kind_of_unit
from waitwright.rulebook.lint import Finding, Scope, check_logic
from waitwright.rulebook.profiles import Automatic, BoardProfile, ChoiceDef, OptionDef, SlotDef
from waitwright.rulebook.rules import RuleReader
from waitwright.rulebook.shelf import Place, Shelf
from waitwright.rulebook.texts import TextReader
from waitwright.schema.board import SECTIONS, AutomaticEntry, BoardHead, OptionEntry, SlotEntry
from waitwright.schema.problems import Faults, Placed
from waitwright.schema.rulefile import LogicEntry
from waitwright.schema.scalars import Cell, in_base_units, shown
from waitwright.schema.spans import KeyPath
from waitwright.schema.tomlfile import Readable, TomlFile, read_toml
from waitwright.units import Exact, from_base

BOARD_PORTS = ("board-isa", "board-vl", "board-pci")
"""Places of a drive port that is part of the board."""


def load_board(source: Readable | str, rulebook: Rulebook, name: str = "board") -> BoardProfile:
    """The board profile in *source*, a path, packed resource or text that users know as *name*.

    Raises:
        FileProblems: with every error of the file.
    """
    reader = _BoardReader(read_toml(source, name), rulebook)
    board = reader.read()
    reader.faults.raise_if_any()
    return board


@dataclass(slots=True)
class _BoardReader:
    """Reads one board.  ``setters`` tells who sets a parameter, to find a second one."""

    file: TomlFile
    rulebook: Rulebook
    faults: Faults = field(default_factory=Faults)
    slots: Shelf[SlotDef] = field(default_factory=lambda: Shelf("slot"))
    options: Shelf[OptionDef] = field(default_factory=lambda: Shelf("option"))
    rules: Shelf[LogicRule] = field(default_factory=lambda: Shelf("rule"))
    setters: dict[ParameterName, str] = field(default_factory=dict)
    texts: TextReader = field(init=False)
    vocabulary: Vocabulary = field(init=False)

    def __post_init__(self) -> None:
        self.texts = TextReader(self.faults)
        self.vocabulary = Vocabulary.of(self.rulebook)

    def read(self) -> BoardProfile:
        head, _ = self.faults.take_head(BoardHead, self.file, SECTIONS)
        fixed = {} if head is None else self._values(("fixed",), head.fixed)
        self.setters.update((name, "the board's fixed values") for name in fixed)
        for slot in self.faults.take_list(SlotEntry, self.file, "slot"):
            self.slots.put(self.faults, slot.entry.id, self._slot(slot), Place(self.file, slot.path))
        self._check_ports()
        for option in self.faults.take_list(OptionEntry, self.file, "option"):
            self.options.put(
                self.faults, option.entry.id, self._option(option), Place(self.file, option.path)
            )
        automatics = tuple(
            map(self._automatic, self.faults.take_list(AutomaticEntry, self.file, "automatic"))
        )
        for rule in self.faults.take_list(LogicEntry, self.file, "rule"):
            self.rules.put(self.faults, rule.entry.id, self._rule(rule), Place(self.file, rule.path))
        return BoardProfile(
            title=head.title if head else "",
            note=head.note if head else "",
            fixed=fixed,
            slots=tuple(self.slots.things.values()),
            options=tuple(self.options.things.values()),
            automatics=automatics,
            rules=tuple(self.rules.things.values()),
        )

    def _fault(self, path: KeyPath, message: str, hint: str = "") -> None:
        self.faults.add(self.file, path, message, hint)

    def _note(self, path: KeyPath, findings: Iterable[Finding]) -> None:
        for finding in findings:
            self._fault((*path, *finding.path), finding.message, finding.hint)

    # ------------------------------------------------------------------------------------- slots

    def _slot(self, placed: Placed[SlotEntry]) -> SlotDef:
        entry, path = placed.entry, placed.path
        roles = self.rulebook.roles
        if (entry.role is None) == (entry.bus is None):
            self._fault(
                path, "expected a role or a bus, and not both", "a card slot has a bus, all others a role"
            )
        if entry.role is not None and entry.role not in roles:
            self._fault((*path, "role"), f"unknown role {entry.role!r}", did_you_mean(entry.role, roles))
        elif entry.role is not None and roles[entry.role].kind == "card":
            self._fault((*path, "role"), "cards have no role of their own", "give the slot a bus instead")
        families = {part.family for part in self.rulebook.parts.values()}
        for position, family in enumerate(entry.accepts):
            if family not in families:
                hint = did_you_mean(family, families)
                self._fault((*path, "accepts", position), f"unknown family of parts {family!r}", hint)
        slot = SlotDef(
            id=SlotId(entry.id),
            title=entry.title,
            role=entry.role or "",
            bus=entry.bus or "",
            accepts=tuple(entry.accepts),
            chips=entry.chips,
            soldered=PartId(entry.soldered) if entry.soldered else None,
            on=entry.on or "",
            loads=entry.loads,
        )
        if entry.loads and entry.bus != "vl":
            self._fault((*path, "loads"), 'only a slot on bus "vl" has local-bus loads')
        if slot.soldered is not None:
            self._check_soldered((*path, "soldered"), slot, slot.soldered)
        return slot

    def _check_soldered(self, path: KeyPath, slot: SlotDef, part_id: PartId) -> None:
        part = self.rulebook.parts.get(part_id)
        if part is None:
            self._fault(path, f"unknown part {part_id!r}", did_you_mean(part_id, self.rulebook.parts))
        elif not slot.role or slot.role in self.rulebook.roles:
            reason = misfit(slot, part, self.rulebook)
            if reason:
                self._fault(path, reason)

    def _check_ports(self) -> None:
        """A drive's port is on a card slot or on the board; nothing else is on anything."""
        places = [*BOARD_PORTS, *(name for name, slot in self.slots.things.items() if slot.bus)]
        for name, slot in self.slots.things.items():
            path = self.slots.places[name].path
            role = self.rulebook.roles.get(slot.role)
            if role is None:
                continue
            if role.kind != "drive" and slot.on:
                self._fault((*path, "on"), "only a slot for a drive is on something")
            elif role.kind == "drive" and not slot.on:
                self._fault(
                    path, 'missing key "on"', "name the card slot or board port that the drive hangs on"
                )
            elif slot.on and slot.on not in places and slot.on not in self._faulty_slots():
                hint = did_you_mean(slot.on, places)
                self._fault((*path, "on"), f"no card slot or board port {slot.on!r}", hint)

    def _faulty_slots(self) -> set[object]:
        """Ids of slots that are in the file but could not be read."""
        raw = self.file.data["slot"]
        return {slot.get("id") for slot in raw if isinstance(slot.get("id"), str)} - self.slots.things.keys()

    # ----------------------------------------------------------------------------------- options

    def _option(self, placed: Placed[OptionEntry]) -> OptionDef:
        entry = placed.entry
        choices: Shelf[ChoiceDef] = Shelf("choice")
        for position, choice in enumerate(entry.choice):
            path = (*placed.path, "choice", position)
            sets = self._values((*path, "set"), choice.set)
            self._claim((*path, "set"), sets, f"option {entry.id!r}")
            made = ChoiceDef(ChoiceId(choice.id), choice.label, sets)
            choices.put(self.faults, choice.id, made, Place(self.file, path))
        return OptionDef(
            OptionId(entry.id), entry.label, entry.kind, entry.help, tuple(choices.things.values())
        )

    def _claim(self, path: KeyPath, sets: Iterable[ParameterName], owner: str) -> None:
        """One parameter, one option: two would leave open which of them counts."""
        for name in sets:
            first = self.setters.setdefault(name, owner)
            if first != owner:
                message = f"{name!r} is set by {first} and by {owner}"
                self._fault((*path, name), message, "leave it to one of them")

    def _values(self, path: KeyPath, cells: Mapping[str, Cell]) -> dict[ParameterName, Scalar]:
        """Parameter values, written in the parameters' units, in base units; faulty ones left out."""
        values: dict[ParameterName, Scalar] = {}
        for name, cell in cells.items():
            parameter = self._parameter((*path, name), name)
            if parameter is None:
                continue
            try:
                values[parameter.name] = parameter_value(parameter, cell)
            except ValueError as error:
                self._fault((*path, name), str(error))
        return values

    def _parameter(self, path: KeyPath, name: str) -> Parameter | None:
        parameter = self.rulebook.parameters.get(name)
        if parameter is None:
            hint = did_you_mean(name, self.rulebook.parameters)
            self._fault(path, f"unknown parameter {name!r}", hint)
        return parameter

    # ------------------------------------------------------------------------------------- rules

    def _automatic(self, placed: Placed[AutomaticEntry]) -> Automatic:
        mark = len(self.faults.problems)
        path = placed.path
        when = self.texts.expression(self.file, (*path, "when"), placed.entry.when)
        sets = {
            ParameterName(name): self.texts.expression(self.file, (*path, "set", name), text)
            for name, text in placed.entry.set.items()
        }
        if len(self.faults.problems) == mark:
            scope = Scope("rule", "automatic", self.vocabulary, each="")
            self._note(path, scope.check(("when",), when, FLAG))
            for name, expression in sets.items():
                parameter = self._parameter((*path, "set", name), name)
                if parameter is not None:
                    wanted = kind_of_unit(parameter.unit)
                    self._note(path, scope.check(("set", name), expression, wanted))
        return Automatic(when, sets)

    def _rule(self, placed: Placed[LogicEntry]) -> LogicRule:
        mark = len(self.faults.problems)
        rule = RuleReader(self.texts).logic(placed)
        if len(self.faults.problems) == mark:
            roles = {str(name): role.each for name, role in self.rulebook.roles.items()}
            scope = Scope("rule", rule.id, self.vocabulary, rule.each)
            self._note(placed.path, check_logic(rule, scope, roles))
        ours = (self.rulebook.budgets, self.rulebook.limits, self.rulebook.logic)
        if any(rule.id in known for known in ours):
            self._fault((*placed.path, "id"), f"the rulebook has a rule {rule.id!r} already", "rename it")
        return rule


def parameter_value(parameter: Parameter, cell: Cell) -> Scalar:
    """*cell*, written in the parameter's unit, in base units.

    Raises:
        ValueError: telling why it is no value of this parameter.
    """
    bounds: dict[str, Exact] = {}
    if parameter.least is not None:
        bounds["least"] = from_base(parameter.least, parameter.unit)
    if parameter.most is not None:
        bounds["most"] = from_base(parameter.most, parameter.unit)
    value = in_base_units(cell, parameter.unit, **bounds)
    if parameter.unit == "text" and value not in parameter.values:
        raise ValueError(f"expected {' or '.join(map(repr, parameter.values))}, found {shown(value)}")
    return value
