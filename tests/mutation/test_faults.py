"""The faults of the mutation tool are what they say, one at a time."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import waitwright.units
from tests.mutation.faults import faults_of, with_fault
from tests.mutation.run import TESTS, excused, modules

CHECKOUT = Path(__file__).resolve().parents[2]
SOURCE = '''
"""Words."""
LIMIT: int = 3
def f(x: int = 1, *, on: bool = True) -> int:
    """More words."""
    if x < LIMIT and not on:
        raise ValueError("no 7")
    for _ in range(2):
        note(x)
        break
    return x + 1
'''


def test_every_kind_of_fault() -> None:
    """Comparisons, sums, flags, numbers, conditions, calls and answers change; words and types do not."""
    found = {(fault.before, fault.after) for fault in faults_of(SOURCE, "m")}

    assert found >= {
        ("x < LIMIT", "x <= LIMIT"),
        ("x < LIMIT", "x >= LIMIT"),
        ("x < LIMIT and (not on)", "x < LIMIT or not on"),
        ("not on", "on"),
        ("x + 1", "x - 1"),
        ("3", "4"),
        ("True", "False"),
        ("note(x)", "pass"),
        ("break", "continue"),
        ("return x + 1", "return None"),
    }
    assert all("ords" not in before and "7" not in before for before, _ in found)


@pytest.mark.parametrize("source", [SOURCE, Path(waitwright.units.__file__).read_text("utf-8")])
def test_one_fault_at_a_time(source: str) -> None:
    """Each fault makes a module that compiles and differs from the sound one, and from every other."""
    faults = faults_of(source, "m")
    texts = [ast.unparse(with_fault(source, fault)) for fault in faults]

    assert len(faults) > 10
    assert ast.unparse(ast.parse(source)) not in texts
    assert len(set(texts)) == len(texts)
    for fault in faults:
        compile(with_fault(source, fault), "m", "exec")


def test_what_is_excused_exists() -> None:
    """Each fault that is said to change nothing can still be made, and has a reason."""
    possible = {
        (name, fault.within, fault.text, fault.before, fault.after)
        for package in TESTS
        for name, path in modules(package, CHECKOUT).items()
        for fault in faults_of(path.read_text("utf-8"), name)
    }

    for key, reason in excused().items():
        assert key in possible
        assert len(reason) > 20
