"""What ``new`` wrote beside parts and settings stays true under ``new --edit``; other comments stay."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.intake.test_editing import BEFORE, lines_changed, read, told
from waitwright.ids import ChoiceId, OptionId, PartId, SlotId
from waitwright.intake.comments import NOT_THERE, TO_ENTER
from waitwright.intake.draft import text_of
from waitwright.intake.editing import edited
from waitwright.rulebook.profiles import FitDef, MachineProfile, Proven

MADE = replace(
    BEFORE, labels={}, environment=type(BEFORE.environment)(), measured=(), note="", proven=None, spares=()
)
NOTES = {SlotId("simm-0"): "memory bank 0: 30-pin 1 MB, parity"}
TEXT = text_of(MADE, NOTES, frozenset({OptionId("isa-io")}), to_enter=True)
READ, PORTS = (
    next(option for option in MADE.board.options if option.id == name) for name in ("cache-read", "isa-io")
)


def set_to(machine: MachineProfile, **choices: str) -> MachineProfile:
    """*machine* with other choices; underscores stand for dashes."""
    fresh = {OptionId(name.replace("_", "-")): ChoiceId(choice) for name, choice in choices.items()}
    return replace(machine, current={**machine.current, **fresh})


def fitted(machine: MachineProfile, slot: str, *fits: FitDef) -> MachineProfile:
    """*machine* with other parts in *slot*."""
    return replace(machine, fit={**machine.fit, SlotId(slot): fits})


def test_choice_and_its_comment_change_together() -> None:
    """Another choice brings its own words into the comment that told the old one."""
    text = edited(TEXT, MADE, set_to(MADE, cache_read="2-1-1-1"))

    gone, come = lines_changed(TEXT, text)
    assert gone == [f'cache-read = "3-2-2-2" # {READ.label}: {READ.choice(ChoiceId("3-2-2-2")).label}\n']
    assert come == [f'cache-read = "2-1-1-1" # {READ.label}: {READ.choice(ChoiceId("2-1-1-1")).label}\n']


def test_new_words_stand_in_the_comment() -> None:
    """The owner's own words for line and choice go into the comment, although the choice stays."""
    labels = {"cache-read": "SRAM burst", "cache-read.3-2-2-2": "slow"}
    text = edited(TEXT, MADE, replace(MADE, labels=labels))

    assert 'cache-read = "3-2-2-2" # SRAM burst: slow\n' in text
    assert read(text).labels == labels
    again = edited(
        text, replace(MADE, labels=labels), set_to(replace(MADE, labels=labels), cache_read="3-1-1-1")
    )
    assert 'cache-read = "3-1-1-1" # SRAM burst: ' in again


@pytest.mark.parametrize("comment", ["# mine", "# Burst: slow ", "#no blank", "# {label}: {words}, they say"])
def test_comment_of_the_owner_stays(comment: str) -> None:
    """A comment that differs in one sign from ours is the owner's, whatever it says."""
    words = READ.choice(ChoiceId("3-2-2-2")).label
    own = comment.format(label=READ.label, words=words)
    text = TEXT.replace(f"# {READ.label}: {words}\n", f"{own}\n")
    assert text != TEXT

    assert f'cache-read = "2-1-1-1" {own}\n' in edited(text, MADE, set_to(MADE, cache_read="2-1-1-1"))


def test_memory_and_its_comment_change_together() -> None:
    """Modules of another size or kind bring what the owner said of them, or what the profile knows."""
    bank = "memory bank 0"
    larger = fitted(MADE, "simm-0", FitDef(PartId("fpm-60"), 4, 4 << 20))
    told_of = edited(TEXT, MADE, larger, {SlotId("simm-0"): f"{bank}: 30-pin 4 MB, no parity"})
    untold = edited(TEXT, MADE, larger)

    assert f"# {bank}: 30-pin 1 MB, parity\n" in TEXT
    assert f"# {bank}: 30-pin 4 MB, no parity\n" in told_of
    assert f"# {bank}: 30-pin 4 MB\n" in untold
    assert told(read(told_of)) == told(read(untold)) == told(larger)


