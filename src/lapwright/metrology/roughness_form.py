"""Form of a profile: the least-squares level, line, polynomial or arc that is taken out before filtering.

What is called form is a choice: a lapped flat has a straight line, a plate with power an arc, a long trace over a
warped wafer a polynomial. Missing heights carry no weight.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import DidNotConverge, ShapeNotDetermined

Array = NDArray[np.float64]
FormKind = Literal["level", "line", "parabola", "cubic", "quartic", "arc"]

_DEGREE: dict[FormKind, int] = {"level": 0, "line": 1, "parabola": 2, "cubic": 3, "quartic": 4}
_ARC_STEPS = 50
_ARC_STEP = 1e-6  # of half the length, for the slopes of the search


def profile_form(height: Array, *, spacing: float, form: FormKind) -> Array:
    """Least-squares form of a profile.

    Parameters
    ----------
    height : float array, shape (n,) [m]
        Heights at even spacing; NaN = not measured.
    spacing : float [m]
        Distance between neighbours.
    form : "level", "line", "parabola", "cubic", "quartic" or "arc"
        What counts as form.

    Returns
    -------
    float array, shape (n,) [m]
        The form at every place, measured or not.

    Raises
    ------
    ShapeNotDetermined
        Fewer measured heights than the form has terms.
    DidNotConverge
        No arc fits.

    Notes
    -----
    Polynomials on Legendre terms over the length of the profile. The arc is that of a circle, by least squares of the
    heights, from the parabola on.

    Examples
    --------
    >>> x = np.linspace(-1e-3, 1e-3, 201)
    >>> ball = np.sqrt(0.01**2 - x**2)
    >>> bool(np.allclose(profile_form(ball, spacing=1e-5, form="arc"), ball, atol=1e-15))
    True
    """
    places = np.linspace(-1.0, 1.0, height.size)
    known = np.isfinite(height)
    degree = 2 if form == "arc" else _DEGREE[form]
    if int(known.sum()) < degree + 1:
        raise ShapeNotDetermined(
            f"{int(known.sum())} heights are measured; a {form} needs at least {degree + 1}. Measure a longer profile."
        )
    terms = np.polynomial.legendre.legvander(places, degree)
    middle = float(height[known].mean())
    found = np.asarray(np.linalg.lstsq(terms[known], height[known] - middle, rcond=None)[0], dtype=np.float64)
    if form == "arc":
        half = 0.5 * spacing * (height.size - 1)
        return middle + _arc(places * half, height - middle, known, start=found, half=half)
    return np.asarray(middle + terms @ found)


# ----------------------------------------------------------------------------------------------------------------------


def _arc(x: Array, height: Array, known: NDArray[np.bool_], *, start: Array, half: float) -> Array:
    """Gauss-Newton in level, sine of the slope and curvature at the middle, all as shares of half the length."""
    level, slope, bend = start / half
    found = np.array([level - 0.5 * bend, np.sin(np.arctan(slope)), 3.0 * bend])
    u, wanted = x / half, height / half
    for _ in range(_ARC_STEPS):
        steps = np.diag(np.full(3, _ARC_STEP))
        slopes = [(_circle(u, found + step) - _circle(u, found - step))[known] / (2.0 * _ARC_STEP) for step in steps]
        residual = (wanted - _circle(u, found))[known]
        if not np.isfinite(residual).all() or not all(np.isfinite(column).all() for column in slopes):
            break
        change = np.linalg.lstsq(np.column_stack(slopes), residual, rcond=None)[0]
        found = found + change
        if np.abs(change).max() <= 1e-15 + 1e-12 * np.abs(found).max():
            return np.asarray(half * _circle(u, found))
    search = "The arc through the profile"
    raise DidNotConverge(search, steps=_ARC_STEPS)


def _circle(u: Array, parameters: Array) -> Array:
    """Height of a circle; the sine of its slope is `sine` at u = 0 and grows by `curvature` a unit of u."""
    level, sine, curvature = parameters
    inner = 1.0 - (sine + curvature * u) ** 2
    cosines = np.sqrt(max(1.0 - sine**2, 0.0)) + np.sqrt(np.where(inner >= 0.0, inner, np.nan))
    return np.asarray(level + u * (2.0 * sine + curvature * u) / cosines)
