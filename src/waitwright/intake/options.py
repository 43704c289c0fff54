"""Current settings: which choice stands where, and what the owner's own screen calls it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

from waitwright.ids import ChoiceId, ParameterName
from waitwright.intake.boards_near import host_clocks
from waitwright.intake.draft import Draft
from waitwright.intake.markings import read_oscillator
from waitwright.intake.questions import Desk, Question, line_of_text
from waitwright.intake.readings import Reading, Refused, Taken, Way, choose, each, one_of, plain, then
from waitwright.rulebook.domain import Rulebook
from waitwright.rulebook.profiles import BoardProfile, ChoiceDef, OptionDef
from waitwright.units import Exact, from_base

_AS = re.compile(r"^(.*?)(?:^|\s)as\s+(\S.*)$", re.IGNORECASE)
HOST = ParameterName("host_clock")
KEEP = "keep"
"""The answer that leaves everything as it is."""

HELP = (
    "Answer with the letter or the words of a choice. If your screen calls the line otherwise, add "
    "'as' and its words: 'b as SRAM read'. Words for the choices follow a colon, all in this order with "
    "bars between them ('b as SRAM read: slow | medium | fast'), or only for the one chosen "
    "('b as SRAM read: medium'). Everything is shown under your words from then on. If your screen has no "
    "such line, answer 'not there' (or 'none', where no choice is called so): the choice in brackets is "
    "taken. A better one may be proposed for it later; 'rank --fix OPTION' leaves it alone."
)
_NOT_THERE = frozenset({"not there", "none", "not on my screen", "absent", "missing"})


def option_question(draft: Draft, option: OptionDef, default: ChoiceId, key: str, *, keep: bool) -> Question:
    """What stands at *option* now; with *keep*, Enter leaves it and its words as they are."""
    seen = renamed(option, draft.labels)
    kind = "Jumper" if option.kind == "jumper" else "Setting"
    help_ = f"{option.help} {HELP}" if option.help else HELP
    return Question(
        key=key,
        text=f"{kind}: {seen.label}",
        help=help_,
        read=lambda line: _read_or_missing(draft, option, default, line),
        default=KEEP if keep else str(default),
        shown_default=seen.choice(default).label,
        ways=tuple(choice.label for choice in seen.choices),
    )


def renamed(option: OptionDef, labels: Mapping[str, str]) -> OptionDef:
    """*option* under the owner's words."""
    choices = tuple(
        replace(choice, label=labels.get(f"{option.id}.{choice.id}", choice.label))
        for choice in option.choices
    )
    return replace(option, label=labels.get(str(option.id), option.label), choices=choices)


def _read_or_missing(draft: Draft, option: OptionDef, default: ChoiceId, line: str) -> Reading[Draft]:
    """*draft* with what *line* says of *option*, told back unless it is what Enter takes; or not there."""

    def told(after: Draft) -> Reading[Draft]:
        seen = renamed(option, after.labels)
        words = f"{seen.label}: {seen.choice(after.current[option.id]).label}"
        return Taken(after, () if plain(line) in {KEEP, str(default)} else (words,))

    found = then(read_option(draft, option, default, line), told)
    if not isinstance(found, Refused) or plain(line) not in _NOT_THERE:
        return found
    words = renamed(option, draft.labels).choice(default).label
    remark = (
        f"no such line: {words} is taken. Another choice may be proposed for it later; "
        f"'rank --fix {option.id}' leaves it alone"
    )
    taken = _chosen(draft, option, default)
    return Taken(replace(taken, absent=taken.absent | {option.id}), (remark,))


def read_option(draft: Draft, option: OptionDef, default: ChoiceId, line: str) -> Reading[Draft]:
    """*draft* with the choice, and the owner's words, that *line* gives for *option*."""
    if plain(line) == KEEP:
        return Taken(_chosen(draft, option, default))
    whole = _choice(draft, option, line)
    named = _AS.match(line.strip())
    if named is None or isinstance(whole, Taken):  # a choice may have the word "as" in its label
        return then(whole, lambda choice: Taken(_chosen(draft, option, choice.id)))
    chosen = _choice(draft, option, named[1]) if named[1].strip() else Taken(option.choice(default))
    return then(chosen, lambda choice: _named(_chosen(draft, option, choice.id), option, choice, named[2]))


