"""Rules in words, and in canonical text."""

from __future__ import annotations

import pytest
from hypothesis import given

from waitwright.expr import parse, render, to_text

from .strategies import any_rules

TITLES = {
    "l2_read_first_clocks": "clocks before the first word",
    "host_period": "host clock period",
    "cpu.family": "CPU family",
    "l2_enabled": "second-level cache in use",
}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("l2_read_first_clocks * host_period", "clocks before the first word times host clock period"),
        ("host_period >= ns(12.50)", "host clock period is at least 12.5 ns"),
        ("a <= b", "a is at most b"),
        ("a < b", "a is below b"),
        ("a > b", "a is above b"),
        ("a != b", "a is not b"),
        ("1 <= a < 3", "1 is at most a, which is below 3"),
        ("max(a, b)", "the larger of a and b"),
        ("max(a, b, c + d)", "the largest of a, b and (c plus d)"),
        ("min(a, b)", "the smaller of a and b"),
        ("min(a, b, c)", "the smallest of a, b and c"),
        ("max(a, b) + c", "(the larger of a and b) plus c"),
        ("ceil(a / b)", "(a divided by b) rounded up"),
        ("floor(a)", "a rounded down"),
        ("abs(a - b)", "the absolute value of (a minus b)"),
        ("a - (b - c)", "a minus (b minus c)"),
        ("(a + b) * -c", "(a plus b) times minus c"),
        ("-(a + b)", "minus (a plus b)"),
        ("a if b else c", "if b then a otherwise c"),
        ("(a if b else c) + d", "(if b then a otherwise c) plus d"),
        ("a if b else c if d else e", "if b then a otherwise if d then c otherwise e"),
        ("cpu.family == '486'", "CPU family is 486"),
        ("cpu.family in ('386',)", "CPU family is 386"),
        ("cpu.family in ('386', '486')", "CPU family is 386 or 486"),
        ("cpu.family not in ('386', '486')", "CPU family is neither 386 nor 486"),
        ("cpu.family not in ('386',)", "CPU family is not 386"),
        ("cpu.family == ''", "CPU family is ''"),
        ("not l2_enabled", "not second-level cache in use"),
        ("not a < b and c", "a is at least b and c"),
        ("not (not a == b)", "not a is not b"),
        ("not a < b < c", "not a is below b, which is below c"),
        ("not (a and b)", "not (a and b)"),
        ("a or b and c", "a or (b and c)"),
        ("a and (b or c)", "a and (b or c)"),
        ("l2_enabled == true", "second-level cache in use is yes"),
        ("a == false", "a is no"),
        ("MHz(33.333) + kHz(2)", "33.333 MHz plus 2 kHz"),
        ("V(5) + mV(50)", "5 V plus 50 mV"),
        ("KB(64) + MB(1)", "64 KB plus 1 MB"),
        ("C(70)", "70 degrees C"),
        ("percent(5)", "5 percent"),
        ("us(1) + ms(2)", "1 us plus 2 ms"),
        ("cpu.address_valid_max", "cpu address valid max"),
    ],
)
def test_rules_are_told_in_words(text: str, words: str) -> None:
    """A rule reads as a practitioner would say it, with brackets only against misreading."""
    assert render(parse(text), TITLES) == words


def test_titles_may_be_missing() -> None:
    """Without titles, facts are called by their names."""
    assert render(parse("host_period / 2")) == "host period divided by 2"


@given(any_rules)
def test_words_mention_every_fact(text: str) -> None:
    """The words name every fact of the rule by its title, and brackets are balanced."""
    expression = parse(text)
    titles = {name: f"<{number}>" for number, name in enumerate(sorted(expression.names))}
    said = render(expression, titles)
    assert all(title in said for title in titles.values())
    assert said.count("(") == said.count(")")


@pytest.mark.parametrize(
    ("text", "canonical"),
    [
        ("((a)+(b))*c", "(a + b) * c"),
        ("a+(b*c)", "a + b * c"),
        ("a-(b+c)", "a - (b + c)"),
        ("a/(b*c)/d", "a / (b * c) / d"),
        ("(-a)*(-b)", "-a * -b"),
        ("-(-a)", "--a"),
        ("-(a*b)", "-(a * b)"),
        ("not(not(a))", "not not a"),
        ("not (a==b)", "not a == b"),
        ("(not a)==b", "(not a) == b"),
        ("a not in('x',)", "not a in ('x',)"),
        ("(a in (1,2))==b", "(a in (1, 2)) == b"),
        ("(a<b)<c", "(a < b) < c"),
        ("(a and b)or(c and d)", "a and b or c and d"),
        ("(a or b)and c", "(a or b) and c"),
        ("(a and b) and c", "(a and b) and c"),
        ("a if b else(c if d else e)", "a if b else c if d else e"),
        ("(a if b else c)if d else e", "(a if b else c) if d else e"),
        ("a if(b if c else d)else e", "a if (b if c else d) else e"),
        ("max( a,(b) )", "max(a, b)"),
        ("1.50 + 0.0 + 100", "1.5 + 0 + 100"),
        ("0.00001", "0.00001"),
        ("999999999999", "999999999999"),
        ("\"x\" == 'it'", "'x' == 'it'"),
        ('"it\'s"', '"it\'s"'),
        ("ns( 5.0 )", "ns(5)"),
        ("true", "true"),
    ],
)
def test_canonical_text(text: str, canonical: str) -> None:
    """Canonical text has single spaces, the fewest brackets and the shortest numbers."""
    assert to_text(parse(text)) == canonical
    assert parse(canonical) == parse(text)
