"""The dialogue without a terminal: what an answer leads to, the way back, and any answers at all."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.intake.bench import answered, desk, new_dialogue
from waitwright.ids import OptionId, PartId, SlotId
from waitwright.intake.boards_near import cache_sizes, host_clocks
from waitwright.intake.dialogue import LONGEST, Dialogue, Turn
from waitwright.intake.draft import Draft, profile_of, text_of
from waitwright.intake.questions import Question
from waitwright.intake.readings import Reading, Refused, Taken, Way, choose, one_of
from waitwright.machine import build_machine
from waitwright.rulebook.fits import fitting_parts
from waitwright.rulebook.machines import board_finder, load_machine
from waitwright.rulebook.profiles import BoardProfile, FitDef, MachineProfile, Proven
from waitwright.timing.bind import bind
from waitwright.timing.margins import margins

TO_BOARD = ["386dx-33", "isa vl", "256", "30", "harrow-h346"]
TO_BANKS = [*TO_BOARD, "66.667", "none", ""]
TO_CARDS = [*TO_BANKS, "61256-20", "", "", "8 x 1 MB -70"]
TO_SETTINGS = [*TO_CARDS, "multi-io-isa", "display-isa16-70", "none", "0", ""]
TO_END = [*TO_SETTINGS, "slow", "", "The one under the stairs"]


def course(draft: Draft) -> Iterator[Question]:
    """Three questions about a title: one free, one that may be unclear, one with a default."""

    def read(line: str) -> Reading[Draft]:
        if line == "wrong":
            return Refused("that is wrong")
        ways = [
            ("the first", replace(draft, title=line + "1")),
            ("the second", replace(draft, title=line + "2")),
        ]
        return one_of("which?", ways if line == "both" else ways[:1])

    yield Question("one", "one?", "about one", read)
    yield Question("two", "two?", "about two", read)
    yield Question("three", "three?", "about three", read, default="three")


PLAIN = Dialogue(course, patience=5, hidden=lambda _: 0)


def test_questions_follow_one_another() -> None:
    """Each answer leads to the next question with its number, and the last one to the end."""
    turn = PLAIN.begin(Draft())
    seen = []
    while turn.question is not None:
        seen.append((turn.number, turn.about, turn.question.key))
        turn = PLAIN.answer(turn.state, "so")

    assert seen == [(1, 3, "one"), (2, 3, "two"), (3, 3, "three")]
    assert turn.ended == "done"
    assert turn.state.draft.asked == ("one", "two", "three")


def test_question_mark_explains() -> None:
    """``?`` tells the help of the question and asks it again, and counts as no wrong answer."""
    turn = answered(PLAIN, ["x", *["?"] * 10])

    assert turn.said == ("about two",)
    assert turn.question is not None and turn.question.key == "two"
    assert not turn.ended


def test_back_undoes_the_last_answer() -> None:
    """``back`` asks the question before again, with what was known then; at the first it stays."""
    turn = answered(PLAIN, ["x", "y", "back", "back"])
    assert turn.question is not None and turn.question.key == "one"
    assert turn.state.draft == Draft()

    again = PLAIN.answer(turn.state, "BACK")
    assert again.question is not None and again.question.key == "one"
    assert "first" in again.said[0]


def test_enter_takes_the_default_or_asks_again() -> None:
    """An empty line stands for the default where there is one, and is refused where there is none."""
    assert answered(PLAIN, [""]).said == ("this needs an answer; ? explains it",)

    assert answered(PLAIN, ["x", "y", "  "]).state.draft.title == "three1"


def test_unclear_answers_are_asked_back() -> None:
    """What fits several is asked back; a letter, words, a new answer, or ``back`` settle it."""
    turn = answered(PLAIN, ["both"])
    assert (turn.asks, turn.ways, turn.default) == ("which?", ("the first", "the second"), "")

    assert PLAIN.answer(turn.state, "b").state.draft.title == "both2"
    assert PLAIN.answer(turn.state, "the second").state.draft.title == "both2"
    assert PLAIN.answer(turn.state, "other").state.draft.title == "other1"
    assert PLAIN.answer(turn.state, "back").asks == "one?"
    assert PLAIN.answer(turn.state, "").said[0].startswith("this needs an answer")
    assert PLAIN.answer(turn.state, "wrong").asks == "which?"


def test_too_many_wrong_answers_end_it() -> None:
    """After as many wrong answers to one question as there is patience for, the dialogue gives up."""
    assert not answered(PLAIN, ["wrong"] * 4).ended
    assert answered(PLAIN, ["wrong"] * 5).ended == "gave up"
    assert not answered(PLAIN, ["wrong", "wrong", "x", "wrong", "wrong", "wrong", "wrong"]).ended
    assert not answered(Dialogue(course), ["wrong"] * 50).ended


def test_long_answers_are_refused() -> None:
    """An answer of absurd length is refused without being read."""
    assert str(LONGEST) in answered(PLAIN, ["x" * (LONGEST + 1)]).said[0]


# ------------------------------------------------------------------------------------ choosing

COLOURS = [Way("5 clocks", 5, ("five",)), Way("4 clocks", 4), Way("none", 0), Way("half a clock", 1)]


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("a", 5),
        ("b)", 4),
        ("5 clocks", 5),
        ("5", 5),
        ("4", 4),
        ("FIVE", 5),
        ("None", 0),
        ("half", 1),
        ("c", 0),
    ],
)
def test_choosing_by_words_or_letter(said: str, value: int) -> None:
    """A thing is chosen by label, another name, letter, or first word; a figure is never a place."""
    chosen = choose(said, COLOURS, "choice")

    assert isinstance(chosen, Taken)
    assert chosen.value == value


def test_choosing_what_is_not_there() -> None:
    """An unknown choice is refused with those that there are; a part of two labels is asked back."""
    refused = choose("6", COLOURS, "choice")
    assert isinstance(refused, Refused)
    assert "5 clocks, 4 clocks, none, half a clock" in refused.reason
    assert not isinstance(choose("clock", COLOURS, "choice"), Taken | Refused)


# ----------------------------------------------------------------------------------- a machine


def profile(turn: Turn) -> MachineProfile:
    """The machine that a finished dialogue describes."""
    return profile_of(turn.state.draft, desk().slow(turn.state.draft), turn.state.draft.board_name)


def test_a_whole_machine() -> None:
    """Answers as an owner would give them describe every part, and the machine can be read back."""
    turn = answered(new_dialogue(5), [*TO_END, "yes"])
    assert turn.ended == "done"
    machine = profile(turn)
    fit = {str(slot): fits for slot, fits in machine.fit.items()}

    assert machine.title == "The one under the stairs"
    assert fit["cpu"] == (FitDef(PartId("386dx-33")),)
    assert fit["cache-0"] == fit["cache-1"] == (FitDef(PartId("sram-32kx8-20"), 4),)
    assert fit["tag"] == (FitDef(PartId("sram-32kx8-20")),)
    assert fit["simm-0"] == fit["simm-1"]
    assert (fit["simm-0"][0].part, fit["simm-0"][0].count, fit["simm-0"][0].size) == ("fpm-70", 4, 1 << 20)
    assert fit["clock-generator"] == (FitDef(PartId("clockgen-66")),)
    assert fit["isa-1"] == (FitDef(PartId("multi-io-isa")),)
    assert fit["drive-isa"] == (FitDef(PartId("drive-pio-0")),)
    assert machine.current[OptionId("host-clock")] == "33"
    text = text_of(machine, turn.state.draft.notes)
    assert load_machine(text, desk().rulebook, board_finder(desk().rulebook), "x") == machine
    assert "# memory bank 0: 30-pin 1 MB" in text


def test_progress_is_told() -> None:
    """The number of questions is told from the start, about twenty, never rises, and is exact at the end."""
    machines = [
        [*TO_END, "yes"],
        ["486dx2-66", "isa vl", "256", "72", "sallowfield-sv4", "", "61256-20", "", "", "", "8 MB -70", ""],
        ["386sx-16", "isa", "none", "30", "", "", "none", "2 x 1 MB -70", "", "none", "none"],
    ]
    for answers in machines:
        turn = new_dialogue().begin(Draft())
        about = [turn.about]
        for line in answers:
            turn = new_dialogue().answer(turn.state, line)
            about.append(turn.about)
        assert about == sorted(about, reverse=True), about
        assert 18 <= about[0] <= 25
    last = answered(new_dialogue(), TO_END)
    assert last.number == last.about


def test_own_settings_are_announced() -> None:
    """Enter takes slow settings; whoever enters the own ones is told before how many questions they are."""
    board = desk().boards["harrow-h346"]
    asked = answered(new_dialogue(), TO_SETTINGS)
    assert asked.default == "slow"
    assert asked.asks.startswith(f"{len(board.options) - 1} more settings")

    slow, own = (answered(new_dialogue(), [*TO_SETTINGS, line]) for line in ("", "enter"))
    assert slow.state.draft.settings == "slow" and slow.about == asked.about
    assert "not what the machine has now" in slow.said[0]
    assert own.about == asked.about + len(board.options)  # and how it runs
    assert "'not there'" in own.said[0]


def test_a_card_goes_where_its_port_is() -> None:
    """A card with a drive port takes the slot that carries a drive; another card leaves that slot free."""
    turn = answered(new_dialogue(), TO_SETTINGS[:15])
    fit = {str(slot): fits[0].part for slot, fits in turn.state.draft.fit.items()}
    assert fit["isa-1"] == "multi-io-isa"
    assert fit["isa-2"] == "display-isa16-70"


def test_a_slot_can_be_named() -> None:
    """``in SLOT`` puts a card there, and a slot that is taken or unknown is refused."""
    turn = answered(new_dialogue(), [*TO_CARDS, "16-bit sound in isa-4"])
    assert turn.state.draft.fit[SlotId("isa-4")][0].part == "sound-isa16"

    again = answered(new_dialogue(), [*TO_CARDS, "16-bit sound in isa-4", "16-bit sound in isa-4"])
    assert "no free slot" in again.said[0]


TO_MEMORY = [*TO_BANKS, "61256-20", "", ""]


def test_bank_filling_is_looked_at() -> None:
    """A mixed bank is remarked on; too many modules for all banks, or other ones, are refused."""
    mixed = answered(new_dialogue(), [*TO_MEMORY, "2 x 1 MB -70, 2 x 1 MB -80"])
    over = answered(new_dialogue(), [*TO_MEMORY, "12 x 1 MB -70"])
    odd = answered(new_dialogue(), [*TO_MEMORY, "6 x 1 MB -70"])
    other = answered(new_dialogue(), [*TO_MEMORY, "4 MB 72-pin -70"])

    assert any("mixed" in line for line in mixed.said)
    assert "12 modules" in over.said[0] and over.state.wrong == 1
    assert "6 modules" in odd.said[0] and odd.state.wrong == 1
    assert "30-pin" in other.said[0]


@pytest.mark.parametrize(
    ("before", "line", "slot", "counts"),
    [
        (TO_MEMORY, "2 x 1 MB -70", "simm-0", [[2], [4], []]),
        (TO_BANKS, "3 x 61256-20", "cache-0", [[3], [4], []]),
        (TO_MEMORY, "1 x 1 MB -70, 1 x 1 MB -80", "simm-0", [[1, 1], []]),
    ],
)
def test_half_a_bank_is_asked_about(before: list[str], line: str, slot: str, counts: list[list[int]]) -> None:
    """Chips or modules that do not fill a bank are asked about once: only these, a full bank, or none."""
    turn = answered(new_dialogue(), [*before, line])
    assert "without all of them it cannot be used" in turn.asks
    assert len(turn.ways) == len(counts)

    for letter, count in zip("abc", counts, strict=False):
        settled = new_dialogue().answer(turn.state, letter)
        fits = settled.state.draft.fit.get(SlotId(slot), ())
        assert [fit.count for fit in fits] == count
        assert settled.state.unclear is None
    corrected = new_dialogue().answer(turn.state, "4 x 1 MB -60" if slot == "simm-0" else "61256-15")
    assert [fit.count for fit in corrected.state.draft.fit[SlotId(slot)]] == [4]


@pytest.mark.parametrize(
    ("before", "line", "told"),
    [
        (TO_MEMORY, "1 MB 10", "memory bank 0: 4 x 1 MB, fast-page DRAM, 100 ns"),
        (TO_MEMORY, "1x9-70", "memory bank 0: 4 x 1 MB, fast-page DRAM, 70 ns"),
        (TO_MEMORY, "none", "memory bank 0: empty"),
        (TO_BANKS, "UM61256 20", "4 x static RAM 32Kx8, 20 ns"),
        ([*TO_BANKS, "61256-20"], "", "4 x static RAM 32Kx8, 20 ns"),
        ([*TO_BOARD], "66.667", "33"),
        ([*TO_SETTINGS, "enter", "", "", "", ""], "b as SRAM read: quick", "SRAM read: quick"),
        ([*TO_SETTINGS, "slow"], "9 x 61256-15", "in the drawer: 9 x static RAM 32Kx8, 15 ns"),
    ],
)
def test_what_was_understood_is_told(before: list[str], line: str, told: str) -> None:
    """Every part that is accepted is told back in words, also what Enter took."""
    turn = answered(new_dialogue(), [*before, line])

    assert any(told in said for said in turn.said), turn.said


def test_floppy_controller_that_is_not_known() -> None:
    """Not known takes the controller that bears the shortest wait, and says so; the default is no id."""
    asked = answered(new_dialogue(), TO_SETTINGS[:-1])
    assert asked.question is not None and asked.question.key == "slot.floppy"
    assert asked.default == "not known" and asked.ways[-1].startswith("not known")

    waits = {part.id: part.values["service"].value for part in desk().parts_of_kind("floppy")}
    for line in ("", "not known", "unknown", "h"):
        turn = new_dialogue().answer(asked.state, line)
        taken = turn.state.draft.fit[SlotId("floppy")][0].part
        assert waits[taken] == min(waits.values())
        assert "the most careful assumption" in turn.said[0]
    named = new_dialogue().answer(asked.state, "PC8477B")
    assert len(named.said) == 1 and named.said[0].endswith(": PC8477B floppy controller")


def test_defaults_are_told_by_title() -> None:
    """What Enter takes is told in words and not by the id of a part."""
    ids = {str(part) for part in desk().rulebook.parts}
    dialogue = new_dialogue()
    for name, board in desk().boards.items():
        turn = answered(dialogue, [*usual(board), name])
        while turn.question is not None and turn.question.key != "settings":
            assert turn.default not in ids, turn.asks
            line = "a" if turn.state.unclear else ("" if turn.default else "none")
            turn = dialogue.answer(turn.state, line)
            assert turn.state.wrong < 2


def test_a_line_that_the_own_screen_lacks() -> None:
    """Not there takes the default, says how it is left alone, and stands in the profile as a comment."""
    turn = answered(new_dialogue(), [*TO_SETTINGS, "enter", "not there"])
    board = desk().boards["harrow-h346"]
    option = next(option for option in board.options if option.id != "host-clock")
    assert turn.state.draft.absent == {option.id}
    assert f"'rank --fix {option.id}' leaves it alone" in turn.said[0]

    text = text_of(profile(turn), {}, turn.state.draft.absent)
    line = next(line for line in text.splitlines() if line.startswith(f"{option.id} ="))
    assert line.endswith("(not on the owner's screen)")
    taken_back = answered(new_dialogue(), [*TO_SETTINGS, "enter", "not there", "back", "a"])
    assert taken_back.state.draft.absent == frozenset()


def test_none_is_a_choice_where_one_is_called_so() -> None:
    """``none`` chooses what is called so, and means a missing line only where nothing is."""
    board = desk().boards["harrow-h346"]
    places = [str(option.id) for option in board.options if option.id != "host-clock"]
    before = places.index("firmware-copy")
    turn = answered(new_dialogue(), [*TO_SETTINGS, "enter", *[""] * before, "none", "none"])

    assert turn.state.draft.current[OptionId("firmware-copy")] == "none"
    assert turn.state.draft.absent == {OptionId(places[before + 1])}


def test_mixed_chips_stay_apart_in_the_profile() -> None:
    """A bank of two grades is two entries in the profile, and is read back as such."""
    banks = ["2 x 61256-20, 2 x 61256-15", "none", "61256-15", "1 MB -70", "none"]
    answers = [*TO_BANKS, *banks, "none", "none"]
    turn = answered(new_dialogue(), [*answers, "slow", "", "", "yes"])

    assert turn.ended == "done"
    assert [(fit.part, fit.count) for fit in profile(turn).fit[SlotId("cache-0")]] == [
        ("sram-32kx8-20", 2),
        ("sram-32kx8-15", 2),
    ]


def test_wrong_organisation_is_told() -> None:
    """A chip of another organisation than the socket takes is refused, naming both."""
    turn = answered(new_dialogue(), [*TO_BANKS, "6164-20"])

    assert "8Kx8" in turn.said[0] and "32Kx8" in turn.said[0]
    assert "no cache socket of this board takes it" in turn.said[0]


def test_chip_for_another_socket_is_told() -> None:
    """A chip that is too small for a data socket but right for the tag is refused with that hint."""
    turn = answered(new_dialogue(), ["486dx2-66", "isa vl", "256", "72", "sallowfield-sv4", "", "W24129-15"])

    assert "16Kx8" in turn.said[0] and "right for: tag socket, dirty RAM socket" in turn.said[0]


def test_unknown_number_is_told_where_it_is_taken() -> None:
    """A number that is not known is taken by its speed with a remark, or asked back with one."""
    one = answered(new_dialogue(), [*TO_BANKS, "QM61X77AH-15"])
    two = answered(
        new_dialogue(), ["486dx2-66", "isa vl", "256", "72", "sallowfield-sv4", "", "QM61X77AH-15"]
    )

    assert "the number QM61X77AH is not known here: taken as 32Kx8" in one.said[0]
    assert two.asks.startswith("the number QM61X77AH is not known here, and") and len(two.ways) == 2


def test_a_board_that_does_not_take_the_cpu_is_refused() -> None:
    """A board is no choice for a CPU that does not go into it."""
    turn = answered(new_dialogue(), ["dx4-100", "isa vl", "256", "30", "harrow-h346"])

    assert "takes no 486DX4" in turn.said[0]


def test_settings_in_the_owners_words() -> None:
    """A choice is entered by letter or words, and ``as`` gives the owner's words for line and choices."""
    board = desk().boards["harrow-h346"]
    lines = {
        "cache-read": "3-1-1-1 as SRAM read: slow | middle | fast | fastest",
        "isa-clock": "as Bus speed",
    }
    lines["cache-use"] = "c as Cache: copy back"  # the choice itself is called "back"
    entered = [lines.get(str(option.id), "") for option in board.options if option.id != "host-clock"]
    turn = answered(new_dialogue(), [*TO_SETTINGS, "enter", *entered, "40 h", "", "", "yes"])
    assert turn.ended == "done"
    machine = profile(turn)

    assert machine.current[OptionId("cache-read")] == "3-1-1-1"
    assert machine.current[OptionId("cache-use")] == "back"
    assert machine.labels == {
        "cache-use": "Cache",
        "cache-use.back": "copy back",
        "cache-read": "SRAM read",
        "cache-read.3-2-2-2": "slow",
        "cache-read.3-1-1-1": "middle",
        "cache-read.2-2-2-2": "fast",
        "cache-read.2-1-1-1": "fastest",
        "isa-clock": "Bus speed",
    }
    assert machine.proven == Proven(40)


