"""``new --edit``: what is changed is changed, and every other byte of the file stays as it was."""

from __future__ import annotations

import difflib
from dataclasses import replace
from functools import partial
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.intake.bench import answered, desk
from waitwright.ids import ChoiceId, OptionId, PartId, SlotId
from waitwright.intake.changes import changes_between, draft_of, edit_course, profile_after
from waitwright.intake.dialogue import Dialogue, Turn
from waitwright.intake.editing import edited
from waitwright.rulebook.machines import board_finder, load_machine
from waitwright.rulebook.profiles import FitDef, MachineProfile, Proven, SpareDef

TEXT = """\
# The machine under the stairs.
schema = 1
title = 'Under the stairs'   # as on its lid

board = "harrow-h346"
note = '''
Kept dry.
'''

[fit]
# the CPU was changed in spring
cpu="386dx-33" # no dash in its label
clock-generator   =   "clockgen-66"
tag = "sram-32kx8-20"
cache-0 = { count = 4, part = "sram-32kx8-20" }   # sockets U1 to U4
# the second bank has two makes
cache-1 = [
  { part = "sram-32kx8-20", count = 2 }, # first make
  { part = "sram-32kx8-15", count = 2 }, # second make
]

isa-1 = 'multi-io-isa'

[fit.simm-0] # bank next to the edge
part = "fpm-70"
size_mb = 1      # each
count = 4

[current] # read off on Sunday
host-clock = "33"
self-timing = "off"
isa-clock = "fixed"
dma-clock = "half"
cache-use = "through" # write-back would be faster?
cache-read = "3-2-2-2"
cache-write = "3"

row-open = "no"
ras-to-cas = "3"
cas-read = "3"
ras-precharge = "4"
cas-precharge = "2"
memory-write = "4"
posted-writes = "off"
refresh-period = "15"
refresh-hidden = "off"
isa-memory = "2"
isa-io = "2"
isa-8bit = "5"
isa-rest = "5-11"
isa-zero-wait = "ignored"
local-claim = "2"
local-write = "1"
local-ready = "resynchronised"
firmware-copy = "none"
a20-switch = "keyboard"

[labels]
cache-read = "SRAM burst"
"cache-read.3-2-2-2" = "slow" # fourth line of the second page

[environment]
supply_v = 4.95

[proven]
hours = 100   # over the holidays

# in the blue drawer
[[spare]]
part = "386dx-40" # from a fair

[[spare]]
part = "sram-32kx8-15"
count = 9

[[measured]]
name = "supply"
value = 4.95
unit = "V"
"""
BOARD = desk().boards["harrow-h346"]
FIND = board_finder(desk().rulebook)


def read(text: str) -> MachineProfile:
    """The profile in *text*."""
    return load_machine(text, desk().rulebook, FIND, "edited.toml")


BEFORE = read(TEXT)


def told(machine: MachineProfile) -> tuple[object, ...]:
    """What an edit may change, to compare: a whole profile is too long to read when a test fails."""
    fit = {slot: machine.fit[slot] for slot in sorted(machine.fit)}
    rest = (machine.note, machine.environment, machine.measured, machine.board_name)
    return machine.title, fit, machine.current, machine.labels, machine.proven, machine.spares, rest


def lines_changed(old: str, new: str) -> tuple[list[str], list[str]]:
    """Lines that are gone, and lines that are new."""
    differ = difflib.ndiff(old.splitlines(keepends=True), new.splitlines(keepends=True))
    signed = [line for line in differ if line[0] in "+-"]
    return [line[2:] for line in signed if line[0] == "-"], [line[2:] for line in signed if line[0] == "+"]


def with_fit(slot: str, *fits: FitDef) -> MachineProfile:
    """The machine with other parts in *slot*; none empties it."""
    fit = {**BEFORE.fit, SlotId(slot): fits}
    return replace(BEFORE, fit={key: value for key, value in fit.items() if value})


