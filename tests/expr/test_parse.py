"""Reading rule text: what is accepted, and how everything else is refused."""

from __future__ import annotations

import copy
import pickle
import subprocess
import sys
import time
import warnings
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import waitwright.expr
from waitwright.errors import ExpressionError
from waitwright.expr import check_name, parse, substitute, to_text
from waitwright.expr.nodes import Arithmetic, Flag, Membership, Name, Not, Number, Text, walk

from .strategies import any_rules, soup


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("0.1", Fraction(1, 10)),
        ("0.30", Fraction(3, 10)),
        ("33.333", Fraction(33333, 1000)),
        ("66.0", 66),
        ("123456789.123", Fraction(123456789123, 1000)),
        ("999999999999", 999999999999),
    ],
)
def test_decimals_are_read_exactly(text: str, value: int | Fraction) -> None:
    """A literal number is exactly what its digits say, an int where whole."""
    tree = parse(text).tree
    assert isinstance(tree, Number)
    assert tree.value == value
    assert type(tree.value) is type(value)


def test_names_are_collected() -> None:
    """An expression knows every fact it mentions, wherever it stands."""
    text = "min(a, b.c) if d in ('x',) and not e else -f * ns(3) + g.h.i.j"
    assert parse(text).names == {"a", "b.c", "d", "e", "f", "g.h.i.j"}


def test_positions_point_into_the_text() -> None:
    """Each node carries the column where its text starts, leading spaces counted."""
    text = "  cpu.data_setup +  12"
    tree = parse(text).tree
    assert isinstance(tree, Arithmetic)
    assert (tree.position, tree.left.position, tree.right.position) == (2, 2, 20)
    for node in walk(tree):
        if isinstance(node, Name):
            assert text[node.position :].startswith(node.name)


def test_equality_ignores_layout() -> None:
    """Two texts with one meaning are equal and hash alike; another meaning is another expression."""
    assert parse("a+(b*0.50)") == parse(" a + b * 0.5\n")
    assert hash(parse("a+(b*0.50)")) == hash(parse("a + b * 0.5"))
    assert parse("a + b") != parse("b + a")
    assert parse("(a and b) and c") != parse("a and b and c")
    assert parse("1") != parse("true")


def test_line_breaks_are_layout() -> None:
    """Text over several lines reads as one expression, with positions counted through."""
    expression = parse("\n  a\n  + b\t+ c\r\n")
    assert expression == parse("a + b + c")
    assert expression.tree.position == 3


def test_precedence_is_the_usual_one() -> None:
    """Products bind before sums, signs before products, comparisons before 'not', 'and' before 'or'."""
    assert parse("a + b * c") == parse("a + (b * c)")
    assert parse("-a * b") == parse("(-a) * b")
    assert parse("a - b - c") == parse("(a - b) - c")
    assert parse("not a < b") == parse("not (a < b)")
    assert parse("a or b and c") == parse("a or (b and c)")
    assert parse("a if b else c if d else e") == parse("a if b else (c if d else e)")


def test_membership_lists_literals() -> None:
    """'in' takes a list of texts or numbers, and 'not in' denies it."""
    tree = parse("cpu.family in ('386', 5)").tree
    assert tree == Membership(Name("cpu.family", 0), (Text("386", 0), Number(5, 0)), 0)
    assert parse("x not in (1,)").tree == Not(Membership(Name("x", 0), (Number(1, 0),), 0), 0)


def test_flags_are_lowercase_words() -> None:
    """'true' and 'false' are flags, not facts."""
    assert parse("true").tree == Flag(True, 0)
    assert parse("false").tree == Flag(False, 0)
    assert parse("true and false").names == frozenset()


def test_copies_and_pickles_work_on() -> None:
    """An expression survives copying and pickling with its meaning and its text."""
    expression = parse("a+1")
    for twin in (copy.deepcopy(expression), pickle.loads(pickle.dumps(expression))):
        assert twin == expression
        assert twin.text == "a+1"
        assert waitwright.expr.evaluate(twin, {"a": 2}.__getitem__) == 3


