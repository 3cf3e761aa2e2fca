"""Least-squares polynomial surfaces through maps on an even grid: level, plane, quadric.

Terms are scaled to the map's size and made nearly independent by Legendre polynomials; missing pixels carry no weight.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import ShapeNotDetermined

Array = NDArray[np.float64]

_LARGEST_CONDITION = 1e6  # of the normal equations: beyond it the measured pixels do not carry the terms


def fitted_terms(height: Array, *, degree: int) -> Array:
    """Least-squares polynomial of a total degree through the measured pixels, at every pixel.

    Parameters
    ----------
    height : float array, shape (ny, nx) [m]
        Heights on an even grid; NaN = not measured.
    degree : int
        0 level, 1 plane, 2 quadric, and so on.

    Returns
    -------
    float array, shape (ny, nx) [m]

    Raises
    ------
    ShapeNotDetermined
        The measured pixels do not carry the terms.

    Examples
    --------
    >>> tilted = np.add.outer(1.0 * np.arange(6), 2.0 * np.arange(8))
    >>> bool(np.allclose(fitted_terms(tilted, degree=1), tilted))
    True
    """
    known = np.isfinite(height)
    terms_y, terms_x = (_along(count, degree) for count in height.shape)
    pairs = [(k, m) for k in range(degree + 1) for m in range(degree + 1 - k)]
    count = int(known.sum())
    if count < len(pairs):
        raise _not_carried(len(pairs), count)
    level = float(height[known].mean())
    filled = np.where(known, height - level, 0.0)
    right = np.array([terms_y[k] @ filled @ terms_x[m] for k, m in pairs])
    weights = known.astype(np.float64)
    gram = np.array(
        [[(terms_y[k] * terms_y[p]) @ weights @ (terms_x[m] * terms_x[q]) for p, q in pairs] for k, m in pairs]
    )
    if not np.linalg.cond(gram) < _LARGEST_CONDITION:
        raise _not_carried(len(pairs), count)
    found = np.linalg.solve(gram, right)
    table = np.zeros((degree + 1, degree + 1))
    for (k, m), value in zip(pairs, found, strict=True):
        table[k, m] = value
    return np.asarray(level + terms_y.T @ table @ terms_x)


# ----------------------------------------------------------------------------------------------------------------------


def _along(count: int, degree: int) -> Array:
    places = np.linspace(-1.0, 1.0, count) if count > 1 else np.zeros(1)
    return np.asarray(np.polynomial.legendre.legvander(places, degree).T)


def _not_carried(terms: int, count: int) -> ShapeNotDetermined:
    return ShapeNotDetermined(
        f"{count} measured pixels do not carry a surface of {terms} terms: too few, or all on one line. "
        "Measure more of the face."
    )