CASES = [
    # what is changed, lines that go, lines that come
    (
        with_fit("cpu", FitDef(PartId("386dx-40"))),
        ['cpu="386dx-33" # no dash in its label\n'],
        ['cpu="386dx-40" # no dash in its label\n'],
    ),
    (
        with_fit("cache-0", FitDef(PartId("sram-32kx8-15"), 4)),
        ['cache-0 = { count = 4, part = "sram-32kx8-20" }   # sockets U1 to U4\n'],
        ['cache-0 = { count = 4, part = "sram-32kx8-15" }   # sockets U1 to U4\n'],
    ),
    (with_fit("isa-1"), ["isa-1 = 'multi-io-isa'\n"], []),
    (
        with_fit("simm-0", FitDef(PartId("fpm-60"), 4, 1 << 20)),
        ['part = "fpm-70"\n'],
        ['part = "fpm-60"\n'],
    ),
    (
        replace(BEFORE, current={**BEFORE.current, OptionId("cache-use"): ChoiceId("back")}),
        ['cache-use = "through" # write-back would be faster?\n'],
        ['cache-use = "back" # write-back would be faster?\n'],
    ),
    (
        replace(BEFORE, title="In the hall"),
        ["title = 'Under the stairs'   # as on its lid\n"],
        ['title = "In the hall"   # as on its lid\n'],
    ),
    (
        replace(BEFORE, proven=Proven(250)),
        ["hours = 100   # over the holidays\n"],
        ["hours = 250   # over the holidays\n"],
    ),
    (
        replace(BEFORE, labels={**BEFORE.labels, "cache-read.3-2-2-2": "slowest"}),
        ['"cache-read.3-2-2-2" = "slow" # fourth line of the second page\n'],
        ['"cache-read.3-2-2-2" = "slowest" # fourth line of the second page\n'],
    ),
    (
        replace(BEFORE, spares=(SpareDef(PartId("386dx-40")), SpareDef(PartId("sram-32kx8-15"), 9)) * 1),
        [],
        [],
    ),
]


@pytest.mark.parametrize(("after", "gone", "come"), CASES)
def test_one_change_changes_its_line(after: MachineProfile, gone: list[str], come: list[str]) -> None:
    """Only the line of what is changed differs, and its comment, its indent and its layout stay."""
    text = edited(TEXT, BEFORE, after)

    assert lines_changed(TEXT, text) == (gone, come)
    assert told(read(text)) == told(after)


def test_added_things_stand_in_their_tables() -> None:
    """A new part, label and spare are added where they belong; nothing that stood there is touched."""
    after = replace(
        BEFORE,
        fit={**BEFORE.fit, SlotId("isa-2"): (FitDef(PartId("sound-isa16")),)},
        labels={**BEFORE.labels, "cache-use": "Cache"},
        spares=(*BEFORE.spares, SpareDef(PartId("387dx-33"))),
    )
    text = edited(TEXT, BEFORE, after)

    gone, come = lines_changed(TEXT, text)
    assert gone == []
    assert 'isa-2 = "sound-isa16"\n' in come and 'cache-use = "Cache"\n' in come
    assert told(read(text)) == told(after)


def test_tables_that_were_not_there_are_made() -> None:
    """A file without labels, spares and proven statement gets them at its end."""
    short = TEXT[: TEXT.index("[labels]")].rstrip("\n")  # the last line without its end
    before = read(short)
    after = replace(
        before,
        labels={"cache-read": "Burst"},
        proven=Proven(None, ("hang",)),
        spares=(SpareDef(PartId("387dx-33")),),
    )
    text = edited(short, before, after)

    assert text.startswith(short + "\n")
    assert told(read(text)) == told(after)


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_line_ends_and_mark_are_kept(ends: str, mark: str) -> None:
    """A file from another system keeps its line ends and the mark at its beginning."""
    text = mark + TEXT.replace("\n", ends)
    after = with_fit("cpu", FitDef(PartId("386dx-40")))
    new = edited(text, BEFORE, after)

    gone, come = lines_changed(text, new)
    assert (len(gone), len(come)) == (1, 1)
    assert come[0].endswith(ends)
    assert new.startswith(mark)


def test_nothing_changed_changes_nothing() -> None:
    """Without a change the very same text comes back."""
    assert edited(TEXT, BEFORE, BEFORE) is TEXT


# ------------------------------------------------------------------------------- any changes