HOSTILE = [
    ("'a'.upper()", 0, "no function"),
    ("'a'.real", 0, "only names of facts"),
    ("max(a, b).real", 0, "only names of facts"),
    ("(1).real", 1, "only names of facts"),
    ("(a if b else c).x", 1, "only names of facts"),
    ("(a).b", 0, "without spaces or brackets"),
    ("a . b", 0, "without spaces or brackets"),
    ("a.__class__", 0, "no name of a fact"),
    ("__import__('os')", 0, "no function '__import__'"),
    ("__builtins__", 0, "no name of a fact"),
    ("_x", 0, "no name of a fact"),
    ("Host", 0, "no name of a fact"),
    ("a.b.c.d.e", 0, "more than 4 pieces"),
    ("true.x", 0, "its own meaning"),
    ("min", 0, "its own meaning"),
    ("ns + 1", 0, "its own meaning"),
    ("getattr(a, 'b')", 0, "no function"),
    ("a.b(1)", 0, "no function 'a.b'"),
    ("min(1, 2)(3)", 0, "no function"),
    ("ceill(3)", 0, "did you mean 'ceil'"),
    ("lambda: 1", 6, "':'"),
    ("lambda x", 8, "no complete expression"),
    ("[x for x in y]", 0, "'['"),
    ("min(x for x in y)", 3, "'for'"),
    ("(x for x in y)", 0, "'for'"),
    ("{1: 2}", 0, "'{'"),
    ("a[0]", 1, "'['"),
    ("9**9**9", 1, "powers"),
    ("2 ** 3", 2, "powers"),
    ("a % b", 2, "remainders"),
    ("a // b", 2, "floor(a / b)"),
    ("a @ b", 2, "'@'"),
    ("a & b", 2, "write 'and'"),
    ("~a", 0, "'~'"),
    ("+a", 0, "'+' stands between"),
    ("f'{a}'", 1, "runs into"),
    ("b'a'", 1, "runs into"),
    ("(a := 3)", 3, "assignments"),
    ("a = 3", 2, "'=='"),
    ("a ! b", 2, "write 'not'"),
    ("max(a=1, b=2)", 5, "'=='"),
    ("max(*a)", 4, "'*' stands between"),
    ("max(**a)", 4, "powers"),
    ("await a", 0, "'await'"),
    ("(yield)", 1, "'yield'"),
    ("(yield from a)", 1, "'yield'"),
    ("None", 0, "'None'"),
    ("True", 0, "write 'true'"),
    ("...", 0, "'...'"),
    ("a is b", 5, "instead of 'is'"),
    ("a is not b", 9, "instead of 'is'"),
    ("(1, 2)", 0, "after 'in' only"),
    ("()", 0, "after 'in' only"),
    ("a in b", 5, "in round brackets"),
    ("a in ()", 5, "in round brackets"),
    ("a in ('x')", 6, "ends in a comma: ('x',)"),
    ("a in (b, 'x')", 6, "only literal"),
    ("a in (-1, 2)", 6, "only literal"),
    ("a in (1,) in (2,)", 0, "chain"),
    ("a < b in (1,)", 0, "chain"),
    ("1e5", 1, "runs into"),
    ("0x1F", 1, "runs into"),
    ("1_000", 1, "runs into"),
    ("1j", 1, "runs into"),
    ("1if a else 2", 1, "runs into"),
    ("1.if a else 2", 1, "digits on both sides"),
    (".5", 1, "digits on both sides"),
    ("5.", 1, "digits on both sides"),
    ("007", 0, "no complete expression"),
    ("1234567890123", 0, "12 digits"),
    ("0.123456789012", 0, "12 digits"),
    ("'a' 'b'", 0, "one pair of quotes"),
    ("'''a'''", 0, "one pair of quotes"),
    ("'\\d'", 0, "quote it starts with"),
    ("'a", 0, "quote it starts with"),
    ("\"a'", 0, "quote it starts with"),
    ("'a\nb'", 0, "quote it starts with"),
    ("'caf\N{LATIN SMALL LETTER E WITH ACUTE}'", 0, "quote it starts with"),
    ("a \\\n + b", 2, "backslashes"),
    ("a # b", 2, "comments"),
    ("a; b", 1, "';'"),
    ("a\0b", 1, "'\\x00'"),
    ("\N{LATIN SMALL LIGATURE FI}x", 0, "'\\ufb01'"),
    ("\N{CYRILLIC SMALL LETTER A}", 0, "'\\u0430'"),
    ("\ud800", 0, "'\\ud800'"),
    ("a\N{NO-BREAK SPACE}+ b", 1, "'\\xa0'"),
    ("", 0, "empty"),
    (" \n ", 0, "empty"),
    ("a +", 3, "no complete expression"),
    ("1 2", 2, "no complete expression"),
    ("  1 2", 4, "no complete expression"),
    ("a)", 1, "no complete expression"),
    ("ns()", 0, "one literal number"),
    ("ns(a)", 0, "one literal number"),
    ("ns('1')", 0, "one literal number"),
    ("ns(1, 2)", 0, "one literal number"),
    ("ns(1 + 2)", 0, "one literal number"),
    ("GHz(1)", 0, "did you mean 'MHz' or 'kHz'"),
    ("min(a)", 0, "two values or more"),
    ("max()", 0, "two values or more"),
    ("ceil()", 0, "one value"),
    ("abs(a, b)", 0, "one value"),
    ("(" * 25 + "a" + ")" * 25, 24, "brackets may nest"),
    ("(" * 600, 24, "brackets may nest"),
    ("-" * 300 + "a", 24, "more than 24 deep"),
    ("not " * 149 + "a", 96, "more than 24 deep"),
    ("+".join("a" * 26), 0, "more than 24 deep"),
    ("a" * 601, 600, "at most 600"),
    ("(" * 10_000_000, 600, "at most 600"),
]


