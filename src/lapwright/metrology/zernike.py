"""Zernike polynomials in Noll's order, orthonormal on the disc, and their least-squares fit to a map.

On a whole disc the coefficients do not depend on how many terms are fitted; on a masked or ring-shaped face they do,
and how well the measured pixels carry the terms is checked and told.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange, ShapeNotDetermined
from lapwright.metrology.shape import scaled_axes
from lapwright.metrology.shape_grid import Aperture, fitted_aperture

Array = NDArray[np.float64]

LARGEST_TERM = 231  # all of degree 20: beyond it the radial sums lose digits
_LEAST_SHARE = 1e-4  # smallest eigenvalue of the mean products of the terms: beyond it noise is raised a hundredfold
_CHUNK = 65_536


@dataclass(frozen=True, slots=True, kw_only=True)
class ZernikeFit:
    """A least-squares fit of Zernike terms.

    Attributes
    ----------
    coefficients : float array, shape (terms,) [m]
        Noll order from j = 1; the rms of a term over a whole disc is the size of its coefficient.
    fitted_rms : float [m]
        Root of the squared coefficients from j = 2 on.
    residual_rms : float [m]
        What the terms leave, over the measured pixels.
    condition : float [1]
        Condition number of the terms on the measured pixels; 1 on a whole disc.
    noise_gain : float [1]
        How many times more noise the worst-carried combination takes than on a whole disc.
    n_pixels : int
        Measured pixels inside the aperture.
    aperture : Aperture
        The disc.
    """

    coefficients: Array
    fitted_rms: float
    residual_rms: float
    condition: float
    noise_gain: float
    n_pixels: int
    aperture: Aperture

    def __post_init__(self) -> None:
        self.coefficients.setflags(write=False)


def noll_indices(term: int) -> tuple[int, int]:
    """Radial degree n and azimuthal frequency m of a term; m above nought is a cosine, below nought a sine.

    Parameters
    ----------
    term : int
        Noll's j, from 1.

    Returns
    -------
    tuple of two int

    Raises
    ------
    OutOfValidRange
        `term` is not from 1 to 231.

    References
    ----------
    .. [1] R. J. Noll, J. Opt. Soc. Am. 66 (1976) 207-211, table I, doi:10.1364/JOSA.66.000207. Key ``noll1976``.

    Examples
    --------
    >>> [noll_indices(term) for term in (1, 4, 5, 6, 7, 11)]
    [(0, 0), (2, 0), (2, -2), (2, 2), (3, -1), (4, 0)]
    """
    if not 1 <= term <= LARGEST_TERM:
        raise OutOfValidRange("term", term, f"1 to {LARGEST_TERM}")
    degree = int((math.sqrt(8.0 * term - 7.0) - 1.0) / 2.0)
    place = term - degree * (degree + 1) // 2 - 1  # 0 to degree within the degree
    frequency = 2 * ((place + 1) // 2) if degree % 2 == 0 else 2 * (place // 2) + 1
    return degree, frequency if term % 2 == 0 else -frequency


def zernike_terms(x: Array, y: Array, *, terms: int) -> Array:
    r"""Values of the first Zernike polynomials at places in the unit disc.

    Parameters
    ----------
    x, y : float arrays, shape (n,) [1]
        Places, in units of the disc's radius.
    terms : int
        How many, from j = 1.

    Returns
    -------
    float array, shape (terms, n) [1]

    Raises
    ------
    OutOfValidRange
        `terms` is not from 1 to 231.

    Notes
    -----
    .. math:: Z_j = \sqrt{2(n+1)} \, R_n^m(r) \cos m\theta \text{ or } \sin m\theta, \quad Z_j = \sqrt{n+1} \, R_n^0(r)

    with r^m cos mθ and r^m sin mθ taken as parts of (x + iy)^m.

    References
    ----------
    .. [1] R. J. Noll, J. Opt. Soc. Am. 66 (1976) 207-211, eqs. 1 to 3. Key ``noll1976``.

    Examples
    --------
    >>> zernike_terms(np.array([1.0]), np.array([0.0]), terms=4)[:, 0].round(6).tolist()
    [1.0, 2.0, 0.0, 1.732051]
    """
    noll_indices(terms)
    indices = [noll_indices(term) for term in range(1, terms + 1)]
    place = x + 1j * y
    square = x * x + y * y
    turned = [np.ones_like(place)]
    for _ in range(max(abs(m) for _, m in indices)):
        turned.append(turned[-1] * place)
    values = np.empty((terms, x.size))
    for row, (degree, m) in enumerate(indices):
        norm = math.sqrt(degree + 1.0 if m == 0 else 2.0 * (degree + 1.0))
        part = turned[abs(m)].real if m >= 0 else turned[abs(m)].imag
        values[row] = norm * part * np.polynomial.polynomial.polyval(square, _radial(degree, abs(m)))
    return values


def zernike_fit(
    height: Array, *, pixel_size: tuple[float, float], terms: int = 22, aperture: Aperture | None = None
) -> ZernikeFit:
    """Least-squares fit of Zernike terms to the measured pixels of a map.

    Parameters
    ----------
    height : float array, shape (ny, nx) [m]
        Heights out of the face; NaN = not measured. Row 0 is the top.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.
    terms : int
        How many terms, from j = 1.
    aperture : Aperture or None
        The unit disc; None takes the circle that the measured pixels fill.

    Returns
    -------
    ZernikeFit

    Raises
    ------
    ShapeNotDetermined
        Too few measured pixels, or so placed that noise would be raised a hundredfold.
    OutOfValidRange
        `terms` is not from 1 to 231.

    Notes
    -----
    Pixels outside the disc are left out.

    References
    ----------
    .. [1] R. J. Noll, J. Opt. Soc. Am. 66 (1976) 207-211. Key ``noll1976``.

    Examples
    --------
    >>> from lapwright.metrology.shape_grid import grid_axes
    >>> x, y = grid_axes((201, 201), pixel_size=(0.01, 0.01))
    >>> square = x**2 + y[:, None] ** 2
    >>> defocus = np.where(square <= 1.0, np.sqrt(3.0) * (2.0 * square - 1.0), np.nan)
    >>> found = zernike_fit(defocus, pixel_size=(0.01, 0.01), terms=6, aperture=Aperture(radius=1.0))
    >>> [round(abs(float(value)), 6) for value in found.coefficients]
    [0.0, 0.0, 0.0, 1.0, 0.0, 0.0]
    """
    noll_indices(terms)
    circle = aperture or fitted_aperture(np.isfinite(height), pixel_size=pixel_size)
    x, y = scaled_axes(height.shape, pixel_size=pixel_size, aperture=circle)
    inside = np.isfinite(height) & (x[None, :] ** 2 + y[:, None] ** 2 <= 1.0 + 1e-9)
    rows, columns = np.nonzero(inside)
    z = height[inside]
    if z.size < terms:
        raise _not_carried(terms, z.size, math.inf)
    level = float(z.mean())
    gram, right = np.zeros((terms, terms)), np.zeros(terms)
    for start in range(0, z.size, _CHUNK):
        part = slice(start, start + _CHUNK)
        values = zernike_terms(x[columns[part]], y[rows[part]], terms=terms)
        gram += values @ values.T
        right += values @ (z[part] - level)
    sizes = np.linalg.eigvalsh(gram / z.size)
    if not sizes[0] > _LEAST_SHARE:
        raise _not_carried(terms, z.size, math.sqrt(1.0 / sizes[0]) if sizes[0] > 0.0 else math.inf)
    found = np.asarray(np.linalg.solve(gram, right), dtype=np.float64)
    found[0] += level
    return ZernikeFit(
        coefficients=found,
        fitted_rms=math.sqrt(float(np.sum(found[1:] ** 2))),
        residual_rms=_residual_rms(z, (x[columns], y[rows]), found),
        condition=math.sqrt(float(sizes[-1] / sizes[0])),
        noise_gain=math.sqrt(float(1.0 / sizes[0])),
        n_pixels=z.size,
        aperture=circle,
    )


def zernike_surface(
    coefficients: Array, *, shape: tuple[int, int], pixel_size: tuple[float, float], aperture: Aperture
) -> Array:
    """Map of a sum of Zernike terms; NaN outside the disc.

    Parameters
    ----------
    coefficients : float array, shape (terms,) [m]
        In Noll order from j = 1.
    shape : tuple of two int
        Rows and columns.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.
    aperture : Aperture
        The unit disc.

    Returns
    -------
    float array, shape (ny, nx) [m]

    Examples
    --------
    >>> tilt = np.array([0.0, 1.0])
    >>> zernike_surface(tilt, shape=(1, 3), pixel_size=(1.0, 1.0), aperture=Aperture(radius=1.0)).tolist()
    [[-2.0, 0.0, 2.0]]
    """
    x, y = scaled_axes(shape, pixel_size=pixel_size, aperture=aperture)
    inside = x[None, :] ** 2 + y[:, None] ** 2 <= 1.0 + 1e-9
    rows, columns = np.nonzero(inside)
    surface = np.full(shape, np.nan)
    surface[inside] = _summed((x[columns], y[rows]), coefficients)
    return surface


# ----------------------------------------------------------------------------------------------------------------------


def _radial(degree: int, m: int) -> Array:
    """Coefficients of R over r^m, by rising powers of r²."""
    half = (degree - m) // 2
    found = np.zeros(half + 1)
    for k in range(half + 1):
        above = (-1) ** k * math.factorial(degree - k)
        below = math.factorial(k) * math.factorial((degree + m) // 2 - k) * math.factorial(half - k)
        found[half - k] = above // below
    return found


def _summed(places: tuple[Array, Array], coefficients: Array) -> Array:
    x, y = places
    found = np.empty(x.size)
    for start in range(0, x.size, _CHUNK):
        part = slice(start, start + _CHUNK)
        found[part] = coefficients @ zernike_terms(x[part], y[part], terms=coefficients.size)
    return found


def _residual_rms(z: Array, places: tuple[Array, Array], coefficients: Array) -> float:
    left = z - _summed(places, coefficients)
    return math.sqrt(float(np.mean(left**2)))


def _not_carried(terms: int, count: int, gain: float) -> ShapeNotDetermined:
    return ShapeNotDetermined(
        f"{count} measured pixels carry {terms} Zernike terms only with the noise raised {gain:.3g} times (allowed "
        f"{math.sqrt(1.0 / _LEAST_SHARE):g}). Ask for fewer terms, or measure more of the aperture."
    )
