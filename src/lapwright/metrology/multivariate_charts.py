"""Hotelling's T²: one chart for several values that belong together, such as TTV, wedge and dome of one wafer.

Phase I judges the points that the limits were taken from; phase II judges new points against settled ones. The
covariance is the pooled one of subgroups, or that of the sample for single points.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.metrology.control_charts import Chart
from lapwright.metrology.run_rules import Signal

Array = NDArray[np.float64]
Phase = Literal["first", "second"]

FALSE_ALARM = 0.0027  # as often as a single point beyond three standard deviations


@dataclass(frozen=True, slots=True, kw_only=True)
class JointChart:
    """A T² chart with the means and the covariance it rests on."""

    chart: Chart
    means: Array
    covariance: Array


def joint_subgroup_chart(subgroups: Array, *, phase: Phase = "first", false_alarm: float = FALSE_ALARM) -> JointChart:
    """T² chart of the means of subgroups.

    Parameters
    ----------
    subgroups : float array, shape (m, n, p) [unit of the values]
        m subgroups of n readings of p values.
    phase : "first" or "second"
        Which limit is drawn.
    false_alarm : float [1]
        Chance of a signal at one point of a settled process.

    Returns
    -------
    JointChart

    Raises
    ------
    OutOfValidRange
        Too few subgroups or readings, values of which one follows from the others, or a chance outside (0, 1).

    Notes
    -----
    T² = n (x̄ − x̿)ᵀ S⁻¹ (x̄ − x̿). Limits p(m − 1)(n − 1)/(mn − m − p + 1) F in phase I, p(m + 1)(n − 1)/(…) F in
    phase II, F with p and mn − m − p + 1 degrees of freedom [1]_.

    References
    ----------
    .. [1] T. P. Ryan, Statistical Methods for Quality Improvement, section on Hotelling's T². Key ``ryan_t2``.

    Examples
    --------
    >>> generator = np.random.default_rng(1)
    >>> found = joint_subgroup_chart(generator.standard_normal((20, 4, 2)), false_alarm=0.0054)
    >>> round(float(found.chart.upper[0]), 2)
    11.04
    """
    groups, count, size = subgroups.shape
    degrees = groups * count - groups - size + 1
    _need(subgroups, degrees=degrees, least=1, false_alarm=false_alarm)
    if count < 2:
        raise OutOfValidRange("readings in a subgroup", count, "at least 2")
    centres = subgroups.mean(axis=1)
    middle = centres.mean(axis=0)
    within = (subgroups - centres[:, None, :]).reshape(-1, size)
    covariance = within.T @ within / (groups * (count - 1))
    points = count * _distances(centres - middle, covariance)
    ends = groups - 1 if phase == "first" else groups + 1
    limit = size * ends * (count - 1) / degrees * _f_limit(size, degrees, false_alarm)
    return _joint_chart("joint means", points, limit, middle, covariance)


def joint_individuals_chart(points: Array, *, phase: Phase = "first", false_alarm: float = FALSE_ALARM) -> JointChart:
    """T² chart of single readings of several values.

    Parameters
    ----------
    points : float array, shape (m, p) [unit of the values]
        m readings of p values.
    phase : "first" or "second"
        Which limit is drawn.
    false_alarm : float [1]
        Chance of a signal at one point of a settled process.

    Returns
    -------
    JointChart

    Raises
    ------
    OutOfValidRange
        Too few readings, values of which one follows from the others, or a chance outside (0, 1).

    Notes
    -----
    Phase I: (m − 1)²/m times a beta quantile with p/2 and (m − p − 1)/2, exact for the sample covariance; phase II:
    p(m + 1)(m − 1)/(m² − mp) F with p and m − p degrees of freedom [1]_.

    References
    ----------
    .. [1] N. D. Tracy, J. C. Young, R. L. Mason, J. Qual. Technol. 24 (1992) 88. Key ``tracy1992``.

    Examples
    --------
    >>> found = joint_individuals_chart(np.random.default_rng(1).standard_normal((50, 2)))
    >>> round(float(found.chart.upper[0]), 2)
    10.68
    """
    from scipy.special import betaincinv

    count, size = points.shape
    _need(points, degrees=count - size - 1, least=1, false_alarm=false_alarm)
    middle = points.mean(axis=0)
    covariance = np.atleast_2d(np.cov(points, rowvar=False))
    distances = _distances(points - middle, covariance)
    if phase == "first":
        share = float(betaincinv(size / 2.0, (count - size - 1) / 2.0, 1.0 - false_alarm))
        limit = (count - 1) ** 2 / count * share
    else:
        limit = size * (count + 1) * (count - 1) / (count * (count - size)) * _f_limit(size, count - size, false_alarm)
    return _joint_chart("joint individuals", distances, limit, middle, covariance)


# ----------------------------------------------------------------------------------------------------------------------


def _need(values: Array, *, degrees: int, least: int, false_alarm: float) -> None:
    if degrees < least:
        raise OutOfValidRange("degrees of freedom of the limit", degrees, f"at least {least}", "Take more readings.")
    if not 0.0 < false_alarm < 1.0:
        raise OutOfValidRange("false_alarm", false_alarm, "more than 0 and less than 1")
    if not np.all(np.isfinite(values)):
        raise OutOfValidRange("a reading", math.nan, "a finite number", "Leave out points that were not measured.")


def _f_limit(upper: float, lower: float, false_alarm: float) -> float:
    from scipy.special import fdtri

    return float(fdtri(upper, lower, 1.0 - false_alarm))


def _distances(steps: Array, covariance: Array) -> Array:
    scales = np.sqrt(np.diag(covariance))
    if not np.all(scales > 0.0):
        raise OutOfValidRange("spread of a value", 0.0, "above zero", "Leave out the value that never changes.")
    unit = covariance / np.outer(scales, scales)
    if float(np.linalg.eigvalsh(unit)[0]) < 1e-10:
        advice = "One value follows from the others; leave it out."
        raise OutOfValidRange("independence of the values", float(np.linalg.eigvalsh(unit)[0]), "above 1e-10", advice)
    scaled = steps / scales
    return np.asarray(np.einsum("ij,ij->i", scaled, np.linalg.solve(unit, scaled.T).T))


def _joint_chart(kind: str, points: Array, limit: float, middle: Array, covariance: Array) -> JointChart:
    out = np.flatnonzero(points > limit)
    chart = Chart(
        kind=kind,
        points=points,
        centre=0.0,
        lower=None,
        upper=np.full(points.size, limit),
        sigma=math.nan,
        signals=tuple(Signal(index=int(i), rule="beyond_limit") for i in out),
    )
    return JointChart(chart=chart, means=middle, covariance=covariance)
