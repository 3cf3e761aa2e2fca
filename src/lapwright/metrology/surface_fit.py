"""Least squares surfaces through site means: plane, plane and dome, plane, dome and saddle.

Every coefficient is a fixed weighted sum of the site means; the weights are kept, so that an uncertainty of any kind
can be carried through exactly. Coordinates are scaled by the reach of the outline and centred before solving.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Surface = Literal["plane", "dome", "saddle"]

#: A coefficient that would carry the noise of one site more than so many times over is not determined by the sites
#: (one ring of sites for the dome, one line for the plane). Common practice, no source.
LARGEST_GAIN = 10.0
_TERMS: dict[Surface, int] = {"plane": 3, "dome": 4, "saddle": 6}
_MOST_KEPT = 200  # sites, of which what a fit makes of them is kept


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceFit:
    """A fitted surface on coordinates scaled by `reach`.

    `coefficients` [m], shape (p,): value at the centre, slope along x, slope along y, then x2 + y2, then x2 - y2 and
    2xy. `weights` [1], shape (p, n): coefficient = weights @ site means. `residuals` [m], `leverage` [1]: shape (n,).
    """

    surface: Surface
    reach: float
    coefficients: NDArray[np.float64]
    weights: NDArray[np.float64]
    residuals: NDArray[np.float64]
    leverage: NDArray[np.float64]

    @property
    def degrees_of_freedom(self) -> int:
        """Sites less fitted terms."""
        return len(self.residuals) - len(self.coefficients)

    @property
    def residual_rms(self) -> float | None:
        """Root of the squared residuals over their degrees of freedom [m]; None without any."""
        if self.degrees_of_freedom < 1:
            return None
        return float(np.sqrt(np.sum(self.residuals**2) / self.degrees_of_freedom))


@dataclass(frozen=True, slots=True, kw_only=True)
class SteepestSlope:
    """The slope of a plane along its steepest line: rise over the reach [m], azimuth of the high side [rad].

    `weights` [1], shape (n,): rise = weights @ site means, for that azimuth.
    """

    rise: float
    azimuth: float
    weights: NDArray[np.float64]


def steepest_slope(plane: SurfaceFit) -> SteepestSlope:
    r"""How much a plane rises over the reach of the outline, and towards where.

    Parameters
    ----------
    plane : SurfaceFit
        A fitted plane; a further term is left out of account.

    Returns
    -------
    SteepestSlope

    Notes
    -----
    .. math:: h = \sqrt{a^2 + b^2}, \quad \varphi = \operatorname{atan2}(b, a)

    The wedge over the full diameter is twice the rise.

    Examples
    --------
    >>> x, y = np.array([0.0, 0.04, 0.0, -0.04, 0.0]), np.array([0.0, 0.0, 0.04, 0.0, -0.04])
    >>> fit = fitted_surface(x, y, 5e-4 + 1e-4 * y, surface="plane", reach=0.05)
    >>> slope = steepest_slope(fit)
    >>> round(2 * slope.rise * 1e6, 6), round(float(np.degrees(slope.azimuth)), 6)
    (10.0, 90.0)
    """
    slope_x, slope_y = float(plane.coefficients[1]), float(plane.coefficients[2])
    azimuth = math.atan2(slope_y, slope_x)
    weights = math.cos(azimuth) * plane.weights[1] + math.sin(azimuth) * plane.weights[2]
    return SteepestSlope(rise=math.hypot(slope_x, slope_y), azimuth=azimuth, weights=weights)


def surface_terms(x: NDArray[np.float64], y: NDArray[np.float64], *, surface: Surface) -> NDArray[np.float64]:
    """Terms of a surface at places, one column per coefficient.

    Parameters
    ----------
    x, y : float arrays, shape (n,) [1]
        Places, scaled by the reach of the outline.
    surface : "plane", "dome" or "saddle"
        3, 4 or 6 terms.

    Returns
    -------
    float array, shape (n, p) [1]

    Examples
    --------
    >>> surface_terms(np.array([1.0]), np.array([0.5]), surface="dome").tolist()
    [[1.0, 1.0, 0.5, 1.25]]
    """
    columns = (np.ones_like(x), x, y, x**2 + y**2, x**2 - y**2, 2.0 * x * y)
    return np.column_stack(columns[: _TERMS[surface]])


def fitted_surface(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    thickness: NDArray[np.float64],
    *,
    surface: Surface,
    reach: float,
) -> SurfaceFit | None:
    """Least squares surface through site means, or None when the sites cannot carry it.

    Parameters
    ----------
    x, y : float arrays, shape (n,) [m]
        Sites in the wafer frame.
    thickness : float array, shape (n,) [m]
        Site means, no NaN.
    surface : "plane", "dome" or "saddle"
        Plane; plane and x2 + y2; the same with x2 - y2 and 2xy.
    reach : float [m]
        Radius of the outline, or its furthest corner.

    Returns
    -------
    SurfaceFit or None
        None when there are fewer sites than terms, or when the noise of a site would come out more than tenfold in a
        coefficient over the full radius: sites on one line carry no plane, sites on one ring no dome.

    Notes
    -----
    Every site counts alike, whatever the number of its repeats.

    Examples
    --------
    >>> x, y = np.array([0.0, 0.04, 0.0, -0.04, 0.0]), np.array([0.0, 0.0, 0.04, 0.0, -0.04])
    >>> fit = fitted_surface(x, y, 5e-4 + 1e-4 * x, surface="plane", reach=0.05)
    >>> round(float(fit.coefficients[1]) * 1e6, 6)
    5.0
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    is_kept = len(x) <= _MOST_KEPT
    basis = _kept_basis(x.tobytes(), y.tobytes(), surface, reach) if is_kept else _basis(x, y, surface, reach)
    if basis is None:
        return None
    terms, weights, leverage = basis
    mean = thickness.mean()
    coefficients = weights @ (thickness - mean)
    residuals = thickness - mean - terms @ coefficients
    coefficients[0] += mean
    return SurfaceFit(
        surface=surface,
        reach=reach,
        coefficients=coefficients,
        weights=weights,
        residuals=residuals,
        leverage=leverage,
    )


# ----------------------------------------------------------------------------------------------------------------------

_Basis = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]


@lru_cache(maxsize=128)
def _kept_basis(x: bytes, y: bytes, surface: Surface, reach: float) -> _Basis | None:
    """A laboratory reads the same sites day after day, and several surfaces are laid through each set of them."""
    basis = _basis(np.frombuffer(x), np.frombuffer(y), surface, reach)
    for one in basis or ():
        one.flags.writeable = False
    return basis


def _basis(x: NDArray[np.float64], y: NDArray[np.float64], surface: Surface, reach: float) -> _Basis | None:
    """Terms, weights and leverage, which hang on the sites alone; None where these do not carry the surface."""
    if len(x) < _TERMS[surface]:
        return None
    terms = surface_terms(x / reach, y / reach, surface=surface)
    # columns other than the constant are centred: the slopes then do not depend on a large common thickness
    middle = terms[:, 1:].mean(axis=0)
    left, sizes, right = np.linalg.svd(terms[:, 1:] - middle, full_matrices=False)
    if sizes[-1] * LARGEST_GAIN < 1.0:
        return None
    slopes = (right.T / sizes) @ left.T
    slopes -= slopes.mean(axis=1, keepdims=True)
    constant = np.full(len(x), 1.0 / len(x)) - middle @ slopes
    weights = np.vstack((constant, slopes))
    return terms, weights, np.clip(np.sum(terms * weights.T, axis=1), 0.0, 1.0)
