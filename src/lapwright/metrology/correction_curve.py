"""The correction of a reading from the curve of a calibration certificate: what is added, and how well it is known.

A curve says nothing beyond its ends; nothing is extrapolated.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.model.readings import CurvePoint

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrections:
    """What is added to each reading, and the expanded uncertainty of each correction, in m; NaN where not measured."""

    correction: Array
    expanded_uncertainty: Array


def curve_corrections(value: Array, *, curve: tuple[CurvePoint, ...]) -> Corrections:
    r"""Corrections of readings by straight lines between the points of a correction curve.

    Parameters
    ----------
    value : float array, shape (n,) [m]
        Readings as the gauge shows them; NaN where not measured.
    curve : tuple of CurvePoint
        In rising order of the reading; lengths in m.

    Returns
    -------
    Corrections

    Raises
    ------
    OutOfValidRange
        A curve without points, or a reading beyond its ends.

    Notes
    -----
    Between two points, with :math:`w` from 0 to 1 the share of the way,

    .. math:: c = (1 - w)\,c_1 + w\,c_2, \qquad U = (1 - w)\,U_1 + w\,U_2

    The uncertainty is that of fully correlated corrections, the largest that JCGM 100 allows: points of one certificate
    rest on the same standards. That the true curve bends between the points is not included.

    References
    ----------
    .. [1] JCGM 100:2008, 5.2.2 (correlation +1). Key ``jcgm100``.

    Examples
    --------
    >>> curve = (CurvePoint(value=0.0, correction=0.0, expanded_uncertainty=1e-7),
    ...          CurvePoint(value=1e-3, correction=4e-7, expanded_uncertainty=3e-7))
    >>> found = curve_corrections(np.array([5e-4]), curve=curve)
    >>> round(float(found.correction[0]) * 1e6, 3), round(float(found.expanded_uncertainty[0]) * 1e6, 3)
    (0.2, 0.2)
    """
    places = np.array([point.value for point in curve])
    if not places.size:
        raise OutOfValidRange("number of points of a correction curve", 0, "at least 1")
    known = value[np.isfinite(value)]
    for worst in (known.min(initial=places[0]), known.max(initial=places[-1])):
        if not places[0] <= worst <= places[-1]:
            expected = f"from {places[0] * 1e6:g} µm to {places[-1] * 1e6:g} µm, where the curve was measured"
            raise OutOfValidRange("reading to correct [m]", float(worst), expected)
    return Corrections(
        correction=_between(value, places, np.array([point.correction for point in curve])),
        expanded_uncertainty=_between(value, places, np.array([point.expanded_uncertainty for point in curve])),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _between(value: Array, places: Array, heights: Array) -> Array:
    return np.where(np.isfinite(value), np.interp(value, places, heights), np.nan)