@pytest.mark.parametrize(
    "words", ["as X: a | b", "as X: a | b | c | d | e | f", "as X: | | |", "as", "f as X"]
)
def test_words_that_do_not_match_the_choices(words: str) -> None:
    """Words for some of the choices, for too many, or none at all are refused."""
    turn = answered(new_dialogue(), [*TO_SETTINGS, "enter", "", words])

    assert turn.state.wrong == 1
    assert turn.state.draft.labels == {}


@pytest.mark.parametrize(
    ("said", "hours", "symptoms"),
    [
        ("40 h", 40, ()),
        ("5 days", 120, ()),
        ("0,5 h", 0.5, ()),
        ("hang", None, ("hang",)),
        ("reboot, memory error", None, ("reboot", "memory-error")),
        ("no-start and hang", None, ("no-start", "hang")),
    ],
)
def test_what_is_known_of_the_settings(said: str, hours: float | None, symptoms: tuple[str, ...]) -> None:
    """Hours without a fault, or how it fails, become the first entry of the evidence."""
    count = len(desk().boards["harrow-h346"].options) - 1
    turn = answered(new_dialogue(), [*TO_SETTINGS, "enter", *[""] * count, said])

    assert turn.state.draft.proven == Proven(hours, symptoms)  # type: ignore[arg-type] # a half is exact


