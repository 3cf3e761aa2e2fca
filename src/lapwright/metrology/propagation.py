"""From a measurement model and its inputs to a budget: value, sensitivities, second-order terms, shares.

The model is a tree from `expression`, so that its derivatives are exact. Correlated repeats give their own correlation.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.metrology.expression import Node, derivative, value_of
from lapwright.metrology.uncertainty import Budget, Contribution

Correlation = tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondOrder:
    """Combined standard uncertainty with second-order terms, and the size of each term as (input, input, size)."""

    standard_uncertainty: float
    terms: tuple[tuple[str, str, float], ...]


def model_budget(
    model: Node, contributions: Sequence[Contribution], *, correlation: Correlation | None = None
) -> tuple[float, Budget]:
    """Value of a model at its inputs, and the budget with every sensitivity.

    Parameters
    ----------
    model : Node
        The model, as `expression.model_from_text` reads it.
    contributions : sequence of Contribution
        Its inputs; their sensitivities are replaced.
    correlation : tuple of tuple of float, optional [1]
        A row for each input.

    Returns
    -------
    (float, Budget)

    Raises
    ------
    OutOfValidRange
        The model or a derivative has no finite value at the inputs.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.3. Key ``jcgm100``.

    Examples
    --------
    >>> from lapwright.metrology.expression import model_from_text
    >>> inputs = (Contribution(name="v", value=6.0, standard_uncertainty=0.1),
    ...           Contribution(name="i", value=2.0, standard_uncertainty=0.1))
    >>> value, budget = model_budget(model_from_text("v / i", names=("v", "i")), inputs)
    >>> float(value), [line.sensitivity for line in budget.contributions]
    (3.0, [0.5, -1.5])
    """
    values = {line.name: line.value for line in contributions}
    value = _finite("value of the model", model, values)
    lines = tuple(
        replace(line, sensitivity=_finite(f"sensitivity to {line.name}", derivative(model, line.name), values))
        for line in contributions
    )
    return value, Budget(contributions=lines, correlation=correlation)


def second_order_uncertainty(model: Node, contributions: Sequence[Contribution]) -> SecondOrder:
    r"""Combined standard uncertainty of a model with the terms of next higher order, for independent inputs.

    Parameters
    ----------
    model : Node
        The model.
    contributions : sequence of Contribution
        Its inputs, independent of each other and symmetric about their values.

    Returns
    -------
    SecondOrder
        Terms in falling size; only those that are not nought.

    Raises
    ------
    OutOfValidRange
        A derivative that has no finite value, or second-order terms that take the variance below zero.

    Notes
    -----
    .. math:: u^2 = \sum_i f_i^2 u_i^2 + \sum_i \sum_j \Bigl(\tfrac12 f_{ij}^2 + f_i f_{ijj}\Bigr) u_i^2 u_j^2

    Exact up to this order for normal inputs. A term's size is given with the sign of its square.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2, note, and H.1.7. Key ``jcgm100``.

    Examples
    --------
    >>> from lapwright.metrology.expression import model_from_text
    >>> inputs = [Contribution(name=name, standard_uncertainty=0.5) for name in "ab"]
    >>> second_order_uncertainty(model_from_text("a * b", names="ab"), inputs)
    SecondOrder(standard_uncertainty=0.25, terms=(('a', 'b', 0.25),))
    """
    values = {line.name: line.value for line in contributions}
    first = {line.name: derivative(model, line.name) for line in contributions}
    slopes = {name: _finite(f"sensitivity to {name}", node, values) for name, node in first.items()}
    variance = math.fsum((slopes[line.name] * line.standard_uncertainty) ** 2 for line in contributions)
    found: dict[tuple[str, str], float] = {}
    for one, other in product(contributions, repeat=2):
        mixed = derivative(first[one.name], other.name)
        bend = _finite(f"curvature by {one.name}, {other.name}", mixed, values)
        third = _finite(f"third derivative by {one.name}, {other.name}", derivative(mixed, other.name), values)
        term = (0.5 * bend**2 + slopes[one.name] * third) * (one.standard_uncertainty * other.standard_uncertainty) ** 2
        pair = (min(one.name, other.name), max(one.name, other.name))
        found[pair] = found.get(pair, 0.0) + term
    total = math.fsum((variance, *found.values()))
    if total < 0.0:
        raise OutOfValidRange("variance with second-order terms", total, "zero or more", "Propagate by Monte Carlo.")
    terms = sorted(((*pair, math.copysign(math.sqrt(abs(term)), term)) for pair, term in found.items() if term),
                   key=lambda term: -abs(term[2]))  # fmt: skip
    return SecondOrder(standard_uncertainty=math.sqrt(total), terms=tuple(terms))


def contribution_shares(budget: Budget) -> tuple[float, ...]:
    r"""Share of each contribution in the variance of the result: what to improve first.

    Parameters
    ----------
    budget : Budget
        The contributions.

    Returns
    -------
    tuple of float [1]
        They add to 1; with correlation a share may be negative. All nought when nothing is uncertain.

    Notes
    -----
    .. math:: s_i = c_i u_i \sum_j r_{ij} c_j u_j / u_c^2

    Examples
    --------
    >>> lines = (Contribution(name="a", standard_uncertainty=3.0), Contribution(name="b", standard_uncertainty=4.0))
    >>> contribution_shares(Budget(contributions=lines))
    (0.36, 0.64)
    """
    effects = np.array([line.effect for line in budget.contributions])
    together = effects if budget.correlation is None else np.array(budget.correlation) @ effects
    parts = effects * together
    total = float(parts.sum())
    return tuple(float(part) / total if total > 0.0 else 0.0 for part in parts)


def repeated_contribution(name: str, readings: NDArray[np.float64]) -> Contribution:
    """Input known from independent repeats: their mean, standard deviation of the mean, degrees of freedom.

    Parameters
    ----------
    name : str
        Name of the input.
    readings : float array, shape (n,) [unit of the values]
        At least two repeats.

    Returns
    -------
    Contribution

    Raises
    ------
    OutOfValidRange
        Fewer than two readings, or one that is not finite.

    References
    ----------
    .. [1] JCGM 100:2008, 4.2.3. Key ``jcgm100``.

    Examples
    --------
    >>> line = repeated_contribution("zero", np.array([1.0, 2.0, 3.0, 2.0]))
    >>> line.value, round(line.standard_uncertainty, 4), line.degrees_of_freedom
    (2.0, 0.4082, 3.0)
    """
    _need_readings(name, readings)
    return Contribution(
        name=name,
        value=float(readings.mean()),
        standard_uncertainty=float(readings.std(ddof=1)) / math.sqrt(readings.size),
        degrees_of_freedom=float(readings.size - 1),
        distribution="student",
    )


def readings_correlation(readings: Sequence[NDArray[np.float64]]) -> Correlation:
    """Correlation of the means of inputs that were read at the same moments.

    Parameters
    ----------
    readings : sequence of float arrays, shape (n,) each [unit of the values]
        Repeats of each input; the first of all belong together, and so on.

    Returns
    -------
    tuple of tuple of float [1]

    Raises
    ------
    ShapeMismatch
        Different numbers of readings.
    OutOfValidRange
        Fewer than two readings, one that is not finite, or an input that never changes.

    References
    ----------
    .. [1] JCGM 100:2008, 5.2.3, eq. (17), and 5.2.2, eq. (14). Key ``jcgm100``.

    Examples
    --------
    >>> readings_correlation([np.array([1.0, 2.0, 3.0]), np.array([2.0, 4.0, 6.0])])[0][1]
    1.0
    """
    if len({array.shape for array in readings}) > 1:
        raise ShapeMismatch(**{f"input_{number}": array.shape for number, array in enumerate(readings, start=1)})
    for number, array in enumerate(readings, start=1):
        _need_readings(f"input {number}", array)
        if not np.ptp(array) > 0.0:
            raise OutOfValidRange(f"spread of input {number}", 0.0, "above zero", "A constant has no correlation.")
    table = np.clip(np.corrcoef(np.vstack(readings)), -1.0, 1.0)
    table = 0.5 * (table + table.T)
    np.fill_diagonal(table, 1.0)
    return tuple(tuple(float(r) for r in row) for row in table)


# ----------------------------------------------------------------------------------------------------------------------


def _finite(what: str, node: Node, values: dict[str, float]) -> float:
    with np.errstate(all="ignore"):
        found = float(value_of(node, {name: np.float64(value) for name, value in values.items()}))
    if not math.isfinite(found):
        raise OutOfValidRange(what, found, "a finite number", "Check the values of the inputs.")
    return found


def _need_readings(name: str, readings: NDArray[np.float64]) -> None:
    if readings.size < 2:
        raise OutOfValidRange(f"number of readings of {name}", readings.size, "at least 2")
    if not np.all(np.isfinite(readings)):
        raise OutOfValidRange(f"a reading of {name}", float("nan"), "a finite number")
