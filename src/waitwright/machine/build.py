"""Profile + board + rulebook -> :class:`Machine`, with what-if parts and settings."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from waitwright.errors import UsageError
from waitwright.expr import Expression, parse
from waitwright.ids import ChoiceId, OptionId, Settings, SlotId
from waitwright.machine.census import count_facts
from waitwright.machine.constants import Member, members_of, worst_facts
from waitwright.machine.fitting import CPU, fit
from waitwright.machine.machine import OWN_PREFIX, Machine
from waitwright.nearest import hint_behind
from waitwright.rulebook.domain import Provenance, Rulebook, Scalar
from waitwright.rulebook.fits import misfit
from waitwright.rulebook.profiles import BoardProfile, FitDef, MachineProfile, OptionDef


def build_machine(
    name: str,
    profile: MachineProfile,
    board: BoardProfile,
    rulebook: Rulebook,
    what_if: Mapping[str, str] | None = None,
) -> Machine:
    """Join the pieces.

    Args:
        what_if: Slot to part id (or ``none``), replacing what the profile says is fitted.

    Raises:
        UsageError: if a what-if does not fit the board.
    """
    fitted = fit(board, profile, rulebook, what_if or {})
    constants: dict[str, Scalar] = {}
    sources: dict[str, Provenance] = {}
    members: dict[str, tuple[Member, ...]] = {}
    for role in rulebook.roles.values():
        members[role.name] = members_of(role, fitted)
        if not role.each:
            facts, origins = worst_facts(role, members[role.name], rulebook)
            constants.update(facts)
            sources.update(origins)
    constants.update(count_facts(board, fitted, tuple(rulebook.roles.values())))
    definitions = {str(fact.name): fact.expression for fact in rulebook.facts.values()}
    setters = {str(parameter): option.id for option in board.options for parameter in option.parameters}
    _settle_parameters(board, rulebook, setters, constants, definitions)
    _override(board, constants, definitions)
    return Machine(
        name=name,
        profile=profile,
        board=board,
        rulebook=rulebook,
        options=tuple(_owner_labels(option, profile.labels) for option in board.options),
        current=dict(profile.current),
        fitted=fitted,
        members=members,
        constants=constants,
        sources=sources,
        setters=setters,
        definitions=definitions,
        rules=(*rulebook.logic.values(), *board.rules),
    )


def as_found(machine: Machine) -> Machine:
    """The machine with the parts that its profile lists, any what-if taken back."""
    board, profile, rulebook = machine.board, machine.profile, machine.rulebook
    if fit(board, profile, rulebook, {}) == machine.fitted:
        return machine
    return build_machine(machine.name, profile, board, rulebook)


def refitted(machine: Machine, parts: Mapping[SlotId, tuple[FitDef, ...]]) -> Machine:
    """The machine as it was with *parts* in its slots, in which nothing is :func:`unfit`."""
    profile = replace(machine.profile, fit=parts)
    return build_machine(machine.name, profile, machine.board, machine.rulebook)


def unfit(machine: Machine, parts: Mapping[SlotId, tuple[FitDef, ...]]) -> tuple[str, ...]:
    """Why *parts* can never have sat in the slots of *machine*, as far as board and rules know."""
    return tuple(_unfit(machine, parts))


def _unfit(machine: Machine, parts: Mapping[SlotId, tuple[FitDef, ...]]) -> Iterator[str]:
    slots, known = {slot.id: slot for slot in machine.board.slots}, machine.rulebook.parts
    for slot_id, fits in parts.items():
        slot = slots.get(slot_id)
        if slot is None:
            yield f"the board has no slot {slot_id!r}"
            continue
        if slot.soldered:
            yield f"in slot {slot_id!r} {slot.soldered!r} is soldered"
        if sum(one.count for one in fits) > slot.chips:
            yield f"slot {slot_id!r} takes {slot.chips} at most"
        for one in fits:
            if one.part not in known or (one.refresh is not None and one.refresh not in known):
                yield f"no part is called {str(one.part if one.part not in known else one.refresh)!r}"
            elif reason := misfit(slot, known[one.part], machine.rulebook):
                yield f"slot {slot_id!r}: {reason}"
    sockets = [slot.id for slot in machine.board.slots if slot.role == CPU and not slot.soldered]
    if sockets and not any(parts.get(socket) for socket in sockets):
        yield f"slot {sockets[0]!r} was empty: without a CPU nothing runs"


def _settle_parameters(
    board: BoardProfile,
    rulebook: Rulebook,
    setters: Mapping[str, OptionId],
    constants: dict[str, Scalar],
    definitions: dict[str, Expression],
) -> None:
    """Parameters that no option sets: fixed by the board, or the default of the rulebook."""
    constants.update((str(name), value) for name, value in board.fixed.items())
    for parameter in rulebook.parameters.values():
        if parameter.name not in setters and parameter.name not in board.fixed and parameter.default:
            definitions[parameter.name] = parameter.default


def _override(board: BoardProfile, constants: dict[str, Scalar], definitions: dict[str, Expression]) -> None:
    """Let automatic modes take over their parameters; each one's own setting stays known as ``own.NAME``."""
    overridden: set[str] = set()
    for automatic in board.automatics:
        for parameter, value in automatic.sets.items():
            own = otherwise = f"{OWN_PREFIX}{parameter}"
            if parameter in overridden:
                otherwise = definitions[parameter].text
            else:
                overridden.add(parameter)
                if parameter in definitions:
                    definitions[own] = definitions.pop(parameter)
                elif parameter in constants:
                    constants[own] = constants.pop(parameter)
            definitions[parameter] = parse(f"({value.text}) if ({automatic.when.text}) else ({otherwise})")


def _owner_labels(option: OptionDef, labels: Mapping[str, str]) -> OptionDef:
    """The option under the words that the owner's own screen uses."""
    if option.id not in labels and not any(f"{option.id}.{choice.id}" in labels for choice in option.choices):
        return option
    choices = tuple(
        replace(choice, label=labels.get(f"{option.id}.{choice.id}", choice.label))
        for choice in option.choices
    )
    return replace(option, label=labels.get(option.id, option.label), choices=choices)


def parse_settings(machine: Machine, texts: Iterable[str]) -> Settings:
    """``OPTION=CHOICE`` texts as changes, checked against *machine*.

    Raises:
        UsageError: if a text has no ``=``, or names an unknown option or choice, or repeats one.
    """
    changes: Settings = {}
    by_id = {str(option.id): option for option in machine.options}
    for text in texts:
        option_id, equals, choice_id = text.partition("=")
        if not equals:
            raise UsageError(f"--set {text}: expected OPTION=CHOICE")
        option = by_id.get(option_id)
        if option is None:
            raise UsageError(f"--set {text}: no option {option_id!r}{hint_behind(option_id, by_id)}")
        choices = {str(choice.id) for choice in option.choices}
        if choice_id not in choices:
            hint = hint_behind(choice_id, choices)
            raise UsageError(f"--set {text}: option {option_id!r} has no choice {choice_id!r}{hint}")
        if option.id in changes:
            raise UsageError(f"--set {text}: option {option_id!r} is given twice")
        changes[option.id] = ChoiceId(choice_id)
    return changes
