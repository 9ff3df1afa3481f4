"""Unroll short loops of a function over a fixed range before it is compiled.

A loop over the 19 directions of a lattice runs several times faster when it is written out: its small arrays become
scalars that stay in registers, and factors of 0 and 1 disappear. Compilers for GPUs do so on request in C; numba has no
such request, so the source is rewritten here.
"""

from __future__ import annotations

import ast
import inspect
import textwrap
from collections.abc import Callable, Mapping, Sequence
from typing import Any


class _Unroll(ast.NodeTransformer):
    """Write out ``for i in range(NAME)`` and make ``array[i]`` a scalar ``array_i``.

    Subscripts of a name in ``tables`` become its value. Arrays that only such loops use need no declaration; a line
    ``array = np.empty(NAME)`` that declares one for plain Python is dropped.
    """

    def __init__(self, lengths: Mapping[str, int], tables: Mapping[str, Sequence[float]]) -> None:
        self.lengths, self.tables = lengths, tables
        self.index: dict[str, int] = {}

    def visit_For(self, node: ast.For) -> Any:
        call = node.iter
        over = isinstance(call, ast.Call) and isinstance(call.args[0], ast.Name) and call.args[0].id
        if over not in self.lengths or not isinstance(node.target, ast.Name):
            return self.generic_visit(node)
        written = []
        for value in range(self.lengths[over]):
            self.index[node.target.id] = value
            copies = [self.visit(ast.parse(ast.unparse(line)).body[0]) for line in node.body]
            written += [line for line in copies if line is not None]
        del self.index[node.target.id]
        return written

    def visit_Assign(self, node: ast.Assign) -> Any:
        if "np.empty" in ast.unparse(node.value):
            return None
        return self.generic_visit(node)

    def visit_Name(self, node: ast.Name) -> ast.expr:
        return ast.Constant(self.index[node.id]) if node.id in self.index else node

    def visit_Subscript(self, node: ast.Subscript) -> ast.expr:
        by_loop = isinstance(node.slice, ast.Name) and node.slice.id in self.index
        place = self.visit(node.slice)
        if by_loop and isinstance(node.value, ast.Name):
            if node.value.id in self.tables:
                value = self.tables[node.value.id][place.value]
                return ast.Constant(value) if isinstance(value, int) else ast.parse(f"F({value!r})", mode="eval").body
            return ast.Name(f"{node.value.id}_{place.value}", node.ctx)
        return ast.Subscript(node.value, place, node.ctx)

    def visit_BinOp(self, node: ast.BinOp) -> ast.expr:
        left, right = self.visit(node.left), self.visit(node.right)
        for number, other in ((left, right), (right, left)):
            value = number.value if isinstance(number, ast.Constant) else None
            if isinstance(node.op, ast.Mult) and value in (0, 1, -1):
                return {0: number, 1: other, -1: ast.UnaryOp(ast.USub(), other)}[value]
            if value == 0 and (isinstance(node.op, ast.Add) or (isinstance(node.op, ast.Sub) and number is right)):
                return other
        if all(isinstance(side, ast.Constant) for side in (left, right)):
            return ast.Constant(eval(ast.unparse(ast.BinOp(left, node.op, right))))
        return ast.BinOp(left, node.op, right)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> ast.expr:
        operand = self.visit(node.operand)
        if isinstance(operand, ast.Constant):
            return ast.Constant(-operand.value)
        return ast.UnaryOp(node.op, operand)

    def visit_AugAssign(self, node: ast.AugAssign) -> Any:
        node.value = self.visit(node.value)
        return None if isinstance(node.value, ast.Constant) and node.value.value == 0 else node


def unrolled(
    function: Callable[..., Any], lengths: Mapping[str, int], tables: Mapping[str, Sequence[float]]
) -> Callable[..., Any]:
    """The same function with its loops over ``range(NAME)`` written out, for every NAME in ``lengths``.

    Parameters
    ----------
    function
        A plain function; its globals stay those of its module.
    lengths
        Number of turns by the name that the loop's range takes.
    tables
        Values by the name of a table that is indexed by such a loop. Fractions are wrapped in ``F(...)``.
    """
    tree = ast.parse(textwrap.dedent(inspect.getsource(function)))
    made = ast.fix_missing_locations(_Unroll(lengths, tables).visit(tree))
    scope: dict[str, Any] = {}
    exec(compile(made, f"<unrolled {function.__name__}>", "exec"), function.__globals__, scope)
    result: Callable[..., Any] = scope[function.__name__]
    return result
