"""The strips in single precision, which is what flights use: vectors of eight numbers instead of four.

Trim and linear models use double precision, and the two are held against each other.  Seven digits are enough for what
happens at a strip; place, attitude, speed, the sums of the loads, propeller and servos stay in double precision.

The model carries a twin of itself, float32 numbers with the same offsets (`layout.TWIN`).  Nothing is written twice:
`in_single` makes the kernel that works on the twin from the text of the plain one, with every number in it a float32 (a
single float64 would turn a whole loop into float64).
"""

from __future__ import annotations

import ast
import inspect
import textwrap
from collections.abc import Callable
from functools import cache
from types import ModuleType
from typing import Any

import numpy as np
from numba.core.dispatcher import Dispatcher

from sim import layout as L
from sim.compiled import apart, formula, kernel


def use_single_precision(model: np.ndarray) -> None:
    """From now on, evaluate the strips of `model` in single precision: fills the twin from the constants."""
    model[L.QUICK] = 1.0
    model[L.TWIN : L.TWIN + (L.TWINNED + 1) // 2].view(np.float32)[: L.TWINNED] = model[: L.TWINNED]


@formula
def twin(m):
    """The twin of the model `m`: float32, same offsets."""
    return m[L.TWIN : L.TWIN + (L.TWINNED + 1) // 2].view(np.float32)


class _Singly(ast.NodeTransformer):
    """Collects the numbers of a kernel's text and puts names in their place."""

    def __init__(self, names: dict[str, Any]) -> None:
        self.names = names

    def _number(self, value: float) -> ast.Name:
        name = f"_{len(self.names)}"
        self.names[name] = np.float32(value)
        return ast.Name(name, ast.Load())

    def visit_Constant(self, node: ast.Constant) -> ast.AST:
        return self._number(node.value) if isinstance(node.value, float) else node

    def visit_Attribute(self, node: ast.Attribute) -> ast.AST:
        if isinstance(node.value, ast.Name) and isinstance(self.names.get(node.value.id), ModuleType):
            value = getattr(self.names[node.value.id], node.attr)
            if isinstance(value, float):
                return self._number(value)
        return node


@cache
def in_single(plain: Dispatcher) -> Dispatcher:
    """The kernel `plain`, and all that it calls, with every number a float32."""
    function: Callable = plain.py_func
    definition = ast.parse(textwrap.dedent(inspect.getsource(function))).body[0]
    assert isinstance(definition, ast.FunctionDef)
    definition.name += "_single"
    definition.decorator_list = []
    names = dict(function.__globals__)
    for name in function.__code__.co_names:
        value = names.get(name)
        if isinstance(value, Dispatcher):
            names[name] = in_single(value)
        elif isinstance(value, float):
            names[name] = np.float32(value)
    names["__name__"] = __name__
    module = ast.fix_missing_locations(ast.Module([_Singly(names).visit(definition)], []))
    exec(compile(module, __file__, "exec"), names)  # our own text, with other numbers
    options = plain.targetoptions
    decorate = formula if options.get("forceinline") else apart if options.get("noalias") else kernel
    return decorate(names[definition.name])