def _choice(draft: Draft, option: OptionDef, line: str) -> Reading[ChoiceDef]:
    seen = renamed(option, draft.labels)
    ways = [
        Way(shown.label, choice, (str(choice.id), choice.label))
        for shown, choice in zip(seen.choices, option.choices, strict=True)
    ]
    return choose(line, ways, "choice")


def _chosen(draft: Draft, option: OptionDef, choice: ChoiceId) -> Draft:
    return replace(draft, current={**draft.current, option.id: choice}, absent=draft.absent - {option.id})


def _named(draft: Draft, option: OptionDef, choice: ChoiceDef, said: str) -> Reading[Draft]:
    """*draft* with the owner's words: a title, or a title, a colon, and words for the choices."""
    title, colon, rest = said.rpartition(":")
    if not colon:
        title, rest = said, ""
    given = [text.strip() for text in rest.split("|")] if rest.strip() else []
    if len(given) == 1:
        texts = {f"{option.id}.{choice.id}": given[0]}
    elif len(given) == len(option.choices):
        texts = {f"{option.id}.{one.id}": text for one, text in zip(option.choices, given, strict=True)}
    elif given:
        return Refused(f"{len(given)} words for {len(option.choices)} choices: give one for each, or one")
    else:
        texts = {}
    texts = {str(option.id): title, **texts}
    words = each(texts.values(), lambda text: line_of_text(text, "the words of your screen"))
    return then(
        words,
        lambda words: Taken(replace(draft, labels={**draft.labels, **dict(zip(texts, words, strict=True))})),
    )


# --------------------------------------------------------------------------------------- clock


def clock_option(board: BoardProfile) -> OptionDef | None:
    """The option that sets the host clock; None where the board has one clock only."""
    return next((option for option in board.options if HOST in option.parameters), None)


def clock_question(desk: Desk, draft: Draft, board: BoardProfile, option: OptionDef) -> Question:
    """Which host clock the CPU has now, in MHz or as the oscillator says it."""
    cpu = desk.part(draft.cpu)
    doubled = cpu is not None and (value := cpu.values.get("clk2_input")) is not None and value.value is True
    rated = rated_clock(desk.rulebook, draft)
    choices = [choice for choice in option.choices if _clock_of(choice) == rated]

    def read(line: str) -> Reading[Draft]:
        exact = next((one for one in option.choices if plain(line) in {str(one.id), plain(one.label)}), None)
        if exact is not None and not doubled:
            return Taken(_chosen(draft, option, exact.id), (f"{option.label}: {exact.label}",))
        clock = read_oscillator(line, host_clocks(board), doubled=doubled)
        return then(clock, lambda wanted: _set_clock(draft, option, wanted))

    twice = " This CPU is fed twice its clock: a can of 66.667 makes 33 MHz." if doubled else ""
    return Question(
        key="clock",
        text="Which clock does the CPU's bus run at? (MHz, or what the oscillator says)",
        help="Read the oscillator can or the jumper. Not the speed of a clock-doubled CPU's inside, "
        f"but what the board feeds it: 33 for a 486DX2-66.{twice}",
        read=read,
        default=_mhz_words(rated) if len(choices) == 1 and rated is not None else "",
        ways=(),
    )


def _set_clock(draft: Draft, option: OptionDef, wanted: Exact) -> Reading[Draft]:
    able = [(choice.label, choice.id) for choice in option.choices if _clock_of(choice) == wanted]
    chosen = one_of(f"{option.label}: several choices make that clock. Which?", able)
    return then(
        chosen,
        lambda choice: Taken(
            _chosen(draft, option, choice), (f"{option.label}: {option.choice(choice).label}",)
        ),
    )


def _clock_of(choice: ChoiceDef) -> Exact | None:
    value = choice.sets.get(HOST)
    return value if isinstance(value, int | Fraction) else None


def rated_clock(rulebook: Rulebook, draft: Draft) -> Exact | None:
    """The bus clock that the CPU is rated for."""
    value = rulebook.parts[draft.cpu].values.get("host_clock") if draft.cpu is not None else None
    return value.value if value is not None and isinstance(value.value, int | Fraction) else None


def _mhz_words(clock: Exact) -> str:
    """A clock so that :func:`read_oscillator` takes it as a host clock and not as a can of half of it."""
    return f"{float(from_base(clock, 'MHz')):.3f}".rstrip("0").rstrip(".")


def open_options(board: BoardProfile) -> list[OptionDef]:
    """The options that are asked one by one: all but the host clock, which has a question of its own."""
    clock = clock_option(board)
    return [option for option in board.options if clock is None or option.id != clock.id]
