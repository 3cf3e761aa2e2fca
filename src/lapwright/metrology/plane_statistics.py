"""Thickness statistics of many wafers in one call: mean, range, plane, for one pattern of sites."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, Fault, OutOfValidRange, ShapeMismatch
from lapwright.metrology.surface_fit import LARGEST_GAIN


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneStatistics:
    """One entry per wafer, shape (n_wafers,). SI; NaN where a wafer has too few measured sites for the quantity.

    `wedge` [m] is over the full diameter, `wedge_azimuth` [rad] that of the thickest edge, `residual_rms` [m] what the
    plane leaves over its degrees of freedom.
    """

    n_sites: NDArray[np.intp]
    mean: NDArray[np.float64]
    minimum: NDArray[np.float64]
    maximum: NDArray[np.float64]
    ttv: NDArray[np.float64]
    wedge: NDArray[np.float64]
    wedge_azimuth: NDArray[np.float64]
    residual_rms: NDArray[np.float64]


def plane_statistics(
    thickness: NDArray[np.float64], x: NDArray[np.float64], y: NDArray[np.float64], *, diameter: float
) -> PlaneStatistics:
    """Mean, minimum, maximum, TTV, wedge vector and residual of many wafers read on the same sites.

    Parameters
    ----------
    thickness : float array, shape (n_wafers, n_sites) [m]
        Site means; NaN where a site was not measured.
    x, y : float arrays, shape (n_sites,) [m]
        Sites in the wafer frame.
    diameter : float [m]
        Over which the wedge is given.

    Returns
    -------
    PlaneStatistics

    Raises
    ------
    ShapeMismatch
        `x` and `y` do not have one entry per column of `thickness`.
    BadInput
        Thickness not above zero or infinite; every such cell is listed.
    OutOfValidRange
        `diameter` is not above zero.

    Notes
    -----
    The same least squares plane as `thickness_statistics` takes, solved for all wafers together from sums about the
    mean of the measured sites. No uncertainties, no outliers.

    Examples
    --------
    >>> x, y = np.array([0.0, 0.04, 0.0, -0.04, 0.0]), np.array([0.0, 0.0, 0.04, 0.0, -0.04])
    >>> found = plane_statistics(np.vstack((5e-4 + 1e-4 * x, 5e-4 + 1e-4 * y)), x, y, diameter=0.1)
    >>> (found.wedge * 1e6).round(6).tolist(), np.degrees(found.wedge_azimuth).round(6).tolist()
    ([10.0, 10.0], [0.0, 90.0])
    """
    if thickness.ndim != 2 or not x.shape == y.shape == thickness.shape[1:]:
        raise ShapeMismatch(thickness=thickness.shape, x=x.shape, y=y.shape)
    if not diameter > 0.0:
        raise OutOfValidRange("diameter", diameter, "more than zero")
    _refuse_faults(thickness)
    measured = np.isfinite(thickness)
    count = measured.sum(axis=1)
    some = np.where(count > 0, count, 1)
    mean = np.where(measured, thickness, 0.0).sum(axis=1) / some
    off = np.where(measured, thickness - mean[:, None], 0.0)
    correction = off.sum(axis=1) / some
    mean, off = mean + correction, np.where(measured, off - correction[:, None], 0.0)
    minimum = np.where(measured, thickness, np.inf).min(axis=1, initial=np.inf)
    maximum = np.where(measured, thickness, -np.inf).max(axis=1, initial=-np.inf)
    slope_x, slope_y, residual = _planes(off, measured, x, y, diameter / 2)
    spare = np.where(count > 3, count - 3, 1)
    rms = np.sqrt(np.einsum("ij,ij->i", residual, residual) / spare)
    return PlaneStatistics(
        n_sites=count,
        mean=np.where(count > 0, mean, np.nan),
        minimum=np.where(count > 0, minimum, np.nan),
        maximum=np.where(count > 0, maximum, np.nan),
        ttv=np.where(count > 1, maximum - minimum, np.nan) if thickness.size else np.full(len(count), np.nan),
        wedge=2.0 * np.hypot(slope_x, slope_y),
        wedge_azimuth=np.arctan2(slope_y, slope_x),
        residual_rms=np.where((count > 3) & np.isfinite(slope_x), rms, np.nan),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _refuse_faults(thickness: NDArray[np.float64]) -> None:
    bad = np.argwhere((thickness <= 0.0) | np.isinf(thickness))
    if len(bad):
        raise BadInput(
            [
                Fault(
                    sentence=f"Wafer {i + 1}, site {j + 1} reads {1e6 * thickness[i, j]:g} µm; a thickness is a finite "
                    "length above zero.",
                    row=int(i) + 1,
                    field=f"site {j + 1}",
                )
                for i, j in bad
            ],
            subject="The thickness table",
        )


def _planes(
    off: NDArray[np.float64],
    measured: NDArray[np.bool_],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    reach: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Slopes over the reach, NaN where the sites carry no plane, and residuals; `off` has mean nought."""
    counts = measured.astype(float)
    some = np.maximum(counts.sum(axis=1), 1.0)
    scaled_x, scaled_y = x / reach, y / reach
    middle_x, middle_y = counts @ scaled_x / some, counts @ scaled_y / some
    xx = counts @ scaled_x**2 - some * middle_x**2
    yy = counts @ scaled_y**2 - some * middle_y**2
    xy = counts @ (scaled_x * scaled_y) - some * middle_x * middle_y
    xt, yt = off @ scaled_x, off @ scaled_y
    smallest = 0.5 * (xx + yy - np.hypot(xx - yy, 2.0 * xy))
    carried = (counts.sum(axis=1) >= 3) & (smallest * LARGEST_GAIN**2 >= 1.0)
    determinant = np.where(carried, xx * yy - xy**2, 1.0)
    slope_x = np.where(carried, (yy * xt - xy * yt) / determinant, np.nan)
    slope_y = np.where(carried, (xx * yt - xy * xt) / determinant, np.nan)
    fitted = slope_x[:, None] * (scaled_x - middle_x[:, None]) + slope_y[:, None] * (scaled_y - middle_y[:, None])
    return slope_x, slope_y, np.where(measured & carried[:, None], off - fitted, 0.0)
