"""Measurement models as text: plain arithmetic, read into a tree of our own, evaluated and differentiated.

``ls + d - ls * (da * theta + alpha * dt)``: numbers, named inputs, ``+ - * / **``, brackets, and the functions listed
in `FUNCTIONS`. Nothing else is understood, so a budget file can compute and do nothing more. Derivatives are exact
(by the rules of calculus, not by differences). Angles are in radians.
"""

from __future__ import annotations

import ast
import operator
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from lapwright.errors import BadInput, Fault

#: What a model may call, each of one value.
FUNCTIONS: dict[str, Callable[[Any], Any]] = {
    "sqrt": np.sqrt, "exp": np.exp, "log": np.log, "sin": np.sin, "cos": np.cos, "tan": np.tan,
    "asin": np.arcsin, "acos": np.arccos, "atan": np.arctan, "abs": np.abs,
}  # fmt: skip
CONSTANTS = {"pi": float(np.pi)}
LONGEST = 2000  # characters of a model; keeps the tree shallow enough to walk
DEEPEST = 100

Sign = Literal["+", "-", "*", "/", "**"]
_SIGNS: dict[type[ast.operator], Sign] = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.Pow: "**"}


@dataclass(frozen=True, slots=True)
class Number:
    """A number in a model."""

    number: float


@dataclass(frozen=True, slots=True)
class Name:
    """An input of a model."""

    name: str


@dataclass(frozen=True, slots=True)
class Operation:
    """Two parts of a model joined by a sign."""

    sign: Sign
    left: Node
    right: Node


@dataclass(frozen=True, slots=True)
class Call:
    """A function of one part of a model."""

    name: str
    part: Node


Node = Number | Name | Operation | Call


def model_from_text(text: str, *, names: Iterable[str]) -> Node:
    """Measurement model read from text.

    Parameters
    ----------
    text : str
        Arithmetic over the inputs.
    names : iterable of str
        Inputs that the model may use.

    Returns
    -------
    Node

    Raises
    ------
    BadInput
        Every part that is not understood: unknown names, other signs or functions, texts; or a text too long.

    Examples
    --------
    >>> value_of(model_from_text("a * (b - 1) ** 2", names=("a", "b")), {"a": 2.0, "b": 4.0})
    18.0
    """
    if len(text) > LONGEST:
        raise BadInput([_fault(f"The model has {len(text)} characters; expected at most {LONGEST}.")])
    try:
        parsed = ast.parse(text.strip(), mode="eval")
    except (SyntaxError, ValueError, RecursionError, MemoryError) as fault:
        raise BadInput([_fault(f"The model {text!r} is no arithmetic: {fault}.")]) from fault
    reader = _Reader(frozenset(names))
    node = reader.node(parsed.body, 0)
    if reader.faults:
        raise BadInput(reader.faults, subject="The model")
    return node


def value_of(node: Node, values: Mapping[str, Any]) -> Any:
    """Value of a model for given inputs, numbers or arrays alike.

    Parameters
    ----------
    node : Node
        The model.
    values : mapping of str to float or float array
        A value of every input.

    Returns
    -------
    float or float array
        NaN or infinity where the arithmetic has no answer, as NumPy gives them.

    Examples
    --------
    >>> value_of(model_from_text("sqrt(x)", names=("x",)), {"x": np.array([1.0, 4.0])})
    array([1., 2.])
    """
    if isinstance(node, Number):
        return node.number
    if isinstance(node, Name):
        return values[node.name]
    if isinstance(node, Call):
        return FUNCTIONS[node.name](value_of(node.part, values))
    return _COMPUTE[node.sign](value_of(node.left, values), value_of(node.right, values))


def derivative(node: Node, name: str) -> Node:
    """Derivative of a model by one of its inputs, again a model.

    Parameters
    ----------
    node : Node
        The model.
    name : str
        The input.

    Returns
    -------
    Node

    Notes
    -----
    ``abs`` has the derivative u/|u|, without a value at nought.

    Examples
    --------
    >>> slope = derivative(model_from_text("a * x ** 3", names=("a", "x")), "x")
    >>> value_of(slope, {"a": 2.0, "x": 3.0})
    54.0
    """
    if isinstance(node, Number):
        return _ZERO
    if isinstance(node, Name):
        return _ONE if node.name == name else _ZERO
    if isinstance(node, Call):
        return _times(_OUTER[node.name](node.part), derivative(node.part, name))
    return _SLOPES[node.sign](node.left, node.right, derivative(node.left, name), derivative(node.right, name))


# ----------------------------------------------------------------------------------------------------------------------

_ZERO, _ONE = Number(0.0), Number(1.0)


