"""Propagation of distributions by Monte Carlo (JCGM 101): the result as drawn, with both kinds of interval.

Draws come in blocks that fit the processor's cache. Intervals come from the sorted tails only, so that a run costs
little more than drawing its numbers. The adaptive form draws until the results no longer move in the digits asked for.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.metrology.draws import drawn_inputs
from lapwright.metrology.uncertainty import Budget, CombinedUncertainty

Array = NDArray[np.float64]
Model = Callable[[Mapping[str, Array]], Array]

BLOCK = 10_000
MOST_TRIALS = 10_000_000
LEAST_BLOCKS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnResult:
    """A result by Monte Carlo, in the unit of the result.

    `symmetric` leaves equal chances outside on both sides, `shortest` is the shortest interval of that probability.
    `settled` says whether the digits asked for no longer move (None when the number of trials was given), `tolerance`
    is half a unit of the last of those digits.
    """

    mean: float
    standard_uncertainty: float
    symmetric: tuple[float, float]
    shortest: tuple[float, float]
    probability: float
    trials: int
    tolerance: float
    settled: bool | None = None


def monte_carlo(
    model: Model, budget: Budget, *, generator: np.random.Generator, trials: int = 1_000_000, probability: float = 0.95
) -> DrawnResult:
    """Distribution of a result from so many trials.

    Parameters
    ----------
    model : callable
        Takes a mapping of input names to arrays, gives the result as an array; `linear_model` for a plain budget.
    budget : Budget
        The inputs: value, standard uncertainty, distribution, degrees of freedom, correlation.
    generator : numpy random Generator
        Where the randomness comes from.
    trials : int [1]
        How many draws, from 10⁴.
    probability : float [1]
        Coverage of the intervals, more than 0 and less than 1.

    Returns
    -------
    DrawnResult

    Raises
    ------
    OutOfValidRange
        Too few trials, a probability outside (0, 1), or draws at which the model has no finite value.

    References
    ----------
    .. [1] JCGM 101:2008, 7.2 to 7.7. Key ``jcgm101``.

    Examples
    --------
    >>> from lapwright.metrology.uncertainty import Contribution
    >>> lines = tuple(Contribution(name=name, standard_uncertainty=1.0) for name in "abcd")
    >>> budget = Budget(contributions=lines)
    >>> found = monte_carlo(linear_model(budget), budget, generator=np.random.default_rng(1), trials=100_000)
    >>> round(found.standard_uncertainty, 1)
    2.0
    """
    _need(trials, probability)
    outputs = np.empty(trials)
    for start in range(0, trials, BLOCK):
        count = min(BLOCK, trials - start)
        outputs[start : start + count] = _outputs(model, budget, generator, count)
    return _summary(outputs, probability, digits=2, settled=None)


def adaptive_monte_carlo(
    model: Model,
    budget: Budget,
    *,
    generator: np.random.Generator,
    probability: float = 0.95,
    digits: int = 2,
    most_trials: int = MOST_TRIALS,
) -> DrawnResult:
    r"""Distribution of a result from as many trials as its digits need.

    Parameters
    ----------
    model, budget, generator, probability
        As for `monte_carlo`.
    digits : int [1]
        Significant digits of the standard uncertainty that must hold still; 1 or 2 are usual.
    most_trials : int [1]
        Draws after which to give up waiting; `settled` is then False.

    Returns
    -------
    DrawnResult

    Raises
    ------
    OutOfValidRange
        As for `monte_carlo`.

    Notes
    -----
    Blocks of :math:`M = \max(\lceil 100/(1-p) \rceil, 10^4)` trials; after h blocks, h at least four, the standard
    deviation of the mean over the blocks of the estimate, its standard uncertainty and both ends of the shortest
    interval must be at most half the tolerance. The result is taken from all trials together.

    References
    ----------
    .. [1] JCGM 101:2008, 7.9. Key ``jcgm101``.

    Examples
    --------
    >>> from lapwright.metrology.uncertainty import Contribution
    >>> budget = Budget(contributions=(Contribution(name="a", standard_uncertainty=1.0),))
    >>> found = adaptive_monte_carlo(linear_model(budget), budget, generator=np.random.default_rng(1), digits=1)
    >>> found.settled, round(found.standard_uncertainty, 1)
    (True, 1.0)
    """
    _need(BLOCK, probability)
    if not 1 <= digits <= 4:
        raise OutOfValidRange("digits", digits, "from 1 to 4")
    size = max(BLOCK, math.ceil(100.0 / (1.0 - probability)))
    blocks: list[Array] = []
    marks: list[tuple[float, ...]] = []
    deviation = math.inf
    while True:
        drawn = _outputs(model, budget, generator, size)
        low, high = _shortest(drawn, probability)
        blocks.append(drawn)
        marks.append((float(drawn.mean()), float(drawn.std(ddof=1)), low, high))
        if len(blocks) >= LEAST_BLOCKS:
            table = np.array(marks)
            deviation = float(np.max(table.std(axis=0, ddof=1))) / math.sqrt(len(blocks))
            tolerance = numerical_tolerance(float(math.sqrt(np.mean(table[:, 1] ** 2))), digits=digits)
            if 2.0 * deviation <= tolerance:
                return _summary(np.concatenate(blocks), probability, digits=digits, settled=True)
        if (len(blocks) + 1) * size > most_trials:
            return _summary(np.concatenate(blocks), probability, digits=digits, settled=False)


def linear_model(budget: Budget) -> Model:
    """Model of a plain budget: every input less its value, times its sensitivity, added.

    Parameters
    ----------
    budget : Budget
        The contributions with their sensitivities.

    Returns
    -------
    callable

    Examples
    --------
    >>> from lapwright.metrology.uncertainty import Contribution
    >>> model = linear_model(Budget(contributions=(Contribution(name="a", standard_uncertainty=1.0, sensitivity=2.0),)))
    >>> model({"a": np.array([0.0, 1.5])}).tolist()
    [0.0, 3.0]
    """

    def deviation(values: Mapping[str, Array]) -> Array:
        first, *others = budget.contributions
        total = first.sensitivity * (values[first.name] - first.value)
        for line in others:
            total += line.sensitivity * (values[line.name] - line.value)
        return total

    return deviation


def numerical_tolerance(standard_uncertainty: float, *, digits: int = 2) -> float:
    """Half a unit of the last significant digit of a standard uncertainty.

    Parameters
    ----------
    standard_uncertainty : float [unit of the result]
        Zero or more.
    digits : int [1]
        Significant digits that count.

    Returns
    -------
    float [unit of the result]

    References
    ----------
    .. [1] JCGM 101:2008, 7.9.2. Key ``jcgm101``.

    Examples
    --------
    >>> numerical_tolerance(0.35), numerical_tolerance(36.0, digits=1)
    (0.005, 5.0)
    """
    if not standard_uncertainty > 0.0:
        return 0.0
    return float(f"5e{_exponent(standard_uncertainty, digits) - 1}")


def is_first_order_enough(first: CombinedUncertainty, drawn: DrawnResult) -> bool:
    """Whether the interval of the law of propagation agrees with the drawn one to the tolerance.

    Parameters
    ----------
    first : CombinedUncertainty
        Result to first order, with the same probability.
    drawn : DrawnResult
        Result by Monte Carlo.

    Returns
    -------
    bool

    References
    ----------
    .. [1] JCGM 101:2008, clause 8. Key ``jcgm101``.

    Examples
    --------
    >>> first = CombinedUncertainty(value=0.0, standard_uncertainty=1.0, degrees_of_freedom=9.0, coverage_factor=2.0,
    ...                             expanded_uncertainty=2.0)
    >>> drawn = DrawnResult(mean=0.0, standard_uncertainty=1.0, symmetric=(-2.02, 2.01), shortest=(-2.02, 2.01),
    ...                     probability=0.95, trials=10_000, tolerance=0.05)
    >>> is_first_order_enough(first, drawn)
    True
    """
    low, high = drawn.symmetric
    ends = (first.value - first.expanded_uncertainty - low, first.value + first.expanded_uncertainty - high)
    return max(map(abs, ends)) <= drawn.tolerance


# ----------------------------------------------------------------------------------------------------------------------


def _need(trials: int, probability: float) -> None:
    if trials < BLOCK:
        raise OutOfValidRange("trials", trials, f"at least {BLOCK}")
    if not 0.0 < probability < 1.0:
        raise OutOfValidRange("probability", probability, "more than 0 and less than 1")


def _exponent(value: float, digits: int) -> int:
    """Power of ten of the last of so many significant digits, after rounding to them."""
    return int(f"{value:.{digits - 1}e}".partition("e")[2]) - digits + 1


def _outputs(model: Model, budget: Budget, generator: np.random.Generator, count: int) -> Array:
    drawn = drawn_inputs(budget, generator=generator, count=count)
    names = [line.name for line in budget.contributions]
    with np.errstate(all="ignore"):
        outputs = np.broadcast_to(np.asarray(model(dict(zip(names, drawn, strict=True))), dtype=np.float64), (count,))
    lost = count - int(np.count_nonzero(np.isfinite(outputs)))
    if lost:
        advice = "The inputs reach where the model has no value; give them bounded distributions."
        raise OutOfValidRange("share of trials without a value", lost / count, "0", advice)
    return outputs


def _summary(outputs: Array, probability: float, *, digits: int, settled: bool | None) -> DrawnResult:
    mean = float(outputs.mean())
    deviation = math.sqrt(float(np.dot(outputs - mean, outputs - mean)) / (outputs.size - 1))
    low, high = _tails(outputs, probability)
    return DrawnResult(
        mean=mean,
        standard_uncertainty=deviation,
        symmetric=(float(low[(low.size - 1) // 2]), float(high[(high.size - 1) // 2])),
        shortest=_shortest_of(low, high),
        probability=probability,
        trials=outputs.size,
        tolerance=numerical_tolerance(deviation, digits=digits),
        settled=settled,
    )


def _shortest(outputs: Array, probability: float) -> tuple[float, float]:
    return _shortest_of(*_tails(outputs, probability))


def _shortest_of(low: Array, high: Array) -> tuple[float, float]:
    place = int(np.argmin(high - low))
    return float(low[place]), float(high[place])


def _tails(outputs: Array, probability: float) -> tuple[Array, Array]:
    """Lower ends of all intervals that hold the share, sorted, and the upper end that belongs to each."""
    inside = min(max(1, round(probability * outputs.size)), outputs.size - 1)
    spare = outputs.size - inside
    if spare >= inside:
        ordered = np.sort(outputs)
        return ordered[:spare], ordered[inside:]
    parted = np.partition(outputs, (spare - 1, inside))
    return np.sort(parted[:spare]), np.sort(parted[inside:])
