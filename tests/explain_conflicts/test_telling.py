"""The prose: figures are the ledger's, references exist, and the grammar is right."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.explain_conflicts.test_remedies import healer, wishes
from tests.workshop import MACHINES, NEW, OLD, named, packed
from waitwright.explain.conflict import ConflictFinder
from waitwright.explain.derivation import Step
from waitwright.explain.figures import measured
from waitwright.explain.members import PART_WORD
from waitwright.explain.telling import CLOCKS, Teller, more
from waitwright.explain.toll import tolls
from waitwright.ids import Settings
from waitwright.machine import FactTable
from waitwright.machine.build import parse_settings
from waitwright.rulebook.profiles import OptionDef
from waitwright.timing.margins import BudgetMargin, LimitMargin, margins
from waitwright.units import display

FIGURE = re.compile(r"(?<![\w.'/-])(\d+(?:\.\d+)?) (ns|us|MHz|MB|V|loads?|%)(?=[ ,;:.)]|$)")


def steps_of(name: str, asked: Settings) -> list[Step]:
    """Every step of every proof of one combination."""
    found = ConflictFinder(*packed(name), asked).find()
    return [step for one in found.found for argument in one.arguments for step in argument.steps]


def ledger_figures(name: str, verdict: object, chosen: Settings) -> set[str]:
    """Everything that a sentence about *verdict* may tell, as it is shown."""
    machine, _ = packed(name)
    facts = FactTable(machine, chosen)
    shown = {measured(display(value, "MHz", 3), "MHz") for clock in CLOCKS if (value := facts(clock))}  # type: ignore[arg-type]
    if isinstance(verdict, BudgetMargin):
        assert verdict.margin is not None
        times = [line.time for line in verdict.delays if line.time is not None]
        exact = [Fraction(-verdict.margin), *times, *(time + verdict.margin for time in times)]
        shown |= {measured(display(time, "ns"), "ns") for time in exact}
    elif isinstance(verdict, LimitMargin):
        unit = verdict.bound.rule.unit
        assert verdict.margin is not None and verdict.value is not None and verdict.rating is not None
        shown |= {
            measured(display(number, unit, 3), unit)
            for number in (verdict.value, verdict.rating, -verdict.margin)
        }
    return shown


def unquoted(name: str, sentence: str, verdict: object) -> str:
    """A sentence without what it quotes: titles, names of delays and parts, labels of choices."""
    machine, _ = packed(name)
    quoted = {part.title for part in machine.rulebook.parts.values()}
    if isinstance(verdict, BudgetMargin):
        quoted |= {line.name for line in verdict.delays}
    if isinstance(verdict, BudgetMargin | LimitMargin):
        quoted.add(verdict.bound.title)
    for text in sorted(quoted, key=len, reverse=True):
        sentence = sentence.replace(text, "*")
    for option in machine.options:
        for choice in option.choices:
            sentence = sentence.replace(f"'{choice.label}'", "*")
    return sentence


@given(wishes(away=5))
@settings(max_examples=30)
def test_every_figure_is_the_ledgers(wish: tuple[str, Settings]) -> None:
    """Each number in a proof is a line of the ledger there, its margin, or the one less the others."""
    name, asked = wish
    teller = Teller(packed(name)[0])
    for step in steps_of(name, asked):
        bare = unquoted(name, teller.step(step), step.verdict)
        told = {" ".join(pair) for pair in FIGURE.findall(bare)}

        assert told <= ledger_figures(name, step.verdict, step.settings)
        assert not re.search(r"\d", FIGURE.sub("", bare))


@given(wishes(away=5))
@settings(max_examples=30)
def test_figures_of_a_sentence_add_up(wish: tuple[str, Settings]) -> None:
    """What is left and what is needed differ by what is missing, to the last figure shown."""
    name, asked = wish
    machine, rules = packed(name)
    teller = Teller(machine)
    for margin in margins(machine, rules, asked).short:
        sentence = unquoted(name, teller.verdict(margin, asked), margin)
        found = re.search(
            r"([\d.]+) ns (?:is|are) left in .*? (?:needs|takes) ([\d.]+) ns.*short by ([\d.]+) ns", sentence
        )
        if found:
            left, needed, short = map(Fraction, found.groups())
            assert abs(needed - left - short) <= Fraction(2, 100)


@given(wishes(away=5))
@settings(max_examples=30)
def test_sentences_are_well_formed(wish: tuple[str, Settings]) -> None:
    """They begin with a capital, end with one full stop, and hold no empty names or doubled blanks."""
    name, asked = wish
    machine, rules = packed(name)
    teller = Teller(machine)
    found = ConflictFinder(machine, rules, asked).find()
    told = [
        *(teller.conflict(one) for one in found.found),
        *(line for one in found.found for argument in one.arguments for line in teller.argument(argument)),
        *(f"It takes {teller.correction(one)}." for one in found.corrections),
        *(teller.remedy(one) for one in healer(name, asked).remedies()),
        *(teller.verdict(one, asked) for one in margins(machine, rules, asked).short),
    ]
    for sentence in told:
        assert sentence[0].isupper() or sentence[0].isdigit() or sentence[0] == "'"
        assert sentence.endswith(".") and not sentence.endswith("..")
        assert "  " not in sentence and "''" not in sentence and "()" not in sentence
        assert "None" not in sentence and "unknown" not in sentence
        assert not re.search(r"(?<![\d.])1 (ns|loads) are\b|\b1 loads\b", sentence)


@given(wishes(away=5))
@settings(max_examples=30)
def test_words_of_members_are_what_the_command_line_takes(wish: tuple[str, Settings]) -> None:
    """Members are ``OPTION=CHOICE`` as asked, or ``part:SLOT=PART`` as fitted."""
    name, asked = wish
    machine, rules = packed(name)
    fitted = {(str(item.slot), str(item.part.id)) for item in machine.fitted}
    found = ConflictFinder(machine, rules, asked).find()
    for one in (*(conflict.words for conflict in found.found), *map(words_of, found.corrections)):
        for word in one:
            if word.startswith(PART_WORD):
                slots, _, part = word.removeprefix(PART_WORD).partition("=")
                assert all((slot, part) in fitted for slot in slots.split("+"))
            else:
                ((option, choice),) = parse_settings(machine, [word]).items()
                assert asked[option] == choice


def words_of(members: object) -> tuple[str, ...]:
    """The words of some members."""
    assert isinstance(members, tuple)
    return tuple(member.words for member in members)


@pytest.mark.parametrize(
    ("count", "told"), [(1, "There is 1 more way out."), (2, "There are 2 more ways out.")]
)
def test_what_is_left_untold_is_counted(count: int, told: str) -> None:
    """One is, two are."""
    assert more(count, "way out", "ways out") == told


@given(st.dictionaries(st.text("abc", min_size=1), st.floats(0, 1), max_size=6))
def test_tolls_share_out_what_is_lost(odds: dict[str, float]) -> None:
    """Shares add up to 1 unless nothing is lost; the worst rule takes most; a sure one takes nothing."""
    found = tolls(odds)

    assert {toll.rule for toll in found} == {rule for rule, value in odds.items() if value < 1}
    assert not found or sum(toll.share for toll in found) == pytest.approx(1)
    assert [toll.odds for toll in found] == sorted(toll.odds for toll in found) or any(
        toll.odds < 1e-12 for toll in found
    )


@pytest.mark.parametrize("name", MACHINES)
def test_each_option_is_told_in_the_owners_words(name: str) -> None:
    """A sentence about a choice quotes the label of the choice on the owner's own screen."""
    machine, rules = packed(name)
    asked = named(machine, isa_clock="clk2-4")
    found = ConflictFinder(machine, rules, asked).find().found[0]
    option: OptionDef = machine.option(next(one.option.id for one in found.choices))

    assert f"{option.label} at '{option.choice(asked[option.id]).label}'" in Teller(machine).conflict(found)


