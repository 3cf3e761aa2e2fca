"""Form of a face from its height map: tilt, power, astigmatism, and what is left.

Height is positive out of the face; a domed face has power above nought. The tilt of a fringe map is that of the set-up,
never a wedge. Sources: ISO 12781-1 for the plane taken out, ISO 10110-5 for the split into power and irregularity.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import ShapeNotDetermined
from lapwright.metrology.shape_grid import Aperture, fitted_aperture, grid_axes

Array = NDArray[np.float64]

PERCENTILES = (0.5, 99.5)
_LARGEST_CONDITION = 1e8  # of the normal equations of the six terms, on coordinates scaled to the aperture


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapeResult:
    """Form of a face.

    Attributes
    ----------
    aperture : Aperture
        Circle looked at; its diameter is the one that tilt, power and astigmatism are given over.
    n_pixels : int
        Measured pixels inside it.
    tilt : float [m]
        Height of the least-squares plane over the diameter along its steepest line.
    tilt_azimuth : float or None [rad]
        Where the plane is highest; None without tilt.
    pv, rms : float [m]
        Peak to valley and root mean square after the least-squares plane is taken out.
    robust_pv : float [m]
        Between the two `percentiles` of the same heights.
    percentiles : tuple of two floats [%]
        As used for `robust_pv`.
    power : float or None [m]
        Sagitta over the diameter of the least-squares paraboloid: above nought when domed. None when the measured
        pixels do not carry it.
    astigmatism : float or None [m]
        Difference between the sagittas along and across `astigmatism_azimuth`.
    astigmatism_azimuth : float or None [rad]
        Axis, 0 to pi, along which the rim is highest; None without astigmatism.
    residual_pv, residual_rms : float or None [m]
        What plane, power and astigmatism leave.
    levelled : float array, shape (ny, nx) [m]
        Heights after the plane is taken out; NaN where not measured or outside.
    residual : float array or None, shape (ny, nx) [m]
        Heights after plane, power and astigmatism are taken out.
    """

    aperture: Aperture
    n_pixels: int
    tilt: float
    tilt_azimuth: float | None
    pv: float
    rms: float
    robust_pv: float
    percentiles: tuple[float, float]
    power: float | None
    astigmatism: float | None
    astigmatism_azimuth: float | None
    residual_pv: float | None
    residual_rms: float | None
    levelled: Array
    residual: Array | None

    def __post_init__(self) -> None:
        self.levelled.setflags(write=False)
        if self.residual is not None:
            self.residual.setflags(write=False)


def measured_shape(
    height: Array,
    *,
    pixel_size: tuple[float, float],
    aperture: Aperture | None = None,
    percentiles: tuple[float, float] = PERCENTILES,
) -> ShapeResult:
    r"""Form of a face from its height map.

    Parameters
    ----------
    height : float array, shape (ny, nx) [m]
        Heights out of the face; NaN = not measured. Row 0 is the top.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.
    aperture : Aperture or None
        Circle to look at; None takes the one that the measured pixels fill.
    percentiles : tuple of two floats [%]
        Lower and upper percentile of the robust peak to valley.

    Returns
    -------
    ShapeResult

    Raises
    ------
    ShapeNotDetermined
        Fewer than three measured pixels inside the aperture, or all on one line.

    Notes
    -----
    Least squares over the measured pixels, each counting alike, of

    .. math:: z = c + a x + b y - P \rho^2 + A_1 (x^2 - y^2)/R^2 + A_2 \, 2xy/R^2

    with ρ the distance from the aperture's centre over its radius R. Power is P; astigmatism is 2 √(A₁² + A₂²).

    References
    ----------
    .. [1] ISO 12781-1:2011, reference plane (from memory). Key ``iso12781_1``.

    Examples
    --------
    >>> x, y = grid_axes((101, 101), pixel_size=(1e-3, 1e-3))
    >>> square = (x / 0.05) ** 2 + (y[:, None] / 0.05) ** 2
    >>> dome = np.where(square <= 1.0, -1e-6 * square, np.nan)
    >>> found = measured_shape(dome, pixel_size=(1e-3, 1e-3), aperture=Aperture(radius=0.05))
    >>> round(found.power * 1e6, 6), round(found.pv * 1e6, 6)
    (1.0, 1.0)
    """
    circle = aperture or fitted_aperture(np.isfinite(height), pixel_size=pixel_size)
    x, y = scaled_axes(height.shape, pixel_size=pixel_size, aperture=circle)
    inside = np.where(x[None, :] ** 2 + y[:, None] ** 2 <= 1.0 + 1e-9, height, np.nan)
    known = np.isfinite(inside)
    plane = _fitted(inside, known, x, y, terms=3)
    if plane is None:
        raise ShapeNotDetermined(
            f"{int(known.sum())} measured pixels lie inside the aperture; a plane needs three that are not on one "
            "line. Measure more of the face, or mend the aperture."
        )
    levelled = inside - _surface(plane, x, y)
    heights = levelled[known]
    lower, upper = np.percentile(heights, percentiles)
    slope = math.hypot(plane[1], plane[2])
    full = _fitted(inside, known, x, y, terms=6)
    residual = None if full is None else inside - _surface(full, x, y)
    left = None if residual is None else residual[known]
    return ShapeResult(
        aperture=circle,
        n_pixels=int(known.sum()),
        tilt=2.0 * slope,
        tilt_azimuth=math.atan2(plane[2], plane[1]) if slope > 0.0 else None,
        pv=float(np.ptp(heights)),
        rms=_rms(heights),
        robust_pv=float(upper - lower),
        percentiles=percentiles,
        power=None if full is None else float(-full[3]),
        astigmatism=None if full is None else 2.0 * math.hypot(full[4], full[5]),
        astigmatism_azimuth=None if full is None else _axis(full[4], full[5]),
        residual_pv=None if left is None else float(np.ptp(left)),
        residual_rms=None if left is None else _rms(left),
        levelled=levelled,
        residual=residual,
    )


def scaled_axes(shape: tuple[int, ...], *, pixel_size: tuple[float, float], aperture: Aperture) -> tuple[Array, Array]:
    """Places of columns and rows from the aperture's centre, in units of its radius.

    Parameters
    ----------
    shape : tuple of two int
        Rows and columns.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.
    aperture : Aperture
        Centre and radius.

    Returns
    -------
    tuple of two float arrays, shapes (nx,) and (ny,) [1]

    Examples
    --------
    >>> x, y = scaled_axes((3, 3), pixel_size=(1.0, 1.0), aperture=Aperture(radius=2.0))
    >>> x.tolist()
    [-0.5, 0.0, 0.5]
    """
    x, y = grid_axes(shape, pixel_size=pixel_size)
    return (x - aperture.x) / aperture.radius, (y - aperture.y) / aperture.radius


# ----------------------------------------------------------------------------------------------------------------------


def _fitted(height: Array, known: NDArray[np.bool_], x: Array, y: Array, *, terms: int) -> Array | None:
    """Coefficients of 1, x, y, x² + y², x² − y², 2xy from moments of the pixels; None if not carried."""
    degree = 1 if terms == 3 else 2
    count = int(known.sum())
    if count < terms:
        return None
    powers_x, powers_y = (np.vander(axis, 2 * degree + 1, increasing=True).T for axis in (x, y))
    level = float(height[known].mean())
    moments = powers_y @ known.astype(np.float64) @ powers_x.T
    heights = powers_y[: degree + 1] @ np.where(known, height - level, 0.0) @ powers_x[: degree + 1].T
    exponents = [(0, 0), (0, 1), (1, 0), (0, 2), (2, 0), (1, 1)][: 3 if degree == 1 else 6]  # of y, of x
    gram = np.array([[moments[k + p, m + q] for p, q in exponents] for k, m in exponents]) / count
    right = np.array([heights[k, m] for k, m in exponents]) / count
    if not np.linalg.cond(gram) < _LARGEST_CONDITION:
        return None
    found = np.linalg.solve(gram, right)
    found[0] += level
    if degree == 1:
        return np.asarray(found)
    constant, along_x, along_y, xx, yy, xy = found
    return np.array([constant, along_x, along_y, 0.5 * (xx + yy), 0.5 * (xx - yy), 0.5 * xy])


def _surface(coefficients: Array, x: Array, y: Array) -> Array:
    column = y[:, None]
    surface = coefficients[0] + coefficients[1] * x + coefficients[2] * column
    if coefficients.size > 3:
        bent, saddle, twist = coefficients[3:]
        surface = surface + (bent + saddle) * x**2 + (bent - saddle) * column**2 + 2.0 * twist * x * column
    return np.asarray(surface)


def _axis(saddle: float, twist: float) -> float | None:
    if saddle == 0.0 and twist == 0.0:
        return None
    return 0.5 * math.atan2(twist, saddle) % math.pi


def _rms(values: Array) -> float:
    return math.sqrt(float(np.mean((values - values.mean()) ** 2)))
