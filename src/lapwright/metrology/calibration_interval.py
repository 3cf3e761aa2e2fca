"""When a gauge should be calibrated next: a straight drift through its deviations, and the risk that it is out by then.

Deviations come from several sources (calibrations, check standards): all share one slope, each has its own level, so
that the unknown value of a standard does no harm. The level forecast is that of source 0, the calibrations. What all
calibrations have in common, the error of their own standard, is not in the forecast.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import CannotAnswer, OutOfValidRange, ShapeMismatch
from lapwright.metrology.distributions import student_t_cdf, student_t_quantile

Array = NDArray[np.float64]

STEPS = 400  # steps of the search before it is halved down to less than a second
HALVINGS = 24  # to a second even of a search over centuries
CLOSE = 1e-6  # of a deviate, within which it is looked at whether the risk is reached
LEAST_LEFT = 1e-4  # of the risk borne, below which the deviate lies too far out to be a help
LEAST_SCATTER = 1e-9  # of the largest deviation: below it, rounding alone


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeDrift:
    """A straight drift: `slope` [m/s] with its standard deviation, the level [m] of source 0 at the time `middle` [s].

    `residual` [m] is the scatter of one deviation about the lines, `last` the latest time [s] and `covered` the time
    [s] between the first deviation and the latest; `counted` deviations of source 0 set the level.
    """

    slope: float
    slope_deviation: float
    level: float
    middle: float
    residual: float
    degrees_of_freedom: int
    counted: int
    last: float
    covered: float

    @property
    def is_seen(self) -> bool:
        """Whether the slope differs from none at 95 %."""
        return abs(self.slope) > student_t_quantile(0.975, self.degrees_of_freedom) * self.slope_deviation


def gauge_drift(along: Array, deviation: Array, *, source: NDArray[np.intp] | None = None) -> GaugeDrift:
    r"""Drift of a gauge: one slope through the deviations of all its sources, a level for each.

    Parameters
    ----------
    along : float array, shape (n,) [s]
        Time of each deviation.
    deviation : float array, shape (n,) [m]
        Reading less reference, every adjustment made since then put in: as the gauge stands now.
    source : int array, shape (n,), optional
        Where each comes from: 0 for calibrations, 1, 2 … for each check standard. Without it all are calibrations.

    Returns
    -------
    GaugeDrift

    Raises
    ------
    ShapeMismatch
        The arrays differ in length.
    OutOfValidRange
        A time or a deviation that is not finite.
    CannotAnswer
        No calibration, no more deviations than unknowns, all of each source at one time, or no scatter at all.

    Notes
    -----
    With means :math:`\bar t_g, \bar y_g` of each source :math:`g`, :math:`G` sources and
    :math:`S = \sum (t - \bar t_g)^2`,

    .. math:: b = \frac{\sum (t - \bar t_g)(y - \bar y_g)}{S}, \quad
       s^2 = \frac{\sum (y - \bar y_g - b\,(t - \bar t_g))^2}{n - G - 1}, \quad u_b = s / \sqrt S

    Valid for a steady drift and independent normal errors of one size in all sources. A step (a blow, a repair) is not
    a drift: begin anew after it.

    References
    ----------
    .. [1] N. R. Draper, H. Smith, Applied Regression Analysis, 3rd ed. 1998, chapter 14, parallel lines (from memory).

    Examples
    --------
    >>> years = np.array([0.0, 1.0, 2.0, 3.0]) * 31557600.0
    >>> drift = gauge_drift(years, np.array([0.02e-6, 0.19e-6, 0.41e-6, 0.60e-6]))
    >>> round(drift.slope * 31557600.0 * 1e6, 3), drift.degrees_of_freedom
    (0.196, 2)
    """
    groups = np.zeros(along.size, dtype=np.intp) if source is None else source
    if not along.shape == deviation.shape == groups.shape:
        raise ShapeMismatch(along=along.shape, deviation=deviation.shape, source=groups.shape)
    if not (np.all(np.isfinite(along)) and np.all(np.isfinite(deviation))):
        raise OutOfValidRange("a deviation or its time", math.nan, "a finite number", "Leave out what was not taken.")
    _, place = np.unique(groups, return_inverse=True)
    counted = int(np.count_nonzero(groups == 0))
    degrees = along.size - (int(place.max(initial=-1)) + 1) - 1
    _need_enough(counted, degrees)
    size = np.bincount(place)
    middle, mean = (np.bincount(place, weights=values) / size for values in (along, deviation))
    steps, rises = along - middle[place], deviation - mean[place]
    spread = float(steps @ steps)
    if not spread > 0.0:
        raise CannotAnswer("All deviations of a gauge are of one time; a drift needs some time between them. Wait.")
    slope = float(steps @ rises) / spread
    residual = math.sqrt(float(np.sum((rises - slope * steps) ** 2)) / degrees)
    if not residual > LEAST_SCATTER * float(np.abs(deviation).max()):
        raise CannotAnswer(
            "The deviations lie on a line without any scatter, so nothing says how sure a forecast is. "
            "Record them with all the digits the gauge shows."
        )
    first = int(np.flatnonzero(groups == 0)[0])
    return GaugeDrift(
        slope=slope,
        slope_deviation=residual / math.sqrt(spread),
        level=float(mean[place[first]]),
        middle=float(middle[place[first]]),
        residual=residual,
        degrees_of_freedom=degrees,
        counted=counted,
        last=float(along.max()),
        covered=float(np.ptp(along)),
    )


def out_of_limit_risk(drift_line: GaugeDrift, *, gauge_limit: float, ahead: float) -> float:
    r"""Chance that the next deviation of a gauge, found at a time to come, is beyond its limit.

    Parameters
    ----------
    drift_line : GaugeDrift
        As found from its history.
    gauge_limit : float [m]
        Half-width of what the gauge may be off, more than zero.
    ahead : float [s]
        When, counted from the latest deviation of the history.

    Returns
    -------
    float [1]

    Raises
    ------
    OutOfValidRange
        A limit that is not above zero.

    Notes
    -----
    Student's t of :math:`\nu` degrees of freedom about the line, with :math:`n_0` calibrations:

    .. math:: P = T_\nu\!\left(\frac{\hat y - L}{u}\right) + T_\nu\!\left(\frac{-L - \hat y}{u}\right), \quad
       u^2 = s^2\left(1 + \frac{1}{n_0} + \frac{(t - \bar t_0)^2}{S}\right)

    Trust it only about as far ahead as the history is long.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 4.5.1.2, uncertainty of a single predicted response (section
       number from memory). Key ``nist_handbook``.

    Examples
    --------
    >>> years = np.array([0.0, 1.0, 2.0, 3.0]) * 31557600.0
    >>> drift = gauge_drift(years, np.array([0.02e-6, 0.19e-6, 0.41e-6, 0.60e-6]))
    >>> round(out_of_limit_risk(drift, gauge_limit=1e-6, ahead=2.0 * 31557600.0), 2)
    0.39
    """
    _need_limit(gauge_limit)
    away = drift_line.last + ahead - drift_line.middle
    expected = drift_line.level + drift_line.slope * away
    spread = math.hypot(_scatter(drift_line), drift_line.slope_deviation * away)
    return sum(
        student_t_cdf(beyond / spread, drift_line.degrees_of_freedom)
        for beyond in (expected - gauge_limit, -gauge_limit - expected)
    )


def risk_reached(
    drift_line: GaugeDrift, *, gauge_limit: float, borne_risk: float, search_from: float, search_until: float
) -> float | None:
    """Earliest time ahead at which the risk of a gauge to be out reaches what is borne; None when it does not.

    Parameters
    ----------
    drift_line : GaugeDrift
        As found from its history.
    gauge_limit : float [m]
        Half-width of what the gauge may be off.
    borne_risk : float [1]
        Risk that is borne.
    search_from, search_until : float [s]
        Between which times is searched, counted from the latest deviation of the history.

    Returns
    -------
    float or None [s]
        Counted in the same way; `search_from` when the risk is as large already.

    Raises
    ------
    OutOfValidRange
        A limit that is not above zero, a risk outside 0 … 1, or an end of the search before its beginning.

    Examples
    --------
    >>> year = 31557600.0
    >>> years = np.array([0.0, 1.0, 2.0, 3.0]) * year
    >>> drift = gauge_drift(years, np.array([0.02e-6, 0.19e-6, 0.41e-6, 0.60e-6]))
    >>> found = risk_reached(drift, gauge_limit=1e-6, borne_risk=0.05, search_from=0.0, search_until=3.0 * year)
    >>> round(found / year, 2)
    1.66
    """
    _need_limit(gauge_limit)
    if not 0.0 < borne_risk < 1.0:
        raise OutOfValidRange("borne_risk", borne_risk, "more than 0 and less than 1")
    if search_until < search_from:
        raise OutOfValidRange("search_until [s]", search_until, "not before the beginning of the search")
    times = np.linspace(search_from, search_until, STEPS + 1)
    for place in np.flatnonzero(_may_reach(drift_line, gauge_limit, borne_risk, times)).tolist():
        ahead = float(times[place])
        if out_of_limit_risk(drift_line, gauge_limit=gauge_limit, ahead=ahead) >= borne_risk:
            return _halved(drift_line, gauge_limit, borne_risk, float(times[max(place - 1, 0)]), ahead)
    return None


# ----------------------------------------------------------------------------------------------------------------------


def _need_limit(gauge_limit: float) -> None:
    if not gauge_limit > 0.0:
        raise OutOfValidRange("gauge_limit", gauge_limit, "more than zero")


def _need_enough(counted: int, degrees: int) -> None:
    if counted < 1:
        raise CannotAnswer("A drift needs at least 1 calibration of the gauge; none found. Record its certificate.")
    if degrees < 1:
        raise CannotAnswer(
            f"A drift with its uncertainty needs {1 - degrees} more deviations of this gauge than there are. "
            "Record as-found deviations and read a check standard from time to time."
        )


def _may_reach(drift_line: GaugeDrift, gauge_limit: float, borne_risk: float, times: Array) -> NDArray[np.bool_]:
    """False at times at which the risk is below what is borne for certain, so that it need not be worked out there.

    The chance beyond the farther end is nowhere more than at its nearest; what it leaves for the nearer one is reached
    from a known deviate on.
    """
    away = drift_line.last + times - drift_line.middle
    expected = np.abs(drift_line.level + drift_line.slope * away)
    spread = np.hypot(_scatter(drift_line), drift_line.slope_deviation * away)
    beyond_other = student_t_cdf(float(np.max((-expected - gauge_limit) / spread)), drift_line.degrees_of_freedom)
    left = borne_risk - beyond_other
    if left < LEAST_LEFT:
        return np.ones(times.shape, dtype=np.bool_)
    least = student_t_quantile(left, drift_line.degrees_of_freedom)
    return np.asarray((expected - gauge_limit) / spread >= least - CLOSE * (1.0 + abs(least)))


def _scatter(drift_line: GaugeDrift) -> float:
    """Scatter of the next deviation about the line, but for what the slope leaves open."""
    return drift_line.residual * math.sqrt(1.0 + 1.0 / drift_line.counted)


def _halved(drift_line: GaugeDrift, gauge_limit: float, borne_risk: float, before: float, after: float) -> float:
    """The crossing between a time below the risk borne and one that is not."""
    for _ in range(HALVINGS):
        middle = 0.5 * (before + after)
        if out_of_limit_risk(drift_line, gauge_limit=gauge_limit, ahead=middle) >= borne_risk:
            after = middle
        else:
            before = middle
    return after
