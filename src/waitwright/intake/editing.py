"""Changing a profile file in place: what is not changed stays as it is, byte for byte."""

from __future__ import annotations

from collections.abc import Mapping, MutableMapping
from typing import TYPE_CHECKING, Any

from waitwright.ids import SlotId
from waitwright.intake.comments import TO_ENTER, option_comment_after, slot_comment_after
from waitwright.intake.draft import fit_item, plain_number, spare_item
from waitwright.intake.tables import with_another, without_table
from waitwright.rulebook.profiles import FitDef, MachineProfile, OptionDef, Proven, SlotDef, SpareDef
from waitwright.units import from_base

if TYPE_CHECKING:
    from tomlkit.toml_document import TOMLDocument

_MARK = "\ufeff"


def edited(
    text: str, before: MachineProfile, after: MachineProfile, notes: Mapping[SlotId, str] | None = None
) -> str:
    """*text*, which holds *before*, so that it holds *after*.

    Only title, parts, settings, labels, what is proven, and spares may differ.  Line ends and a mark at
    the beginning are kept, and comments, except that those which ``new`` wrote follow what they tell of.

    Args:
        notes: What the owner said of new parts, by slot, as a comment.
    """
    if before == after:
        return text
    mark = _MARK if text.startswith(_MARK) else ""
    body = text.removeprefix(_MARK)
    windows = "\r\n" in body and body.count("\r\n") == body.count("\n")
    body = body.replace("\r\n", "\n") if windows else body
    body = _changed(body, before, after, notes or {})
    return mark + (body.replace("\n", "\r\n") if windows else body)


def _changed(body: str, before: MachineProfile, after: MachineProfile, notes: Mapping[SlotId, str]) -> str:
    import tomlkit

    ended = body if body.endswith("\n") else body + "\n"  # what is added begins on a line of its own
    doc = tomlkit.parse(ended)
    if after.title != before.title:
        doc["title"] = after.title
    for slot in before.board.slots:
        old, new = before.fit.get(slot.id, ()), after.fit.get(slot.id, ())
        if old != new:
            _fit(doc["fit"], slot, old, new, notes.get(slot.id, ""))
    for option in before.board.options:
        _setting(doc["current"], option, before, after)
    labels = {key: text for key, text in after.labels.items() if before.labels.get(key) != text}
    if labels:
        _labels(doc, labels)
    if after.proven is not None and after.proven != before.proven:
        _proven(doc, after.proven)
    text = tomlkit.dumps(doc)
    if after.proven is not None and before.proven is None:
        text = text.replace("".join(f"# {line}\n" for line in TO_ENTER), "")  # the machine has them now
    if after.proven is None and before.proven is not None:
        text = without_table(text, "proven", 0)
    return _with_spares(text, before.spares, after.spares)


def _put(table: Any, key: str, value: Any) -> None:
    table[key] = value


def _setting(table: Any, option: OptionDef, before: MachineProfile, after: MachineProfile) -> None:
    """Change one setting, and what ``new`` wrote behind it."""
    name = str(option.id)
    old, new = before.current[option.id], after.current[option.id]
    comment = _comment(table, name)
    if old != new:
        _put(table, name, str(new))
    _set_comment(
        table, name, comment, option_comment_after(comment, option, (old, before.labels), (new, after.labels))
    )


def _comment(table: Any, name: str) -> str:
    """The comment behind *name*; empty where there is none, and where it is written otherwise than ours."""
    from tomlkit.items import Item

    item = table.get(name)
    comment: str = item.trivia.comment if isinstance(item, Item) else ""
    return comment.removeprefix("# ") if comment.startswith("# ") else ""


def _set_comment(table: Any, name: str, old: str, new: str) -> None:
    if old != new:
        table[name].trivia.comment = f"# {new}"


def _fit(table: Any, slot: SlotDef, old: tuple[FitDef, ...], new: tuple[FitDef, ...], note: str) -> None:
    """Change one slot; a table that stays one keeps its own order and comments."""
    name = str(slot.id)
    comment = _comment(table, name)
    if not new:
        del table[name]
    elif len(old) == len(new) == 1 and isinstance(table[name], MutableMapping):
        _fit_in_place(table[name], old[0], new[0])
    else:
        table[name] = fit_item(slot, new)
    if new and comment:
        _set_comment(table, name, comment, slot_comment_after(comment, slot, old, new, note))


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
