"""Machine profiles as text: what :func:`load_machine` reads back to an equal profile."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from waitwright.rulebook.profiles import FitDef, MachineProfile, SlotDef
from waitwright.schema.scalars import plain
from waitwright.units import Exact, from_base


def dump_machine(profile: MachineProfile) -> str:
    """*profile* as the text of a machine profile, exact: ``load(dump(x)) == x``."""
    import tomli_w  # only where a file is written

    slots = {slot.id: slot for slot in profile.board.slots}
    content: dict[str, Any] = {"schema": 1, "title": profile.title, "board": profile.board_name}
    if profile.note:
        content["note"] = profile.note
    content["fit"] = {slot: _fits(slots[slot], fits) for slot, fits in profile.fit.items()}
    content["current"] = dict(profile.current)
    if profile.labels:
        content["labels"] = dict(profile.labels)
    environment = {"supply_v": profile.environment.supply_v, "case_c": profile.environment.case_c}
    readings = {key: exact_number(value) for key, value in environment.items() if value is not None}
    if readings:
        content["environment"] = readings
    if profile.proven is not None:
        hours, symptoms = profile.proven.hours, profile.proven.symptoms
        content["proven"] = {"symptoms": list(symptoms)} if hours is None else {"hours": exact_number(hours)}
    if profile.spares:
        content["spare"] = [{"part": spare.part, "count": spare.count} for spare in profile.spares]
    if profile.measured:
        content["measured"] = [
            {
                "name": reading.name,
                "value": exact_number(from_base(reading.value, reading.unit)),
                "unit": reading.unit,
                **({"where": reading.where} if reading.where else {}),
            }
            for reading in profile.measured
        ]
    return tomli_w.dumps(content)


def _fits(slot: SlotDef, fits: tuple[FitDef, ...]) -> object:
    tables = [_fit(slot, fit, alone=len(fits) == 1) for fit in fits]
    return tables[0] if len(tables) == 1 else tables


def _fit(slot: SlotDef, fit: FitDef, *, alone: bool) -> object:
    if alone and fit == FitDef(fit.part, slot.chips):
        return str(fit.part)
    table: dict[str, Any] = {"part": fit.part, "count": fit.count}
    if fit.size is not None:
        table["size_mb"] = exact_number(from_base(fit.size, "MB"))
    if fit.refresh is not None:
        table["refresh"] = fit.refresh
    return table


def exact_number(value: Exact) -> int | Decimal | str:
    """The shortest exact form that TOML has for *value*: whole, decimal, or a ratio as text."""
    text = plain(value)
    if "/" in text:
        return text
    return Decimal(text) if "." in text else int(text)