def test_mixed_bank_is_told_group_by_group() -> None:
    """A bank of two groups has a comment on both, and goes back to one."""
    mixed = fitted(MADE, "simm-0", FitDef(PartId("fpm-70"), 2, 1 << 20), FitDef(PartId("fpm-80"), 2, 1 << 20))
    text = edited(TEXT, MADE, mixed)
    assert "# memory bank 0: 30-pin 1 MB; 30-pin 1 MB\n" in text

    back = edited(text, mixed, MADE)
    assert "# memory bank 0: 30-pin 1 MB\n" in back
    assert told(read(back)) == told(MADE)


@pytest.mark.parametrize(
    "comment",
    ["memory bank 0: 30-pin 4 MB", "memory bank 0: from a fair", "memory bank 0: 30-pin 1 MB; or so"],
)
def test_other_words_on_memory_stay(comment: str) -> None:
    """A comment of another size than the bank had, or with words of the owner's own, is left alone."""
    text = TEXT.replace("memory bank 0: 30-pin 1 MB, parity", comment)
    after = fitted(MADE, "simm-0", FitDef(PartId("fpm-60"), 4, 4 << 20))

    assert f"# {comment}\n" in edited(text, MADE, after)


def test_title_of_a_slot_stays_beside_other_parts() -> None:
    """A comment that names the slot alone is true of any part in it."""
    title = next(slot.title for slot in MADE.board.slots if slot.id == "cpu")
    text = edited(TEXT, MADE, fitted(MADE, "cpu", FitDef(PartId("386dx-40"))))

    assert f'cpu = "386dx-40" # {title}\n' in text


def test_line_that_is_set_is_there() -> None:
    """An option noted as missing on the owner's screen loses that note once another choice is set."""
    ours = next(line for line in TEXT.splitlines() if line.startswith("isa-io"))
    assert ours.endswith(f"({NOT_THERE})")
    other = next(choice.id for choice in PORTS.choices if choice.id != MADE.current[PORTS.id])
    named = edited(TEXT, MADE, replace(MADE, labels={"isa-io": "I/O recovery"}))
    after = edited(TEXT, MADE, set_to(MADE, isa_io=str(other)))

    assert f"# I/O recovery: {PORTS.choice(MADE.current[PORTS.id]).label} ({NOT_THERE})\n" in named
    assert f'isa-io = "{other}" # {PORTS.label}: {PORTS.choice(other).label}\n' in after


def test_settings_to_enter_are_told_until_they_ran() -> None:
    """What stands above slow settings goes when it becomes known how the machine runs with them."""
    both = "".join(f"# {line}\n" for line in TO_ENTER)
    assert f"[current]\n{both}" in TEXT
    changed = edited(TEXT, MADE, set_to(MADE, cache_read="2-1-1-1"))
    ran = edited(TEXT, MADE, replace(MADE, proven=Proven(40)))

    assert both in changed
    assert TO_ENTER[0] not in ran and TO_ENTER[1] not in ran
    assert read(ran).proven == Proven(40)


def test_there_and_back_is_the_same_text() -> None:
    """A change and its reverse leave the text of ``new`` as it was, comments included."""
    changed = fitted(
        set_to(MADE, cache_read="2-1-1-1", isa_clock="clk2-6"), "cpu", FitDef(PartId("386dx-40"))
    )
    text = edited(TEXT, MADE, changed)

    assert text != TEXT
    assert edited(text, changed, MADE) == TEXT


def test_without_a_change_nothing_is_touched() -> None:
    """Comments that are untrue already stay so where their line does not change."""
    text = TEXT.replace("memory bank 0: 30-pin 1 MB, parity", "memory bank 0: 30-pin 4 MB")

    assert edited(text, MADE, MADE) == text
    assert "30-pin 4 MB" in edited(text, MADE, set_to(MADE, cache_read="2-1-1-1"))