def test_the_drive_on_a_fast_bus_is_told_as_a_practitioner_would() -> None:
    """The time that is left for the drive, what its mode needs, and what is missing.

    Mode 0 needs 165 ns (ATA PIO table, t2).  One clock and a half of 60 ns, less 12 ns that the logic takes,
    are what a 16-bit port cycle with one wait gives.
    """
    machine, rules = packed(OLD)
    asked = named(machine, isa_clock="clk2-4", isa_io="1")
    short = {str(one.bound.rule.id): one for one in margins(machine, rules, asked).short}

    told = Teller(machine).verdict(short["ata.isa.width16"], asked)

    assert told == (
        "With the ISA bus at 16.67 MHz, 78 ns are left in 'Drive on the ISA bus, 16-bit data: command width "
        "(t2) (drive-isa)'; ATA drive, PIO, mode 0 needs 165 ns (command width of the drive): short by 87 ns."
    )


def test_a_card_too_many_is_told() -> None:
    """At 50 MHz the local bus bears one load; two are one too many."""
    machine, rules = packed(NEW)
    asked = named(machine, host_clock="50")
    short = {str(one.bound.rule.id): one for one in margins(machine, rules, asked).short}

    told = Teller(machine).verdict(short["local-bus.loads"], asked)

    assert (
        told == "Devices on the local bus, second revision: 2 loads against at most 1 load, over by 1 load."
    )
