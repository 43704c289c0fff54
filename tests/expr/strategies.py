"""Hypothesis strategies that write rule text, and tables of facts to evaluate it with."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import strategies as st
from hypothesis.strategies import SearchStrategy

from waitwright.expr import FLAG, TEXT, Kind, Value
from waitwright.units import NUMBER, tidy

NUMBERS = ("host_period", "l2.data.access", "cpu.address_valid_max", "x")
FLAGS = ("l2_enabled", "cpu.clk2_input")
TEXTS = ("cpu.family", "isa_source")
WORDS = ("386", "486", "clk2", "it's", "")

KINDS: dict[str, Kind] = {
    **dict.fromkeys(NUMBERS, NUMBER),
    **dict.fromkeys(FLAGS, FLAG),
    **dict.fromkeys(TEXTS, TEXT),
}

_SIGNS = ("==", "!=", "<", "<=", ">", ">=")


def _quoted(word: str) -> str:
    return f'"{word}"' if "'" in word else f"'{word}'"


decimals: SearchStrategy[str] = st.builds(
    lambda whole, part: f"{whole}.{part}" if part else str(whole),
    st.integers(0, 999),
    st.sampled_from(["", "0", "5", "1", "25", "333", "10"]),
)
wholes: SearchStrategy[str] = st.integers(0, 20).map(str)


def rules(kind: Kind, *, whole: bool = False, levels: int = 3) -> SearchStrategy[str]:
    """Well-formed rule text of *kind* (plain numbers, flags or texts).

    Args:
        whole: Only whole literals and no division, so that floats calculate exactly.
        levels: How deep the text nests at most.
    """
    writers = {NUMBER: _numbers, FLAG: _flags, TEXT: _texts}
    writer = writers[kind]
    return writer(whole, levels).filter(lambda text: len(text) <= 600)


def _bracketed(inner: SearchStrategy[str]) -> SearchStrategy[str]:
    """Operands: in brackets, so that every tree can come up whatever its signs."""
    return inner.map(lambda text: f"({text})")


def _numbers(whole: bool, levels: int) -> SearchStrategy[str]:
    leaf = st.one_of(wholes if whole else decimals, st.sampled_from(NUMBERS))
    if levels == 0:
        return leaf
    below = st.deferred(lambda: _numbers(whole, levels - 1))
    part = st.one_of(leaf, _bracketed(below))
    signs = st.sampled_from("+-*" if whole else "+-*/")
    return st.one_of(
        leaf,
        st.builds("{} {} {}".format, part, signs, part),
        st.builds("{}{}{}{}{}".format, part, signs, part, signs, part),
        st.builds("-{}".format, part),
        st.builds("{}({}, {})".format, st.sampled_from(["min", "max"]), below, below),
        st.builds("{}({},{},{})".format, st.sampled_from(["min", "max"]), below, part, below),
        st.builds("{}({})".format, st.sampled_from(["abs", "ceil", "floor"]), below),
        st.builds("{} if {} else {}".format, part, _bracketed(_flags(whole, levels - 1)), below),
        st.builds("percent({})".format, decimals) if not whole else leaf,
    )


def _texts(whole: bool, levels: int) -> SearchStrategy[str]:
    leaf = st.one_of(st.sampled_from(TEXTS), st.sampled_from(WORDS).map(_quoted))
    if levels == 0:
        return leaf
    below = st.deferred(lambda: _texts(whole, levels - 1))
    part = _bracketed(below)
    return st.one_of(
        leaf, st.builds("{} if {} else {}".format, part, _bracketed(_flags(whole, levels - 1)), below)
    )


def _flags(whole: bool, levels: int) -> SearchStrategy[str]:
    leaf = st.sampled_from([*FLAGS, "true", "false"])
    if levels == 0:
        return leaf
    below = st.deferred(lambda: _flags(whole, levels - 1))
    part = st.one_of(leaf, _bracketed(below))
    number = _bracketed(_numbers(whole, levels - 1))
    text = _bracketed(_texts(whole, levels - 1))
    signs, alike = st.sampled_from(_SIGNS), st.sampled_from(_SIGNS[:2])
    inside = st.sampled_from(["in", "not in"])
    listed = st.lists(st.sampled_from(WORDS).map(_quoted), min_size=1, max_size=3)
    counted = st.lists(wholes, min_size=1, max_size=3)
    return st.one_of(
        leaf,
        st.builds("{} {} {}".format, number, signs, number),
        st.builds("{}{}{}{}{}".format, number, signs, number, signs, number),
        st.builds("{} {} {}".format, text, alike, text),
        st.builds("{} {} {}".format, part, alike, part),
        st.builds("{} {} ({},)".format, text, inside, listed.map(", ".join)),
        st.builds("{} {} ({},)".format, number, inside, counted.map(", ".join)),
        st.builds("not {}".format, part),
        st.builds("{} and {} and {}".format, part, part, part),
        st.builds("{} or {} and {}".format, part, part, part),
        st.builds("{} if {} else {}".format, part, part, below),
    )


any_rules: SearchStrategy[str] = st.one_of(rules(NUMBER), rules(FLAG), rules(TEXT))
whole_rules: SearchStrategy[str] = st.one_of(
    rules(NUMBER, whole=True), rules(FLAG, whole=True), rules(TEXT, whole=True)
)


def tables(*, whole: bool = False, unknown: bool = False) -> SearchStrategy[dict[str, Value]]:
    """A value for every fact of :data:`KINDS`; *unknown* lets some be None."""
    number: SearchStrategy[Value] = st.integers(-20, 20)
    if not whole:
        number = st.one_of(
            number, st.builds(_ratio, st.integers(-9999, 9999), st.sampled_from([2, 3, 10, 97]))
        )
    missing: list[SearchStrategy[Value]] = [st.none()] if unknown else []
    facts: dict[str, SearchStrategy[Value]] = {
        **dict.fromkeys(NUMBERS, st.one_of(*missing, number)),
        **dict.fromkeys(FLAGS, st.one_of(*missing, st.booleans())),
        **dict.fromkeys(TEXTS, st.one_of(*missing, st.sampled_from(WORDS))),
    }
    return st.fixed_dictionaries(facts)


def _ratio(numerator: int, denominator: int) -> Value:
    return tidy(Fraction(numerator, denominator))


_PIECES = """
    ( ) ( ) + - * / ** // == != < <= > >= = , . : := ; ' " # % \\ [ ] { } @ ~ 1 0.5 007 1e5 .5 1. x 'a' f'a'
    cpu.family __class__ a.b.c.d.e min max ceil ns V and or not in is if else lambda for true True None
"""

soup: SearchStrategy[str] = st.lists(
    st.sampled_from([*_PIECES.split(), " ", "\n", "\t", "\0", "\N{LATIN SMALL LETTER E WITH ACUTE}"]),
    max_size=20,
).flatmap(lambda parts: st.sampled_from([" ", ""]).map(lambda space: space.join(parts)))
"""Rule text gone wrong, now and then by luck not."""
