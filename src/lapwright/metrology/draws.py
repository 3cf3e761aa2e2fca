"""Random values of the inputs of a budget, each from the distribution that its line states.

A normal line with finite degrees of freedom is drawn as a scaled and shifted t; a rectangular one with finite degrees
of freedom as a curvilinear trapezoid, since finite degrees of freedom say that its half-width is itself uncertain.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, Fault
from lapwright.metrology.uncertainty import Budget, Contribution, half_width_divisor

Array = NDArray[np.float64]


def drawn_inputs(budget: Budget, *, generator: np.random.Generator, count: int) -> list[Array]:
    r"""Random values of every input of a budget.

    Parameters
    ----------
    budget : Budget
        The inputs, with correlation where there is some.
    generator : numpy random Generator
        Where the randomness comes from.
    count : int
        How many values of each.

    Returns
    -------
    list of float arrays, shape (count,) [unit of each input]

    Raises
    ------
    BadInput
        Correlated inputs that are neither normal nor t; every one is named.

    Notes
    -----
    Half-width :math:`a = u` times the divisor. Curvilinear trapezoid: half-width drawn evenly from a(1 − δ) to
    a(1 + δ), then the value evenly within it. Rectangular with ν degrees of freedom: :math:`\delta = 1/\sqrt{2\nu}`
    about the stated half-width. Correlated inputs are drawn as jointly normal.

    References
    ----------
    .. [1] JCGM 101:2008, 6.4. Key ``jcgm101``.
    .. [2] JCGM 100:2008, G.4.2, eq. (G.3). Key ``jcgm100``.

    Examples
    --------
    >>> line = Contribution(name="a", value=5.0, standard_uncertainty=0.1)
    >>> drawn = drawn_inputs(Budget(contributions=(line,)), generator=np.random.default_rng(1), count=3)
    >>> drawn[0].shape
    (3,)
    """
    together = correlated_inputs(budget)
    drawn = [
        np.empty(0) if place in together else _DRAWS[_shape(line)](line, generator, count)
        for place, line in enumerate(budget.contributions)
    ]
    if together and budget.correlation is not None:
        root = _root(np.array(budget.correlation)[np.ix_(together, together)])
        for place, values in zip(together, root @ generator.standard_normal((len(together), count)), strict=True):
            line = budget.contributions[place]
            drawn[place] = line.value + line.standard_uncertainty * values
    return drawn


def correlated_inputs(budget: Budget) -> list[int]:
    """Places of the contributions that are correlated with another one.

    Parameters
    ----------
    budget : Budget
        The contributions.

    Returns
    -------
    list of int

    Raises
    ------
    BadInput
        A correlated contribution that is neither normal nor t.

    Examples
    --------
    >>> correlated_inputs(Budget(contributions=(Contribution(name="a", standard_uncertainty=1.0),)))
    []
    """
    if budget.correlation is None:
        return []
    table = np.array(budget.correlation)
    places = [place for place in range(len(table)) if np.count_nonzero(table[place]) > 1]
    faults = [
        Fault(sentence=f"Input {line.name!r} is {line.distribution} and correlated; only normal inputs can be both.",
              field=line.name, code="budget.correlated_shape")
        for line in (budget.contributions[place] for place in places)
        if line.distribution not in ("normal", "student")
    ]  # fmt: skip
    if faults:
        raise BadInput(faults, subject="The budget")
    return places


# ----------------------------------------------------------------------------------------------------------------------


def _shape(line: Contribution) -> str:
    if line.standard_uncertainty == 0.0:
        return "constant"
    known_well = math.isinf(line.degrees_of_freedom)
    if line.distribution in ("normal", "student"):
        return "normal" if known_well else "student"
    return "vague_rectangular" if line.distribution == "rectangular" and not known_well else line.distribution


def _half_width(line: Contribution) -> float:
    return line.standard_uncertainty * half_width_divisor(line.distribution, shape=line.shape)


def _constant(line: Contribution, generator: np.random.Generator, count: int) -> Array:  # noqa: ARG001  one form for all
    return np.full(count, line.value)


def _normal(line: Contribution, generator: np.random.Generator, count: int) -> Array:
    values = generator.standard_normal(count)
    values *= line.standard_uncertainty
    values += line.value
    return values


def _student(line: Contribution, generator: np.random.Generator, count: int) -> Array:
    values = generator.standard_t(line.degrees_of_freedom, count)
    values *= line.standard_uncertainty
    values += line.value
    return values


def _rectangular(line: Contribution, generator: np.random.Generator, count: int) -> Array:
    values = generator.random(count)
    values *= 2.0 * _half_width(line)
    values += line.value - _half_width(line)
    return values


def _triangular(line: Contribution, generator: np.random.Generator, count: int) -> Array:
    values = generator.random(count)
    values += generator.random(count)
    values *= _half_width(line)
    values += line.value - _half_width(line)
    return values


def _trapezoid(line: Contribution, generator: np.random.Generator, count: int) -> Array:
    half = _half_width(line)
    values = half * (1.0 + line.shape) * (generator.random(count) - 0.5)
    values += half * (1.0 - line.shape) * (generator.random(count) - 0.5)
    values += line.value
    return values


def _arcsine(line: Contribution, generator: np.random.Generator, count: int) -> Array:
    values = generator.random(count)
    values *= 2.0 * np.pi
    np.sin(values, out=values)
    values *= _half_width(line)
    values += line.value
    return values


def _curvilinear(line: Contribution, generator: np.random.Generator, count: int) -> Array:
    return _vague(line, line.shape, generator, count)


def _vague_rectangular(line: Contribution, generator: np.random.Generator, count: int) -> Array:
    return _vague(line, min(1.0, 1.0 / math.sqrt(2.0 * line.degrees_of_freedom)), generator, count)


def _vague(line: Contribution, share: float, generator: np.random.Generator, count: int) -> Array:
    values = generator.random(count)
    values *= 2.0 * share
    values += 1.0 - share
    values *= 2.0 * _half_width(line)
    values *= generator.random(count) - 0.5
    values += line.value
    return values


_DRAWS: dict[str, Callable[[Contribution, np.random.Generator, int], Array]] = {
    "constant": _constant, "normal": _normal, "student": _student, "rectangular": _rectangular,
    "triangular": _triangular, "trapezoid": _trapezoid, "arcsine": _arcsine,
    "curvilinear_trapezoid": _curvilinear, "vague_rectangular": _vague_rectangular,
}  # fmt: skip


def _root(correlation: Array) -> Sequence[Array] | Array:
    """A square root of a correlation table, also of one that is only just no longer positive."""
    values, vectors = np.linalg.eigh(correlation)
    if values[0] < -1e-9 * values[-1]:
        sentence = "The correlations contradict each other: no set of inputs can have them all. Check each one."
        raise BadInput([Fault(sentence=sentence, field="correlation", code="budget.correlation")])
    return np.asarray(vectors * np.sqrt(np.clip(values, 0.0, None)))