PARTS = {
    "cpu": ["386dx-16", "386dx-40", "486dx2-66"],
    "clock-generator": ["clockgen-80"],
    "tag": ["sram-32kx8-15", "sram-16kx8-12"],
    "isa-1": ["drive-port-isa"],
    "isa-2": ["sound-isa16", "display-isa16-70"],
    "isa-6": ["display-mono8"],
    "local-1": ["display-vl-70"],
    "coprocessor": ["387dx-33"],
    "floppy": ["floppy-82077aa"],
}
FITS = st.one_of(
    st.sampled_from(sorted(PARTS)).flatmap(
        lambda slot: st.sampled_from([None, *PARTS[slot]]).map(
            lambda part: (SlotId(slot), () if part is None else (FitDef(PartId(part)),))
        )
    ),
    st.tuples(
        st.sampled_from(["cache-0", "cache-1"]).map(SlotId),
        st.lists(
            st.builds(
                FitDef, st.sampled_from(["sram-32kx8-12", "sram-32kx8-15"]).map(PartId), st.integers(1, 2)
            ),
            max_size=2,
        ).map(tuple),
    ),
    st.tuples(
        st.sampled_from(["simm-0", "simm-1"]).map(SlotId),
        st.lists(
            st.builds(
                FitDef,
                st.sampled_from(["fpm-60", "fpm-80"]).map(PartId),
                st.integers(1, 2),
                st.sampled_from([None, 1 << 18, 1 << 20, 4 << 20]),
                st.sampled_from([None, "refresh-512", "refresh-1024"]),
            ),
            max_size=2,
        ).map(tuple),
    ),
)
CHOICES = st.sampled_from([(option.id, choice.id) for option in BOARD.options for choice in option.choices])
NAMES = [str(option.id) for option in BOARD.options] + [
    f"{option.id}.{choice.id}" for option in BOARD.options for choice in option.choices
]
WORDS = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=20)
SPARES = st.builds(
    SpareDef, st.sampled_from(["386dx-40", "387dx-33", "sram-32kx8-15"]).map(PartId), st.integers(1, 9)
)
PROVEN = st.sampled_from(
    [None, Proven(1), Proven(250), Proven(None, ("hang",)), Proven(None, ("hang", "reboot"))]
)


@st.composite
def changes(draw: st.DrawFn) -> dict[str, Any]:
    """Any changes to the machine that an edit can make."""
    fit = {**BEFORE.fit, **dict(draw(st.lists(FITS, max_size=4)))}
    found = {
        "title": draw(st.one_of(st.just(BEFORE.title), WORDS)),
        "fit": {slot: fits for slot, fits in fit.items() if fits},
        "current": {**BEFORE.current, **dict(draw(st.lists(CHOICES, max_size=4)))},
        "labels": {**BEFORE.labels, **draw(st.dictionaries(st.sampled_from(NAMES), WORDS, max_size=3))},
        "proven": draw(st.one_of(st.just(BEFORE.proven), PROVEN)),
        "spares": draw(st.one_of(st.just(BEFORE.spares), st.lists(SPARES, max_size=3).map(tuple))),
    }
    return {name: value for name, value in found.items() if value != getattr(BEFORE, name)}


def touched(after: MachineProfile) -> set[str]:
    """Beginnings of the lines that the changes to *after* may take away."""
    starts = set()
    if after.title != BEFORE.title:
        starts.add("title")
    for slot in BOARD.slots:
        if after.fit.get(slot.id) != BEFORE.fit.get(slot.id):
            starts.add(str(slot.id))
            starts |= {"{ part", "]", "  { part"} if slot.id == "cache-1" else set()
            starts |= {"[fit.simm-0]", "part", "size_mb", "count"} if slot.id == "simm-0" else set()
    starts |= {str(option) for option, choice in after.current.items() if BEFORE.current[option] != choice}
    for name, text in after.labels.items():
        if BEFORE.labels.get(name) != text:
            starts |= {name, f'"{name}"'}
    if after.proven != BEFORE.proven:
        starts |= {"hours", "[proven]"}
    if after.spares != BEFORE.spares:
        starts |= {"[[spare]]", "part", "count"}
    return starts


@given(changes())
@settings(max_examples=50)
def test_what_is_not_touched_stays(changed: dict[str, Any]) -> None:
    """Any edit is read back as what it was changed to, and takes away no line but those of what changed."""
    after = replace(BEFORE, **changed)
    text = edited(TEXT, BEFORE, after)

    assert told(read(text)) == told(after)
    gone, _ = lines_changed(TEXT, text)
    starts = tuple(touched(after))
    for line in gone:
        assert not line.strip() or line.startswith(starts), line
    comments = [line for line in TEXT.splitlines() if line.startswith("#")]
    assert [line for line in text.splitlines() if line in comments] == comments


# ------------------------------------------------------------------------------------ dialogue


def changed(*answers: str) -> tuple[Turn, MachineProfile]:
    """Where an edit stands after *answers*, and the machine then."""
    dialogue = Dialogue(partial(edit_course, desk(), BEFORE), 5)
    turn = answered(dialogue, answers, draft_of(BEFORE))
    return turn, profile_after(BEFORE, turn.state.draft)