def usual(board: BoardProfile) -> list[str]:
    """Answers about a plain machine on *board*: a CPU at its own clock, the cache full, no cards."""
    rulebook = desk().rulebook
    socket = next(slot for slot in board.slots if slot.role == "cpu")
    able = [rulebook.parts[socket.soldered]] if socket.soldered else fitting_parts(socket, rulebook)
    cpu = next(part for part in able if part.values["host_clock"].value in host_clocks(board))
    cache = max(cache_sizes(board, rulebook), default=0)
    return [str(cpu.id), "isa", str(cache), "both"]


@pytest.mark.parametrize("name", sorted(desk().boards))
def test_slow_settings_hold(name: str) -> None:
    """The settings that a beginner is given break no rule on any packed board, with parts of usual speed."""
    board, dialogue = desk().boards[name], new_dialogue()
    roles = {f"slot.{slot.id}": slot.role for slot in board.slots}
    turn = answered(dialogue, [*usual(board), name])
    while turn.question is not None and turn.question.key != "settings":
        asked = {"dram": "4 MB -70", "l2.data": "-20", "l2.tag": "-20", "clockgen": "50"}
        line = "a" if turn.state.unclear else asked.get(roles.get(turn.question.key, ""), "")
        turn = dialogue.answer(turn.state, line if not turn.default else "")
        assert turn.state.wrong == 0, turn.said  # so every default is an answer that is taken

    machine = build_machine("x", profile(turn), board, desk().rulebook)
    verdict = margins(machine, bind(machine), machine.current)
    broken = [*(one.bound.rule.id for one in verdict.short), *(one.bound.rule.id for one in verdict.broken)]
    assert verdict.stands, broken


