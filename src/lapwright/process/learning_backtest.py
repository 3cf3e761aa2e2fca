"""Walking through a history: every run against what was predicted of it from the runs before, and against two habits.

The habits are to expect the last run's rate again, and to expect the library's rate.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lapwright.errors import CannotAnswer
from lapwright.metrology.distributions import student_t_quantile
from lapwright.process.learning import RateModel
from lapwright.process.learning_effects import starting_rate
from lapwright.process.learning_fit import RunCheck, RunNote


@dataclass(frozen=True, slots=True, kw_only=True)
class BacktestLine:
    """One run of a history: predicted rate [m/s] with its 90 % interval, the one it showed, and the two habits' rates.

    `earlier` counts runs of the same combination before it; `last_rate` [m/s] is that of the latest, None without one.
    """

    name: str
    earlier: int
    predicted: float
    low: float
    high: float
    removal_rate: float
    last_rate: float | None
    library_rate: float
    note: RunNote


@dataclass(frozen=True, slots=True, kw_only=True)
class Backtest:
    """How well a history was predicted: median absolute error as a share of the rate, share inside the 90 % interval.

    `last_error` and `library_error` are the same median for the two habits; None where a habit has nothing to say.
    """

    n: int
    median_error: float
    coverage: float
    last_error: float | None
    library_error: float
    lines: tuple[BacktestLine, ...]


def backtest(model: RateModel, *, earlier: int = 0) -> Backtest:
    """Every run of a model's history against its prediction from the runs before it.

    Parameters
    ----------
    model : RateModel
        With the runs it was taught.
    earlier : int
        Leave out runs with fewer earlier runs of the same combination, zero or more.

    Returns
    -------
    Backtest

    Raises
    ------
    CannotAnswer
        No run is left to predict.

    Notes
    -----
    A prediction uses nothing that came later, the spreads and the forgetting included.

    Examples
    --------
    >>> from lapwright.library import load
    >>> from lapwright.process.learning import PastRun, RunConditions, rate_model
    >>> where = RunConditions(material="LiTaO3", abrasive="sic-jis1000", plate="cast-iron", pressure=10e3, speed=0.5)
    >>> runs = [PastRun(name=str(k), conditions=where, removal_rate=4e-6 / 60) for k in range(5)]
    >>> found = backtest(rate_model(load(), runs), earlier=1)
    >>> found.n, found.coverage
    (4, 1.0)
    """
    checks = [check for learned in model.learned.values() for check in learned.checks]
    last: dict[tuple[str, str, str], float] = {}
    lines = []
    for check in checks:
        combination = check.run.conditions.combination
        if check.earlier >= earlier:
            lines.append(_line(model, check, last.get(combination)))
        last[combination] = check.run.removal_rate
    if not lines:
        raise CannotAnswer(
            f"No run with {earlier} earlier runs of the same combination is there to predict; {len(checks)} runs found."
        )
    with_last = [line for line in lines if line.last_rate is not None]
    return Backtest(
        n=len(lines),
        median_error=_median([abs(line.predicted / line.removal_rate - 1.0) for line in lines]),
        coverage=sum(line.low <= line.removal_rate <= line.high for line in lines) / len(lines),
        last_error=_median([abs((line.last_rate or 0.0) / line.removal_rate - 1.0) for line in with_last])
        if with_last
        else None,
        library_error=_median([abs(line.library_rate / line.removal_rate - 1.0) for line in lines]),
        lines=tuple(lines),
    )


def expected_bounds(run_check: RunCheck) -> tuple[float, float, float]:
    """The rate expected of a run from those before it, and the ends of its 90 % interval.

    Parameters
    ----------
    run_check : RunCheck
        Of a run of the history.

    Returns
    -------
    tuple of float [m/s]
        Median, low and high end.
    """
    reach = student_t_quantile(0.95, run_check.predicted.degrees_of_freedom) * run_check.predicted.scale
    mean = run_check.predicted.mean
    return math.exp(mean), math.exp(mean - reach), math.exp(mean + reach)


# ----------------------------------------------------------------------------------------------------------------------


def _line(model: RateModel, check: RunCheck, last_rate: float | None) -> BacktestLine:
    expected, low, high = expected_bounds(check)
    return BacktestLine(
        name=check.run.name,
        earlier=check.earlier,
        predicted=expected,
        low=low,
        high=high,
        removal_rate=check.run.removal_rate,
        last_rate=last_rate,
        library_rate=starting_rate(model.library, check.run.conditions).rate,
        note=check.note,
    )


def _median(values: Sequence[float]) -> float:
    ordered = sorted(values)
    middle = len(ordered) // 2
    return ordered[middle] if len(ordered) % 2 else 0.5 * (ordered[middle - 1] + ordered[middle])
