"""Models as text: understood, evaluated, differentiated; nothing else gets in."""

import math

import numpy as np
import pytest

from lapwright.errors import BadInput
from lapwright.metrology.expression import derivative, model_from_text, value_of

NAMES = ("a", "b", "c")
AT = {"a": 1.3, "b": 0.7, "c": 2.1}
MODELS = [
    "a + b - c", "a * b / c", "a ** 3 * b", "2 ** a", "a ** b", "-a * (b + 1)", "sqrt(a) * exp(b) + log(c)",
    "sin(a) * cos(b) - tan(c / 3)", "asin(b / 2) + acos(b / 3) + atan(c)", "abs(a - c)", "pi * a ** 2 / 4", "a / (b - c) ** 2", "1e-3 * a",
]  # fmt: skip


@pytest.mark.parametrize("text", MODELS)
def test_derivatives_agree_with_differences(text):
    """First derivatives by every input, to seven digits of a central difference."""
    model = model_from_text(text, names=NAMES)
    for name in NAMES:
        step = 1e-5
        high, low = ({**AT, name: AT[name] + side * step} for side in (1, -1))
        slope = (value_of(model, high) - value_of(model, low)) / (2 * step)
        assert float(value_of(derivative(model, name), AT)) == pytest.approx(float(slope), rel=1e-7, abs=1e-9)


def test_precedence_is_that_of_arithmetic():
    """-2 ** 2 is -4, and powers go from the right."""
    assert value_of(model_from_text("-a ** 2", names=NAMES), {"a": 2.0}) == -4.0
    assert value_of(model_from_text("2 ** 3 ** 2", names=()), {}) == 512.0


def test_arrays_and_numbers_agree():
    """The same model of arrays gives the same values one by one."""
    model = model_from_text("a * sqrt(b) - c ** 2", names=NAMES)
    arrays = {name: np.linspace(1.0, 2.0, 5) * (i + 1) for i, name in enumerate(NAMES)}
    singly = [float(value_of(model, {name: arrays[name][i] for name in NAMES})) for i in range(5)]
    assert value_of(model, arrays).tolist() == pytest.approx(singly)


@pytest.mark.parametrize(
    "text",
    ["__import__('os')", "a.real", "a[0]", "(lambda: 1)()", "'a' * 3", "a if b else c", "a @ b", "a // b", "f'{a}'", "[1]", "a := 1", "True", "1j", "max(a, b)", "sqrt(a, b)", "sqrt(x=a)", "a and b", "a < b", "~a", "a +", "", "exec('1')"],
)  # fmt: skip
def test_nothing_but_arithmetic_is_understood(text):
    """Calls, attributes, texts, comparisons and broken lines are refused with a reason."""
    with pytest.raises(BadInput) as caught:
        model_from_text(text, names=NAMES)
    assert caught.value.faults[0].code == "budget.model"


def test_all_faults_at_once():
    """Two unknown names and an unknown function are three faults."""
    with pytest.raises(BadInput) as caught:
        model_from_text("x + y * hypot(a, b)", names=NAMES)
    assert len(caught.value.faults) == 3


@pytest.mark.parametrize("text", ["(" * 150 + "a" + ")" * 150, "+".join(["a"] * 900), "-" * 150 + "a", "a" * 2001])
def test_models_too_long_or_too_deep_are_refused_or_read(text):
    """No text can exhaust the reader."""
    try:
        model = model_from_text(text, names=NAMES)
    except BadInput:
        return
    assert math.isfinite(value_of(model, AT))


def test_a_tower_of_powers_is_infinite_not_endless():
    """9 ** 9 ** 9 ** 9 is computed in floating point."""
    with np.errstate(over="ignore"):
        assert float(value_of(model_from_text("9 ** 9 ** 9 ** 9", names=()), {})) == math.inf
