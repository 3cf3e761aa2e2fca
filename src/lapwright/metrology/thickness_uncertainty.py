"""Uncertainty budgets of whatever is a weighted sum of site means: mean, TTV, wedge, dome, saddle.

Two kinds of error are kept apart. What is common to all readings of a set (the gauge's accuracy limit, its zero) goes
with the sum of the weights: in full into the mean, not at all into a difference. What differs from site to site
(repeat scatter, short-range error) goes with the root of the sum of squared weights.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.metrology.thickness_sites import SiteMeans
from lapwright.metrology.uncertainty import Budget, Contribution, rectangular_uncertainty
from lapwright.model.readings import Gauge

ScatterSource = Literal["repeats", "gauge", "residual"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """Standard deviation of a single reading [m], its degrees of freedom, and where it was taken from."""

    deviation: float
    degrees_of_freedom: float
    source: ScatterSource


def weighted_sum_budget(
    weights: NDArray[np.float64],
    *,
    sites: SiteMeans,
    gauge: Gauge | None,
    scatter: Scatter | None,
    further_contributions: tuple[Contribution, ...] = (),
) -> Budget | None:
    r"""Budget of a weighted sum of site means; None when a part that matters is unknown.

    Parameters
    ----------
    weights : float array, shape (n,) [1]
        1/n each for the mean; +1 and -1 for a difference; a row of a fit times a length ratio.
    sites : SiteMeans
        The site means and the readings behind them.
    gauge : Gauge, optional
        Limit, resolution, local error.
    scatter : Scatter, optional
        Repeat scatter of a single reading.
    further_contributions : tuple of Contribution
        Anything else common to the whole set, such as temperature; goes with the sum of the weights.

    Returns
    -------
    Budget or None
        None when the scatter is unknown, or when the weights do not cancel and the gauge is unknown.

    Notes
    -----
    With weights :math:`c_i`, repeats :math:`m_i`, scatter :math:`s`, limit :math:`a`, local error :math:`l`,
    resolution :math:`q`: repeat scatter :math:`s\sqrt{\sum c_i^2/m_i}`; gauge limit :math:`|\sum c_i|\,a/\sqrt3`;
    local error :math:`\sqrt{\sum c_i^2}\,l/\sqrt3`. Rounding to the resolution is contained in the scatter when that
    is at least half a step; otherwise it adds :math:`q/\sqrt{12}`, not averaged in the mean. Each zero reading carries
    the scatter of a single reading, in the same line. After the linear correction of a drift :math:`d` it is taken as
    possible that the zero had jumped once, at a moment equally likely anywhere in the set; this gives
    :math:`d/\sqrt{12}` in the mean.

    Examples
    --------
    >>> from lapwright.metrology.thickness_sites import site_means
    >>> from lapwright.model.readings import ThicknessSet
    >>> from lapwright.model.wafer import Round
    >>> taken = ThicknessSet(piece="w", labels=("a", "b", "c"), x=np.array([0.0, 0.01, 0.0]),
    ...                      y=np.array([0.0, 0.0, 0.01]), site=np.array([0, 1, 2]), thickness=np.full(3, 5e-4))
    >>> budget = weighted_sum_budget(np.full(3, 1 / 3), sites=site_means(taken, outline=Round(diameter=0.05)),
    ...                              gauge=Gauge(gauge_id="g", name="g", limit=1e-6),
    ...                              scatter=Scatter(deviation=3e-7, degrees_of_freedom=9.0, source="gauge"))
    >>> [(line.name, round(line.effect * 1e6, 4)) for line in budget.contributions]
    [('accuracy limit of the gauge', 0.5774), ('repeat scatter', 0.1732)]
    """
    total, root = float(np.sum(weights)), math.sqrt(float(np.sum(weights**2)))
    common = abs(total) if abs(total) > 1e-9 * root else 0.0
    if scatter is None or (common and gauge is None):
        return None
    zero = _zero_gain(weights, sites)
    lines = _gauge_lines(gauge, common, root)
    scatter_gain = math.hypot(math.sqrt(float(np.sum(weights**2 / sites.repeats))), zero)
    lines.append(
        Contribution(
            name="repeat scatter",
            standard_uncertainty=scatter.deviation,
            sensitivity=scatter_gain,
            degrees_of_freedom=scatter.degrees_of_freedom,
            distribution="student",
        )
    )
    if gauge is not None and scatter.deviation < gauge.resolution / 2:
        lines.append(_rectangular("resolution", gauge.resolution / 2, math.hypot(max(common, root), zero)))
    if sites.zero_drift:
        lines.append(_drift_line(weights, sites, sites.zero_drift))
    if common:
        lines += [replace(line, sensitivity=line.sensitivity * common) for line in further_contributions]
    return Budget(contributions=tuple(lines))


# ----------------------------------------------------------------------------------------------------------------------


def _gauge_lines(gauge: Gauge | None, common: float, root: float) -> list[Contribution]:
    lines: list[Contribution] = []
    if gauge is not None and common:
        lines.append(_rectangular("accuracy limit of the gauge", gauge.limit, common))
    if gauge is not None and gauge.local is not None:
        lines.append(_rectangular("local error of the gauge", gauge.local, root))
    return lines


def _rectangular(name: str, half_width: float, sensitivity: float) -> Contribution:
    return Contribution(
        name=name,
        standard_uncertainty=rectangular_uncertainty(half_width),
        sensitivity=sensitivity,
        distribution="rectangular",
    )


def _per_reading(weights: NDArray[np.float64], sites: SiteMeans) -> NDArray[np.float64]:
    return np.asarray(weights[sites.reading_site] / sites.repeats[sites.reading_site])


def _zero_gain(weights: NDArray[np.float64], sites: SiteMeans) -> float:
    """How much the scatter of a single zero reading comes into the weighted sum."""
    if sites.zero_readings < 2:
        return abs(float(np.sum(weights))) if sites.zero_readings else 0.0
    late = float(np.sum(_per_reading(weights, sites) * sites.reading_moment))
    return math.hypot(float(np.sum(weights)) - late, late)


def _drift_line(weights: NDArray[np.float64], sites: SiteMeans, drift: float) -> Contribution:
    """What the linear correction may leave: as if the zero had jumped once, at any moment of the set.

    The sensitivity is the root mean square, over that moment, of what a unit jump leaves after the correction.
    """
    per_reading, moment = _per_reading(weights, sites), sites.reading_moment
    late = float(np.sum(per_reading * moment))
    order = np.argsort(moment)
    after_jump = np.concatenate(([np.sum(per_reading)], np.sum(per_reading) - np.cumsum(per_reading[order])))
    spans = np.diff(np.concatenate(([0.0], moment[order], [1.0])))
    return Contribution(
        name="drift between the zero readings",
        standard_uncertainty=abs(drift),
        sensitivity=math.sqrt(float(np.sum(spans * (after_jump - late) ** 2))),
        distribution="rectangular",
    )