class _Reader:
    """Turns what the standard parser gives into nodes of ours and gathers what it does not understand."""

    def __init__(self, names: frozenset[str]) -> None:
        self.names = names
        self.faults: list[Fault] = []

    def node(self, found: ast.expr, depth: int) -> Node:
        if depth > DEEPEST:
            return self._refuse("The model is nested too deeply; split it.")
        if isinstance(found, ast.Constant) and type(found.value) in (int, float):
            return self._number(found.value)
        if isinstance(found, ast.Name):
            return self._name(found.id)
        if isinstance(found, ast.Call):
            return self._call(found, depth)
        return self._signed(found, depth)

    def _signed(self, found: ast.expr, depth: int) -> Node:
        if isinstance(found, ast.UnaryOp) and isinstance(found.op, ast.USub | ast.UAdd):
            part = self.node(found.operand, depth + 1)
            return part if isinstance(found.op, ast.UAdd) else _times(Number(-1.0), part)
        if isinstance(found, ast.BinOp) and type(found.op) in _SIGNS:
            left, right = self.node(found.left, depth + 1), self.node(found.right, depth + 1)
            return Operation(_SIGNS[type(found.op)], left, right)
        return self._refuse(f"The model holds {ast.unparse(found)!r}; expected numbers, inputs and + - * / **.")

    def _number(self, value: Any) -> Node:
        try:
            return Number(float(value))
        except OverflowError:
            return self._refuse("The model holds a number too large to compute with.")

    def _name(self, name: str) -> Node:
        if name in self.names:
            return Name(name)
        if name in CONSTANTS:
            return Number(CONSTANTS[name])
        return self._refuse(f"The model uses {name!r}, which is no input; known: {', '.join(sorted(self.names))}.")

    def _call(self, found: ast.Call, depth: int) -> Node:
        name = found.func.id if isinstance(found.func, ast.Name) else ""
        if name not in FUNCTIONS or len(found.args) != 1 or found.keywords:
            known = ", ".join(FUNCTIONS)
            return self._refuse(f"The model calls {ast.unparse(found)!r}; expected one value in one of {known}.")
        return Call(name, self.node(found.args[0], depth + 1))

    def _refuse(self, sentence: str) -> Node:
        self.faults.append(_fault(sentence))
        return _ZERO


def _fault(sentence: str) -> Fault:
    return Fault(sentence=sentence, field="model", code="budget.model")


def _plus(left: Node, right: Node) -> Node:
    if left == _ZERO:
        return right
    return left if right == _ZERO else Operation("+", left, right)


def _minus(left: Node, right: Node) -> Node:
    return left if right == _ZERO else Operation("-", left, right)


def _times(left: Node, right: Node) -> Node:
    if _ZERO in (left, right):
        return _ZERO
    if left == _ONE:
        return right
    return left if right == _ONE else Operation("*", left, right)


def _over(left: Node, right: Node) -> Node:
    return _ZERO if left == _ZERO else Operation("/", left, right)


def _power(left: Node, right: Node) -> Node:
    return left if right == _ONE else Operation("**", left, right)


def _power_slope(base: Node, exponent: Node, base_slope: Node, exponent_slope: Node) -> Node:
    if isinstance(exponent, Number):
        if exponent == _ZERO:
            return _ZERO
        return _times(_times(exponent, _power(base, Number(exponent.number - 1.0))), base_slope)
    inner = _plus(_times(exponent_slope, Call("log", base)), _over(_times(exponent, base_slope), base))
    return _times(Operation("**", base, exponent), inner)


def _quotient_slope(top: Node, bottom: Node, top_slope: Node, bottom_slope: Node) -> Node:
    return _minus(_over(top_slope, bottom), _over(_times(top, bottom_slope), _power(bottom, Number(2.0))))


def _raised(base: Any, exponent: Any) -> Any:
    return base * base if isinstance(exponent, float) and exponent == 2.0 else np.power(base, exponent)


def _one_less_square(part: Node) -> Node:
    return Call("sqrt", _minus(_ONE, _power(part, Number(2.0))))


_OUTER: dict[str, Callable[[Node], Node]] = {
    "sqrt": lambda part: _over(Number(0.5), Call("sqrt", part)),
    "exp": lambda part: Call("exp", part),
    "log": lambda part: _over(_ONE, part),
    "sin": lambda part: Call("cos", part),
    "cos": lambda part: _times(Number(-1.0), Call("sin", part)),
    "tan": lambda part: _plus(_ONE, _power(Call("tan", part), Number(2.0))),
    "asin": lambda part: _over(_ONE, _one_less_square(part)),
    "acos": lambda part: _over(Number(-1.0), _one_less_square(part)),
    "atan": lambda part: _over(_ONE, _plus(_ONE, _power(part, Number(2.0)))),
    "abs": lambda part: _over(part, Call("abs", part)),
}

_COMPUTE: dict[Sign, Callable[[Any, Any], Any]] = {
    "+": operator.add, "-": operator.sub, "*": operator.mul, "/": np.divide, "**": _raised,
}  # fmt: skip
_SLOPES: dict[Sign, Callable[[Node, Node, Node, Node], Node]] = {
    "+": lambda _, __, left, right: _plus(left, right),
    "-": lambda _, __, left, right: _minus(left, right),
    "*": lambda one, other, left, right: _plus(_times(left, other), _times(one, right)),
    "/": _quotient_slope,
    "**": _power_slope,
}
