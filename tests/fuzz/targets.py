"""What is fuzzed: each target takes any bytes, and fails where a promise to strangers is broken.

A promise: text that is not accepted ends in one clear line for each thing that is wrong; what is accepted
keeps the laws of its kind.  Anything else that is raised is a defect.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path

from tests.rulebook.conftest import BOARD, FILES, MACHINE, build_of
from waitwright.errors import ExpressionError, FileProblems
from waitwright.expr import FLAG, TEXT, Kind, Value, check, evaluate, explain_value, parse, render, to_text
from waitwright.rulebook.boards import load_board
from waitwright.rulebook.domain import Rulebook
from waitwright.rulebook.load import OWN, Source, build_rulebook
from waitwright.rulebook.machines import load_machine
from waitwright.rulebook.profiles import BoardProfile
from waitwright.schema.spans import key_lines
from waitwright.schema.tomlfile import MAX_BYTES, read_toml
from waitwright.trials.logfile import dump_logbook, load_logbook
from waitwright.units import NUMBER

LOGBOOK = """\
schema = 1
machine = "bench"
[offer]
number = 3
time = 2026-02-03T20:00:00+01:00
mode = "jump"
hours = 4
reason = "two changes"
settings = { clock = "33", read = "2" }
[[trial]]
number = 1
time = 2026-02-03T12:00:00Z
outcome = "failed"
symptoms = ["hang", "reboot"]
hours = 0.5
repaired = ["tired"]
note = "warm\\nday"
withdrawn = true
settings = { clock = "33", read = "2" }
[[trial.score]]
value = "100/3"
unit = "points"
workload = "integer"
[[trial.reading]]
name = "voltage"
value = [4.91, 5, "59/12"]
unit = "V"
where = "at the socket"
[[trial]]
number = 2
time = 2026-02-03T18:00:00Z
outcome = "stable"
settings = { clock = "25", read = "3" }
[[trial.reading]]
name = "swap"
value = true
unit = "flag"
"""
FACTS: Mapping[str, tuple[Kind, Value]] = {
    "x": (NUMBER, 7),
    "host_period": (NUMBER, 30_303),
    "l2.data.access": (NUMBER, None),
    "cpu.on": (FLAG, True),
    "automatic": (FLAG, False),
    "dram.fitted": (FLAG, None),
    "cpu.family": (TEXT, "486"),
    "isa_source": (TEXT, "clk2"),
}
"""What rule text may speak of, some of it unknown."""
KINDS = {name: kind for name, (kind, _) in FACTS.items()}
CALCULATION = ("division by zero", "too large", "bits")
"""What may still go wrong in rule text that was found sound."""


class Broken(AssertionError):
    """A promise is broken."""


def promised(kept: bool, what: str) -> None:
    """Fail with *what* unless it is *kept*; asserts would be gone under ``-O``."""
    if not kept:
        raise Broken(what)


def clear(error: FileProblems) -> None:
    """Every problem is one line of print that starts with its file."""
    promised(bool(error.problems), "an error without problems")
    for problem in error.problems:
        promised(len(str(problem).splitlines()) == 1, f"not one line: {problem!r}")
        promised(str(problem).startswith(problem.file), f"does not name its file: {problem!r}")
        promised(str(problem).isprintable(), f"not printable: {problem!r}")


class Stored:
    """Bytes where a file is expected."""

    def __init__(self, raw: bytes) -> None:
        self._raw = raw

    def is_dir(self) -> bool:
        """It is a file."""
        return False

    def read_bytes(self) -> bytes:
        """Its content."""
        return self._raw


# ----------------------------------------------------------------------------------------- targets


def expression(raw: bytes) -> None:
    """Rule text: refused with a place in it, or kept by writing and reading it again, and evaluated."""
    text = raw.decode("utf-8", "replace")
    try:
        read = parse(text)
    except ExpressionError as error:
        promised(0 <= error.position <= len(text), f"no place in the text: {error.position}")
        promised(bool(error.reason), "no reason")
        return
    promised(parse(to_text(read)) == read, "does not survive writing")
    promised(bool(render(read)), "cannot be said")
    try:
        check(read, KINDS)
    except ExpressionError:
        return
    lookup = {name: value for name, (_, value) in FACTS.items()}.__getitem__
    try:
        value = evaluate(read, lookup)
        promised(explain_value(read, lookup)[-1].value == value, "explained otherwise")
    except ExpressionError as error:
        promised(any(words in error.reason for words in CALCULATION), f"sound, but: {error.reason}")


def toml(raw: bytes) -> None:
    """Any bytes as a TOML file: read with the line of each of its keys, or refused in one line."""
    try:
        file = read_toml(Stored(raw), "any.toml")
    except FileProblems as error:
        clear(error)
        return
    promised(len(raw) <= MAX_BYTES, "a huge file was read")
    lines = key_lines(file.text)
    last = file.text.count("\n") + 1
    promised(all(1 <= line <= last for line in lines.values()), "a key beyond the end of the file")
    promised({path[0] for path in lines} == set(file.data), "keys that were lost, or made up")


def rules(raw: bytes) -> None:
    """A file of rules of a stranger's own, over a small rulebook."""
    sources = [Source(f"rules/{name}", text) for name, text in FILES.items()]
    try:
        build_rulebook([*sources, Source("mine/any.toml", Stored(raw), OWN)])
    except FileProblems as error:
        clear(error)


