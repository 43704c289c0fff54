"""Facts counted from what is fitted: banks, sizes, loads, mixed parts, missing chips."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from waitwright.machine.fitting import Fitted
from waitwright.rulebook.domain import Role, Scalar
from waitwright.rulebook.profiles import BoardProfile
from waitwright.units import Exact, tidy

_DATA_ROLE, _MEMORY_ROLE = "l2.data", "dram"


def count_facts(board: BoardProfile, fitted: Sequence[Fitted], roles: Sequence[Role]) -> dict[str, Scalar]:
    """All counted facts of a machine, sizes in bytes, and ``ROLE.present`` for every role."""
    cards = [item for item in fitted if item.part.kind == "card"]
    facts: dict[str, Scalar] = {}
    facts.update(_cache(fitted))
    facts.update(_memory(board, fitted))
    facts["isa.cards"] = sum(1 for card in cards if card.bus.startswith("isa"))
    facts["pci.cards"] = sum(1 for card in cards if card.bus == "pci")
    local = [card for card in cards if card.bus == "vl"]
    facts["vl.slots_used"] = len(local)
    facts["vl.loads"] = sum(_loads(card) for card in local) + sum(slot.loads for slot in board.slots)
    display = next((card for card in cards if purpose(card) == "display"), None)
    if display is not None:
        facts["display.bus"] = display.bus
    facts["disk.bus"] = next((item.bus for item in fitted if item.part.kind == "drive"), "") or "none"
    for role in roles:
        facts[f"{role.name}.present"] = any(plays(item, role) for item in fitted)
    return facts


def purpose(item: Fitted) -> str:
    """What a card is for; empty for other parts."""
    return _text(item, "purpose")


def plays(item: Fitted, role: Role) -> bool:
    """Whether *item* is meant by a rule that names *role*."""
    if item.part.kind != role.kind:
        return False
    if role.kind == "card":
        return not role.purpose or purpose(item) == role.purpose
    return item.role == role.name


def _loads(card: Fitted) -> int:
    value = card.part.values.get("vl_loads")
    return int(value.value) if value is not None and not isinstance(value.value, str) else 1


def _banks(fitted: Sequence[Fitted], role: str) -> list[list[Fitted]]:
    """The filled slots of a role; each is the list of parts in it."""
    banks: dict[str, list[Fitted]] = {}
    for item in fitted:
        if item.role == role:
            banks.setdefault(item.slot, []).append(item)
    return list(banks.values())


def _mixed(bank: Sequence[Fitted]) -> bool:
    return len({(item.part.id, item.size) for item in bank}) > 1


def _unequal(bank: Sequence[Fitted]) -> bool:
    """Whether *bank* holds what no controller can address or time as one, whatever its pace."""
    return len({(item.size, _kind(item), _text(item, "organisation"), _chip_size(item)) for item in bank}) > 1


def _sorts(bank: Sequence[Fitted]) -> int:
    return len({item.part.id for item in bank})


def _missing(bank: Sequence[Fitted]) -> int:
    return max(0, bank[0].wanted - sum(item.count for item in bank))


def _cache(fitted: Sequence[Fitted]) -> dict[str, Scalar]:
    banks = _banks(fitted, _DATA_ROLE)
    full = [bank for bank in banks if not _missing(bank)]
    sizes = [item.count * size for bank in full for item in bank if (size := _chip_size(item)) is not None]
    return {
        "l2.banks": len(full),
        "l2.size": tidy(sum(sizes, start=Fraction(0))),
        "l2.present": bool(full),
        "l2.chips_missing": sum(map(_missing, banks)),
        "l2.mixed_in_bank": any(map(_mixed, banks)),
        "l2.unequal_in_bank": any(map(_unequal, banks)),
        "l2.sorts_in_bank": max(map(_sorts, banks), default=0),
    }


def _memory(board: BoardProfile, fitted: Sequence[Fitted]) -> dict[str, Scalar]:
    banks = _banks(fitted, _MEMORY_ROLE)
    full = [bank for bank in banks if not _missing(bank)]
    filled = {bank[0].slot for bank in banks}
    order = [slot.id for slot in board.slots if slot.role == _MEMORY_ROLE]
    facts: dict[str, Scalar] = {
        "memory.banks": len(full),
        "memory.modules_missing": sum(map(_missing, banks)),
        "memory.mixed_in_bank": any(map(_mixed, banks)),
        "memory.unequal_in_bank": any(map(_unequal, banks)),
        "memory.sorts_in_bank": max(map(_sorts, banks), default=0),
        "memory.edo_only": bool(banks) and all(_kind(item) == "edo" for bank in banks for item in bank),
        "memory.first_bank_empty": bool(filled) and order[0] not in filled,
    }
    sizes = [None if item.size is None else item.count * item.size for bank in full for item in bank]
    known = [size for size in sizes if size is not None]
    if len(known) == len(sizes):
        facts["memory.size"] = tidy(sum(known, start=Fraction(0)))
    return facts


def _kind(item: Fitted) -> str:
    return _text(item, "kind")


def _text(item: Fitted, row: str) -> str:
    value = item.part.values.get(row)
    return str(value.value) if value is not None else ""


def _chip_size(item: Fitted) -> Exact | None:
    value = item.part.values.get("size")
    return value.value if value is not None and isinstance(value.value, int | Fraction) else None
