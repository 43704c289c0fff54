"""Changing a profile file in place: what is not changed stays as it is, byte for byte."""

from __future__ import annotations

from collections.abc import MutableMapping
from typing import TYPE_CHECKING, Any

from waitwright.intake.draft import fit_item, plain_number, spare_item
from waitwright.intake.tables import with_another, without_table
from waitwright.rulebook.profiles import FitDef, MachineProfile, Proven, SlotDef, SpareDef
from waitwright.units import from_base

if TYPE_CHECKING:
    from tomlkit.toml_document import TOMLDocument

_MARK = "\ufeff"


def edited(text: str, before: MachineProfile, after: MachineProfile) -> str:
    """*text*, which holds *before*, so that it holds *after*.

    Only title, parts, settings, labels, what is proven, and spares may differ.  Line ends and a mark at
    the beginning are kept.
    """
    if before == after:
        return text
    mark = _MARK if text.startswith(_MARK) else ""
    body = text.removeprefix(_MARK)
    windows = "\r\n" in body and body.count("\r\n") == body.count("\n")
    body = body.replace("\r\n", "\n") if windows else body
    body = _changed(body, before, after)
    return mark + (body.replace("\n", "\r\n") if windows else body)


def _changed(body: str, before: MachineProfile, after: MachineProfile) -> str:
    import tomlkit

    ended = body if body.endswith("\n") else body + "\n"  # what is added begins on a line of its own
    doc = tomlkit.parse(ended)
    if after.title != before.title:
        doc["title"] = after.title
    for slot in before.board.slots:
        old, new = before.fit.get(slot.id, ()), after.fit.get(slot.id, ())
        if old != new:
            _fit(doc["fit"], slot, old, new)
    for option, choice in after.current.items():
        if before.current[option] != choice:
            _put(doc["current"], str(option), str(choice))
    labels = {key: text for key, text in after.labels.items() if before.labels.get(key) != text}
    if labels:
        _labels(doc, labels)
    if after.proven is not None and after.proven != before.proven:
        _proven(doc, after.proven)
    text = tomlkit.dumps(doc)
    if after.proven is None and before.proven is not None:
        text = without_table(text, "proven", 0)
    return _with_spares(text, before.spares, after.spares)


def _put(table: Any, key: str, value: Any) -> None:
    table[key] = value


def _fit(table: Any, slot: SlotDef, old: tuple[FitDef, ...], new: tuple[FitDef, ...]) -> None:
    """Change one slot; a table that stays one keeps its own order and comments."""
    name = str(slot.id)
    if not new:
        del table[name]
    elif len(old) == len(new) == 1 and isinstance(table[name], MutableMapping):
        _fit_in_place(table[name], old[0], new[0])
    else:
        table[name] = fit_item(slot, new)


def _fit_in_place(table: Any, old: FitDef, new: FitDef) -> None:
    if new.part != old.part:
        table["part"] = str(new.part)
    if new.count != old.count:
        table["count"] = new.count
    for key, was, now in (
        ("size_mb", old.size, None if new.size is None else plain_number(from_base(new.size, "MB"))),
        ("refresh", old.refresh, None if new.refresh is None else str(new.refresh)),
    ):
        changed = (new.size != old.size) if key == "size_mb" else (new.refresh != old.refresh)
        if changed and now is None and was is not None:
            del table[key]
        elif changed:
            table[key] = now


def _labels(doc: TOMLDocument, labels: dict[str, str]) -> None:
    if "labels" not in doc:
        doc["labels"] = labels
        return
    for key, text in labels.items():
        _put(doc["labels"], key, text)


def _proven(doc: TOMLDocument, proven: Proven) -> None:
    fresh = (
        {"symptoms": list(proven.symptoms)} if proven.hours is None else {"hours": plain_number(proven.hours)}
    )
    if "proven" not in doc:
        doc["proven"] = fresh
        return
    table: Any = doc["proven"]
    for key, value in fresh.items():
        _put(table, key, value)
    for key in [key for key in ("hours", "symptoms") if key in table and key not in fresh]:
        del table[key]


def _with_spares(text: str, before: tuple[SpareDef, ...], after: tuple[SpareDef, ...]) -> str:
    """*text* without the spares that are gone, the new ones behind the others."""
    gone, kept = [], 0
    for place, spare in enumerate(before):
        if kept < len(after) and spare == after[kept]:
            kept += 1
        else:
            gone.append(place)
    for spare in after[kept:]:
        text = with_another(text, "spare", spare_item(spare))
    for place in reversed(gone):
        text = without_table(text, "spare", place)
    return text