@pytest.mark.parametrize(("text", "position", "reason"), HOSTILE, ids=lambda value: ascii(value)[:30])
def test_everything_else_is_refused_with_its_position(text: str, position: int, reason: str) -> None:
    """Text outside the language is refused at once, at the place and for the reason, without a warning."""
    start = time.perf_counter()
    with warnings.catch_warnings(record=True) as leaked:
        warnings.simplefilter("always")
        with pytest.raises(ExpressionError) as caught:
            parse(text)
    assert time.perf_counter() - start < 0.5
    assert leaked == []
    assert reason in caught.value.reason
    assert caught.value.position == position
    assert caught.value.text == text
    assert len(str(caught.value)) < 1000
    assert "\n" not in str(caught.value)


def test_bounds_are_met_exactly() -> None:
    """What is just within a bound is accepted, one step more is not."""
    parse("a" * 600)
    parse("+".join("a" * 24))
    parse("(" * 24 + "a" + ")" * 24)
    parse("-" * 23 + "a")
    within = "max(" + ",".join("a" * 199) + ")"
    parse(within)
    with pytest.raises(ExpressionError, match="more than 200 parts"):
        parse(within[:-1] + ",a)")


@given(st.one_of(soup, st.text(max_size=40)))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Whatever the text, it is an expression that reads back the same, or an error that points into it."""
    try:
        expression = parse(text)
    except ExpressionError as error:
        assert 0 <= error.position <= len(text)
        assert error.reason
    else:
        assert parse(to_text(expression)) == expression


@given(any_rules)
def test_canonical_text_reads_back(text: str) -> None:
    """Canonical text has the same meaning, and is its own canonical text."""
    expression = parse(text)
    canonical = to_text(expression)
    assert parse(canonical) == expression
    assert to_text(parse(canonical)) == canonical
    assert parse(canonical).names == expression.names


@pytest.mark.parametrize(
    "text",
    [
        "max(" + ",".join(["data_sum+1"] * 50) + ",(a if b else c)*d)",
        "max(" + ",".join(["access*2-b"] * 38) + ",'it'in('it','\"'),x not in(1,))",
    ],
)
def test_long_text_stays_within_bounds(text: str) -> None:
    """Canonical text leaves out its spaces where they would make it too long to read back."""
    expression = parse(text)
    assert " + " not in to_text(expression)
    assert parse(to_text(expression)) == expression


def test_facts_are_renamed() -> None:
    """Renaming replaces whole fact names only, all at once, and keeps the layout."""
    expression = parse("card.io+ card.io_access  + a")
    renamed = substitute(expression, {"card.io": "isa_1.io", "a": "card.io"})
    assert renamed.text == "isa_1.io+ card.io_access  + card.io"
    assert renamed.names == {"isa_1.io", "card.io_access", "card.io"}
    assert renamed.tree.position == 0


@pytest.mark.parametrize(
    "name", ["isa-1.io", "a + b", "true", "ceil", "A", "a.b.c.d.e", "", "a.", "1a", "a\n"]
)
def test_renaming_accepts_names_only(name: str) -> None:
    """A new name that is no name of a fact is refused at the place of the old one."""
    assert check_name(name)
    with pytest.raises(ExpressionError) as caught:
        substitute(parse("1 + card.io"), {"card.io": name})
    assert caught.value.position == 4


@pytest.mark.parametrize("name", ["a", "cpu.family", "l2.data.access_max", "a.b.c.d", "x_1"])
def test_nothing_is_wrong_with_sound_names(name: str) -> None:
    """Of a name that is one, nothing is told."""
    assert check_name(name) == ""


@given(any_rules)
def test_renaming_there_and_back_changes_nothing(text: str) -> None:
    """Giving every fact a new name and its old name again yields an equal expression."""
    expression = parse(text)
    there = {name: f"new_{number}" for number, name in enumerate(sorted(expression.names))}
    back = {new: old for old, new in there.items()}
    renamed = substitute(expression, there)
    assert renamed.names == set(back)
    assert substitute(renamed, back) == expression


def test_nothing_runs_rule_text() -> None:
    """No module of the language calls eval, exec or compile, in any form but re.compile."""
    import ast

    for file in Path(waitwright.expr.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                assert node.func.id not in {"eval", "exec", "compile", "__import__"}, file.name
            if isinstance(node, ast.Attribute) and node.attr in {"eval", "exec", "compile"}:
                assert isinstance(node.value, ast.Name), file.name
                assert node.value.id == "re", file.name


def test_importing_the_language_is_cheap() -> None:
    """Reading and evaluating rules never loads numpy or difflib."""
    code = (
        "import sys, waitwright.expr as e; e.evaluate(e.parse('1 + 2'), {}.get);"
        "sys.exit(' '.join({'numpy', 'difflib'} & set(sys.modules)) or None)"
    )
    source = str(Path(waitwright.expr.__file__).parents[2])
    done = subprocess.run(
        [sys.executable, "-c", code], env={"PYTHONPATH": source}, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr.strip()) == (0, "")


def test_exports_are_sorted_and_there() -> None:
    """The package exports what it lists, in order."""
    exported = waitwright.expr.__all__
    assert len(set(exported)) == len(exported)
    assert all(hasattr(waitwright.expr, name) for name in exported)