def words(raw: bytes) -> None:
    """A file of words; its first byte tells which."""
    kinds = ("roles", "parameters", "rows", "counted", "traits")
    kind = kinds[raw[0] % len(kinds)] if raw else kinds[0]
    sources = [Source(f"rules/{name}", text) for name, text in FILES.items()]
    try:
        build_rulebook([*sources, Source(f"mine/words/{kind}.toml", Stored(raw[1:]), OWN)])
    except FileProblems as error:
        clear(error)


@cache
def _small() -> tuple[Rulebook, BoardProfile]:
    book = build_of(FILES)
    return book, load_board(BOARD, book, "board.toml")


def board(raw: bytes) -> None:
    """A board profile."""
    try:
        load_board(Stored(raw), _small()[0], "board.toml")
    except FileProblems as error:
        clear(error)


def machine(raw: bytes) -> None:
    """A machine profile."""
    book, its_board = _small()
    try:
        load_machine(Stored(raw), book, lambda name: its_board, "machine.toml")
    except FileProblems as error:
        clear(error)


def logbook(raw: bytes) -> None:
    """A logbook: what is read is written and read again as the same."""
    try:
        book = load_logbook(Stored(raw), "bench.logbook.toml")
    except FileProblems as error:
        clear(error)
        return
    promised(load_logbook(dump_logbook(book), "again") == book, "does not survive writing")


TARGETS: Mapping[str, Callable[[bytes], None]] = {
    "expression": expression,
    "toml": toml,
    "rules": rules,
    "words": words,
    "board": board,
    "machine": machine,
    "logbook": logbook,
}


# ------------------------------------------------------------------------------------------- seeds


def seeds(target: str) -> tuple[bytes, ...]:
    """Sound inputs to begin with."""
    wholes = [BOARD, MACHINE, LOGBOOK]
    apart = [text for name, text in FILES.items() if not name.startswith("words/")]
    of_words = [text for name, text in FILES.items() if name.startswith("words/")]
    found: Mapping[str, list[str]] = {
        "expression": EXPRESSIONS,
        "toml": [*wholes, *apart, *of_words],
        "rules": apart,
        "words": [f"{position}{text}" for position in range(5) for text in of_words],
        "board": [BOARD],
        "machine": [MACHINE],
        "logbook": [LOGBOOK],
    }
    return tuple(text.encode() for text in found[target])


EXPRESSIONS = [
    "x + 1",
    "-x * (2.5 - host_period / 3)",
    "min(x, ns(30), host_period) if cpu.on and not automatic else 0",
    "cpu.family in ('386', '486') or isa_source == 'clk2'",
    "ceil(x / 4) + floor(x / 3) - abs(-x)",
    "1 < x <= 10 != 11",
    "percent(12.5) * l2.data.access >= MHz(33.3) * us(2)",
    "max(1, 2, 3) not in (4, 5)",
    "dram.fitted == true",
]

CRASHES = Path(__file__).with_name("crashes")
"""Inputs that once broke a promise, as ``TARGET-NAME``."""


def crashes(target: str) -> tuple[bytes, ...]:
    """What once broke a promise of *target*."""
    return tuple(path.read_bytes() for path in sorted(CRASHES.glob(f"{target}-*")))