# ------------------------------------------------------------------------------------- anything

WORDS = """ |  |  |back|?|a|b|none|same|386dx-33|isa|30|33|61256-20|20|4 x 1 MB -70|1 MB -70|multi-i/o|0
|slow|enter|yes|no|10|as X: y|hang|8 x 4 MB -10|4 MB EDO -60|9 x 61256-15|mono in isa-6""".replace("\n", "")
TYPED = st.one_of(st.sampled_from(WORDS.split("|")), st.text(max_size=30))


@given(st.integers(0, len(TO_END)), st.lists(TYPED, max_size=40))
@settings(max_examples=80)
def test_any_answers_lead_to_a_profile_or_on(place: int, lines: list[str]) -> None:
    """Whatever is answered, the dialogue asks on, gives up, or ends with a machine that can be read back."""
    turn = answered(new_dialogue(5), [*TO_END[:place], *lines])

    assert turn.ended or turn.question is not None
    assert all("\n" not in line for line in turn.said)
    if turn.ended == "done":
        machine = profile(turn)
        text = text_of(machine, turn.state.draft.notes)
        assert load_machine(text, desk().rulebook, board_finder(desk().rulebook), "x") == machine


@given(st.lists(TYPED, min_size=1, max_size=6), st.integers(0, len(TO_END)))
@settings(max_examples=25)
def test_going_back_restores_what_was(lines: list[str], place: int) -> None:
    """An answer taken back leaves exactly what was there before it."""
    dialogue = new_dialogue()
    turn = answered(dialogue, TO_END[:place])
    for line in lines:
        after = dialogue.answer(turn.state, line)
        if len(after.state.past) > len(turn.state.past):
            assert dialogue.answer(after.state, "back").state.draft == turn.state.draft
        turn = after
        if turn.ended:
            break
