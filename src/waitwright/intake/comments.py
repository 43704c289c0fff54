"""The comments that stand beside parts and settings in a profile, and how they stay true when those change.

Only a comment that reads exactly as it would have been written here is ever replaced.  All others are the
owner's.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from waitwright.ids import ChoiceId
from waitwright.intake.modules import size_words
from waitwright.rulebook.profiles import FitDef, OptionDef, SlotDef

NOT_THERE = "not on the owner's screen"
"""Behind an option that the owner's board does not offer."""

TO_ENTER = (
    "Slow settings to begin with, made for these parts; they were not read off the machine.",
    "Enter them there before the first trial, then take these two lines away.",
)
"""In front of settings that the machine does not have yet."""

_MODULE = re.compile(r"(?P<pins>(?:30|72)-pin )?(?P<size>[0-9/]+ [KM]B)(?:, (?:no )?parity)?")


def as_comment(text: str) -> str:
    """*text* as a comment of one line; signs that TOML forbids in comments are left out."""
    return "".join(sign for sign in text if sign.isprintable())


def slot_comment(slot: SlotDef, note: str = "") -> str:
    """Beside what sits in *slot*: *note*, or the slot's title."""
    return as_comment(note or slot.title)


def option_comment(option: OptionDef, chosen: ChoiceId, labels: Mapping[str, str], *, there: bool) -> str:
    """Beside a setting: what line and choice are called, and whether the owner's board has it *there*."""
    label = labels.get(str(option.id), option.label)
    words = labels.get(f"{option.id}.{chosen}", option.choice(chosen).label)
    return as_comment(f"{label}: {words}" if there else f"{label}: {words} ({NOT_THERE})")


def slot_comment_after(
    comment: str, slot: SlotDef, old: Sequence[FitDef], new: Sequence[FitDef], note: str
) -> str:
    """*comment* beside *old* in *slot*, as it has to read beside *new*.

    Args:
        note: What the owner said of *new*; empty where that is not known.
    """
    title = as_comment(slot.title)
    if comment == title:
        return slot_comment(slot, note)
    if not comment.startswith(f"{title}: "):
        return comment
    told = [_MODULE.fullmatch(group) for group in comment.removeprefix(f"{title}: ").split("; ")]
    sizes = [size_words(fit.size) for fit in old if fit.size is not None]
    if [one and one["size"] for one in told] != sizes:
        return comment
    if note:
        return slot_comment(slot, note)
    pins = (told[0]["pins"] or "") if told and told[0] else ""  # contacts belong to the bank
    words = [f"{pins}{size_words(fit.size)}" for fit in new if fit.size is not None]
    return f"{title}: {'; '.join(words)}" if words else title


def option_comment_after(
    comment: str,
    option: OptionDef,
    old: tuple[ChoiceId, Mapping[str, str]],
    new: tuple[ChoiceId, Mapping[str, str]],
) -> str:
    """*comment* beside a setting, as it has to read when choice and labels are *new*."""
    for there in (True, False):
        if comment == option_comment(option, *old, there=there):
            # Who sets another choice has that line after all.
            return option_comment(option, *new, there=there or old[0] != new[0])
    return comment