@pytest.mark.parametrize(
    ("answers", "after"),
    [
        (["cpu", "386DX-40"], with_fit("cpu", FitDef(PartId("386dx-40")))),
        (["CPU socket", "386DX-40"], with_fit("cpu", FitDef(PartId("386dx-40")))),
        (["cache-0", "61256-15"], with_fit("cache-0", FitDef(PartId("sram-32kx8-15"), 4))),
        (["isa-2", "16-bit sound"], with_fit("isa-2", FitDef(PartId("sound-isa16")))),
        (["isa-1", "none"], with_fit("isa-1")),
        (
            ["SRAM burst", "b"],
            replace(BEFORE, current={**BEFORE.current, OptionId("cache-read"): ChoiceId("3-1-1-1")}),
        ),
        (["cache-write", "as Store"], replace(BEFORE, labels={**BEFORE.labels, "cache-write": "Store"})),
        (["proven", "hang"], replace(BEFORE, proven=Proven(None, ("hang",)))),
        (["title", "In the hall"], replace(BEFORE, title="In the hall")),
        (
            ["spares", "9 x 61256-12"],
            replace(BEFORE, spares=(*BEFORE.spares, SpareDef(PartId("sram-32kx8-12"), 9))),
        ),
        (["spares", "remove 386dx-40"], replace(BEFORE, spares=BEFORE.spares[1:])),
    ],
)
def test_one_thing_is_changed(answers: list[str], after: MachineProfile) -> None:
    """A slot, an option or another thing is named by id or words, asked for, and changed alone."""
    turn, machine = changed(*answers)

    assert turn.question is not None and turn.question.key.startswith("menu"), turn.said
    assert told(machine) == told(after)


@pytest.mark.parametrize(
    "target",
    [*(str(slot.id) for slot in BOARD.slots if not slot.soldered), "cache-read", "proven", "title", "spares"],
)
def test_enter_keeps_what_is_there(target: str) -> None:
    """Whatever is named for a change, Enter leaves it as it is, and an edit without changes is over."""
    turn, machine = changed(target, "", "")

    assert turn.ended == "done"
    assert told(machine) == told(BEFORE)


def test_changes_are_shown_before_they_are_written() -> None:
    """What changes is listed, from and to in words, before the owner agrees; ``back`` returns to it."""
    turn, _ = changed("cpu", "386DX-40", "cache-use", "write-back", "spares", "387DX-33", "")
    assert turn.question is not None and turn.question.key == "write"
    for line in ("CPU socket: 386DX, 33 MHz -> 386DX, 40 MHz", "write-through", "387DX, 33 MHz"):
        assert line in turn.asks

    again, machine = changed("cpu", "386DX-40", "", "back", "cpu", "386DX-25", "", "yes")
    assert again.ended == "done"
    assert told(machine) == told(with_fit("cpu", FitDef(PartId("386dx-25"))))


def test_a_soldered_part_is_no_choice() -> None:
    """What is soldered cannot be named, and what is nearly named is suggested."""
    turn, _ = changed("logic")
    assert "no slot or option" in turn.said[0]

    turn, _ = changed("cach-read")
    assert "cache-read" in turn.said[0]


def test_changes_are_told_in_the_owners_words() -> None:
    """Changed words for an option, and its changed choice, are lines of their own."""
    after = replace(
        BEFORE,
        labels={**BEFORE.labels, "cache-write": "Store"},
        current={**BEFORE.current, OptionId("cache-write"): ChoiceId("2")},
    )
    lines = [str(change).strip() for change in changes_between(BEFORE, after, desk().rulebook)]

    assert lines == [
        "words for cache-write: Clocks for a cache write -> Store",
        "Store: 3 clocks -> 2 clocks",
    ]


@given(
    st.lists(
        st.one_of(
            st.sampled_from(
                [
                    "cpu",
                    "back",
                    "?",
                    "",
                    "done",
                    "yes",
                    "a",
                    "none",
                    "same",
                    "as X: y",
                    "cache-read",
                    "spares",
                    "remove 386dx-40",
                    "title",
                ]
            ),
            st.text(max_size=20),
        ),
        max_size=25,
    )
)
@settings(max_examples=60)
def test_any_answers_to_an_edit(lines: list[str]) -> None:
    """Whatever is answered to an edit, what comes of it can be put into the file and read back."""
    _, machine = changed(*lines)

    assert told(read(edited(TEXT, BEFORE, machine))) == told(machine)
