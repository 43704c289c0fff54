"""Small faults, put into the syntax tree of a module one at a time."""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass

_COMPARED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_CALCULATED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Add,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.FloorDiv,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.BitXor: ast.BitAnd,
    ast.LShift: ast.RShift,
    ast.RShift: ast.LShift,
    ast.MatMult: ast.Sub,
}


@dataclass(frozen=True)
class Fault:
    """One fault of one module.

    Attributes:
        number: Its place among the faults of the module.
        line: Where in the source it is; ``text``: what stands on that line.
        within: Dotted name of the function or class around it; empty for the module itself.
        before: The source of the changed piece; ``after``: what stands in its place.
    """

    module: str
    number: int
    kind: str
    line: int
    text: str
    within: str
    before: str
    after: str

    def __str__(self) -> str:
        return f"{self.module}:{self.line} ({self.within or 'module'}): {self.before}  ->  {self.after}"


def faults_of(source: str, module: str) -> list[Fault]:
    """Every fault that *source*, the text of *module*, can be given, in the order of the text."""
    lines = [line.strip() for line in source.splitlines()]
    return [
        Fault(
            *(module, number, kind, node.lineno, lines[node.lineno - 1], within),
            *(ast.unparse(node), ast.unparse(after)),
        )
        for number, (node, after, kind, within) in enumerate(_changes(ast.parse(source)))
    ]


def with_fault(source: str, fault: Fault) -> ast.Module:
    """The tree of *source* with *fault* in it."""
    tree = ast.parse(source)
    for number, (node, after, _, _) in enumerate(_changes(tree)):
        if number == fault.number:
            _Exchange(node, after).visit(tree)
            return ast.fix_missing_locations(tree)
    raise ValueError(f"no such fault: {fault}")


class _Exchange(ast.NodeTransformer):
    """Puts one node in the place of another."""

    def __init__(self, old: ast.AST, new: ast.AST) -> None:
        self._old, self._new = old, new

    def visit(self, node: ast.AST) -> ast.AST:
        """Exchange it here, or look below."""
        if node is self._old:
            return ast.copy_location(self._new, node)
        found: ast.AST = self.generic_visit(node)
        return found


_Change = tuple[ast.expr | ast.stmt, ast.AST, str, str]


def _changes(tree: ast.Module) -> Iterator[_Change]:
    yield from _below(tree, ())


def _below(node: ast.AST, within: tuple[str, ...]) -> Iterator[_Change]:
    if isinstance(node, ast.expr | ast.stmt):
        for after, kind in _at(node):
            yield node, after, kind, ".".join(within)
        if isinstance(node, ast.If | ast.While | ast.IfExp):
            yield node.test, ast.UnaryOp(ast.Not(), node.test), "boolean", ".".join(within)
    inside = within
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        inside = (*within, node.name)
    for field, value in ast.iter_fields(node):
        if field in {"annotation", "returns", "decorator_list", "type_params"}:
            continue  # types are not run, and decorators decide what the code is at all
        for inner in value if isinstance(value, list) else [value]:
            if isinstance(inner, ast.AST) and not _told_to_people(inner):
                yield from _below(inner, inside)


def _told_to_people(node: ast.AST) -> bool:
    """Docstrings, and what is raised: its words are checked where they matter."""
    return isinstance(node, ast.Raise) or (
        isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant | ast.JoinedStr)
    )


def _at(node: ast.expr | ast.stmt) -> Iterator[tuple[ast.AST, str]]:
    """What may stand in the place of *node*."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        for operator in _COMPARED.get(type(node.ops[0]), ()):
            yield _changed(node, ops=[operator()]), "comparison"
    elif isinstance(node, ast.BinOp) and type(node.op) in _CALCULATED:
        if not isinstance(node.left, ast.Constant) or not isinstance(node.left.value, str):
            yield _changed(node, op=_CALCULATED[type(node.op)]()), "arithmetic"
    elif isinstance(node, ast.AugAssign) and type(node.op) in _CALCULATED:
        yield _changed(node, op=_CALCULATED[type(node.op)]()), "arithmetic"
    elif isinstance(node, ast.BoolOp):
        yield _changed(node, op=ast.Or() if isinstance(node.op, ast.And) else ast.And()), "boolean"
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub | ast.Invert):
        yield node.operand, "boolean" if isinstance(node.op, ast.Not) else "arithmetic"
    elif isinstance(node, ast.Constant):
        yield from _constants(node)
    elif isinstance(node, ast.Return) and node.value is not None and not _is_none(node.value):
        yield _changed(node, value=ast.Constant(None)), "return"
    elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
        yield ast.Pass(), "left out"
    elif isinstance(node, ast.Continue):
        yield ast.Break(), "loop"
    elif isinstance(node, ast.Break):
        yield ast.Continue(), "loop"


def _constants(node: ast.Constant) -> Iterator[tuple[ast.AST, str]]:
    value = node.value
    if isinstance(value, bool):
        yield ast.Constant(not value), "constant"
    elif isinstance(value, int):
        yield ast.Constant(value + 1), "constant"
    elif isinstance(value, float):
        yield ast.Constant(value * 1.5 if value else 1.0), "constant"


def _is_none(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def _changed(node: ast.expr | ast.stmt, **fields: object) -> ast.AST:
    """A shallow copy with other *fields*, for the tree and for showing."""
    twin = copy.copy(node)
    for name, value in fields.items():
        setattr(twin, name, value)
    return twin
