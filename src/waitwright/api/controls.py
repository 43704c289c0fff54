"""What can be chosen, fitted, recorded and asked on one machine."""

from __future__ import annotations

from waitwright._resources import packed_profile
from waitwright.api.check import overridden_options
from waitwright.api.opening import Bench, Question, put_on_bench
from waitwright.machine import Machine, parse_what_if
from waitwright.report.controls_view import (
    ControlsView,
    MeasurableView,
    NamedView,
    OptionView,
    SlotView,
)
from waitwright.rulebook.domain import SYMPTOMS
from waitwright.rulebook.fits import fitting_parts
from waitwright.rulebook.profiles import SlotDef

EMPTY = "none"
"""Instead of a part: the slot is empty."""


def controls(question: Question) -> ControlsView:
    """Options with their choices, slots with what fits there, and the words that a record may use.

    Raises:
        InputError: if machine, rules or wishes are faulty.
    """
    bench = put_on_bench(question)
    machine, book = bench.machine, bench.machine.rulebook
    wishes = parse_what_if(question.parts)
    return ControlsView(
        machine=machine.name,
        title=machine.title,
        packed=packed_profile("machines", question.machine) is not None,
        spares=bool(machine.profile.spares),
        options=_options(bench),
        slots=tuple(_slot(machine, slot, wishes.get(str(slot.id), "")) for slot in machine.board.slots),
        workloads=tuple(NamedView(work.id, work.title) for work in book.workloads.values()),
        symptoms=SYMPTOMS,
        measurables=tuple(
            MeasurableView(
                id=one.id,
                title=one.title,
                how=one.how,
                unit="" if one.kind == "answer" else one.unit,
                answer=one.kind == "answer",
                several=one.kind == "list",
            )
            for one in book.measurements.values()
        ),
        suspects=tuple(NamedView(suspect.id, suspect.title) for suspect in book.suspects.values()),
    )


def _options(bench: Bench) -> tuple[OptionView, ...]:
    inert = overridden_options(bench)
    return tuple(
        OptionView(
            option=option.id,
            label=option.label,
            kind=option.kind,
            help=option.help,
            choices=tuple(NamedView(choice.id, choice.label) for choice in option.choices),
            current=bench.machine.current[option.id],
            chosen=bench.settings[option.id],
            inert=option.id in inert,
        )
        for option in bench.machine.options
    )


def _slot(machine: Machine, slot: SlotDef, chosen: str) -> SlotView:
    book = machine.rulebook
    fits = machine.profile.fit.get(slot.id, ())
    now = " and ".join(_counted(one.count, book.parts[one.part].title) for one in fits)
    if not now and slot.soldered:
        now = _counted(slot.chips, book.parts[slot.soldered].title)
    parts = () if slot.soldered else tuple(NamedView(p.id, p.title) for p in fitting_parts(slot, book))
    return SlotView(slot.id, slot.title, now, chosen, bool(slot.soldered), parts)


def _counted(count: int, title: str) -> str:
    return title if count == 1 else f"{count} x {title}"
