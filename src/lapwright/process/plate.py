"""Shape of a lapping plate: from what is read on it or on what was lapped on it, and what a wafer takes from it.

One number stands for the shape: the dome, centre over rim of the best parabola over the plate's whole radius, domed
positive, dished negative. A straight bar across the plate, a bridge of three points, a test block or a lapped wafer
all tell it. What lies on the plate takes the opposite form, smaller by the square of the diameters. Holds for a plate
that is one cap about its axis; a land that is a bulge of its own (a torus) gives a turning wafer half as much.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lapwright.errors import OutOfValidRange, ShapeMismatch, TooFewSites
from lapwright.process.sensible import need_positive

Floats = NDArray[np.float64]
PlateForm = Literal["cap", "torus"]

COPY_DOUBT = 0.3  # of the sagitta a wafer takes, once it has lapped to full pattern (own judgement; see formulas)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateShape:
    """Shape of a plate as found at one time. SI.

    `dome` with its standard uncertainty; `residual` [m] is the rms of what the parabola leaves, None when a single
    number was read; `readings` how many went in.
    """

    dome: float
    dome_uncertainty: float
    residual: float | None
    readings: int


def straightedge_shape(
    bar_places: ArrayLike, heights: ArrayLike, layings: ArrayLike, *, plate_radius: float, reading_uncertainty: float
) -> PlateShape:
    r"""Shape of a plate from dial readings along a straight bar laid across it.

    Parameters
    ----------
    bar_places : float array, shape (n,) [m]
        Where each reading was taken along the bar, from the plate's axis, one side negative.
    heights : float array, shape (n,) [m]
        What the dial said, a higher plate positive. The bar may stand at any height and tilt.
    layings : int array, shape (n,)
        Which laying of the bar each reading belongs to.
    plate_radius : float [m]
        Outer radius of the land, more than zero.
    reading_uncertainty : float [m]
        Standard uncertainty of one reading: bar and dial together. More than zero.

    Returns
    -------
    PlateShape

    Raises
    ------
    ShapeMismatch
        The arrays differ in shape.
    TooFewSites
        Fewer readings than it takes: each laying needs two, all of them together one more.
    OutOfValidRange
        A radius or uncertainty that is not above zero, a place beside the plate, or places that cannot tell a dome
        from a tilt.

    Notes
    -----
    .. math:: h = a_l + b_l x - S (x/R)^2

    least squares, with level and tilt of their own for each laying. A laying on both sides of the axis tells most. The
    uncertainty is that of the readings carried through; what the parabola leaves, such as a trough, is told beside it.
    Read at the same places every time: with a trough the parabola hangs on them.

    Examples
    --------
    >>> x = np.array([-0.14, -0.07, 0.0, 0.07, 0.14])
    >>> found = straightedge_shape(x, -5e-6 * (x / 0.15) ** 2, [0] * 5, plate_radius=0.15, reading_uncertainty=5e-7)
    >>> round(found.dome * 1e6, 6), round(found.dome_uncertainty * 1e6, 2)
    (5.0, 0.61)
    """
    x, h = np.asarray(bar_places, dtype=np.float64), np.asarray(heights, dtype=np.float64)
    line = np.asarray(layings)
    if not x.shape == h.shape == line.shape:
        raise ShapeMismatch(bar_places=x.shape, heights=h.shape, layings=line.shape)
    need_positive(plate_radius=plate_radius, reading_uncertainty=reading_uncertainty)
    if np.any(np.abs(x) > plate_radius):
        raise OutOfValidRange("bar_places", float(x[np.argmax(np.abs(x))]), f"within the plate, {plate_radius:g} m")
    known = np.isfinite(h)
    x, h, line = x[known], h[known], line[known]
    each = np.unique(line)
    columns = [column for one in each for column in ((line == one) * 1.0, (line == one) * x / plate_radius)]
    needed = 2 * max(len(each), 1) + 1
    if len(x) < needed:
        raise TooFewSites("The shape of a plate along a bar", measured=len(x), needed=needed)
    design = np.column_stack([-((x / plate_radius) ** 2), *columns])
    return _fitted(design, h, reading_uncertainty)


def map_shape(
    x: ArrayLike, y: ArrayLike, heights: ArrayLike, *, plate_radius: float, reading_uncertainty: float
) -> PlateShape:
    """Shape of a plate from heights anywhere on it, level and tilt taken out.

    Parameters
    ----------
    x : float array, shape (n,) [m]
        Places from the plate's axis.
    y : float array, shape (n,) [m]
        The same across.
    heights : float array, shape (n,) [m]
        Heights there; NaN where not measured.
    plate_radius : float [m]
        Outer radius of the land, more than zero.
    reading_uncertainty : float [m]
        Standard uncertainty of one height, more than zero.

    Returns
    -------
    PlateShape

    Raises
    ------
    ShapeMismatch
        The arrays differ in shape.
    TooFewSites
        Fewer than four heights.
    OutOfValidRange
        A value that is not above zero, or places that cannot tell a dome from a tilt.

    Examples
    --------
    >>> angle = np.arange(6) * np.pi / 3
    >>> x, y = np.append(0.14 * np.cos(angle), 0.05), np.append(0.14 * np.sin(angle), 0.0)
    >>> found = map_shape(x, y, 3e-6 * (x**2 + y**2) / 0.15**2, plate_radius=0.15, reading_uncertainty=1e-6)
    >>> round(found.dome * 1e6, 6)
    -3.0
    """
    px, py, h = (np.asarray(values, dtype=np.float64) for values in (x, y, heights))
    if not px.shape == py.shape == h.shape:
        raise ShapeMismatch(x=px.shape, y=py.shape, heights=h.shape)
    need_positive(plate_radius=plate_radius, reading_uncertainty=reading_uncertainty)
    known = np.isfinite(h)
    px, py, h = px[known] / plate_radius, py[known] / plate_radius, h[known]
    if len(h) < 4:
        raise TooFewSites("The shape of a plate from a map", measured=len(h), needed=4)
    return _fitted(np.column_stack([-(px**2 + py**2), np.ones_like(px), px, py]), h, reading_uncertainty)


def bridge_shape(sagitta: float, span: float, *, plate_radius: float, reading_uncertainty: float) -> PlateShape:
    r"""Shape of a plate from a bridge: a dial midway between two feet, zeroed on a flat.

    Parameters
    ----------
    sagitta : float [m]
        What the dial says on the plate, a domed plate positive.
    span : float [m]
        From foot to foot, more than zero and at most the plate's diameter.
    plate_radius : float [m]
        Outer radius of the land, more than zero.
    reading_uncertainty : float [m]
        Standard uncertainty of the reading and of its zero together, more than zero.

    Returns
    -------
    PlateShape

    Raises
    ------
    OutOfValidRange
        A measure that is not what it says.

    Notes
    -----
    .. math:: S = s\,(2R/g)^2

    A short bridge multiplies its own error by the same factor.

    Examples
    --------
    >>> found = bridge_shape(1e-6, 0.1, plate_radius=0.15, reading_uncertainty=2e-7)
    >>> round(found.dome * 1e6, 6), round(found.dome_uncertainty * 1e6, 6)
    (9.0, 1.8)
    """
    need_positive(span=span, plate_radius=plate_radius, reading_uncertainty=reading_uncertainty)
    if span > 2.0 * plate_radius:
        raise OutOfValidRange("span", span, f"at most the plate's diameter, {2.0 * plate_radius:g} m")
    factor = (2.0 * plate_radius / span) ** 2
    return PlateShape(dome=sagitta * factor, dome_uncertainty=reading_uncertainty * factor, residual=None, readings=1)


def shape_from_lapped(
    sagitta: float, diameter: float, *, plate_radius: float, sagitta_uncertainty: float, plate_form: PlateForm = "cap",
    copy_doubt: float = COPY_DOUBT,
) -> PlateShape:  # fmt: skip
    r"""Shape of a plate from a wafer or test block that was lapped on it to full pattern.

    Parameters
    ----------
    sagitta : float [m]
        Of the lapped face over the whole diameter, domed positive.
    diameter : float [m]
        Of wafer or block, more than zero.
    plate_radius : float [m]
        Outer radius of the land, more than zero.
    sagitta_uncertainty : float [m]
        Standard uncertainty of the sagitta, more than zero.
    plate_form : 'cap' or 'torus'
        Whether the plate is one cap about its axis, or the land a bulge of its own.
    copy_doubt : float [1]
        Standard uncertainty of how much of the plate's form is copied, as a share of it.

    Returns
    -------
    PlateShape
        Of the opposite sign: a dished wafer comes from a domed plate. For a torus the dome is that of the land over
        the whole radius.

    Raises
    ------
    OutOfValidRange
        A measure that is not what it says.

    Notes
    -----
    .. math:: S = -s\,(2R/D)^2, \quad \text{torus } -2s\,(2R/D)^2

    References
    ----------
    .. [1] Workshop rule: the test block shows the plate's inverse and must be worn to full pattern (common practice,
       no source).

    Examples
    --------
    >>> found = shape_from_lapped(-1.111e-6, 0.1, plate_radius=0.15, sagitta_uncertainty=5e-8)
    >>> round(found.dome * 1e6, 2)
    10.0
    """
    need_positive(diameter=diameter, plate_radius=plate_radius, sagitta_uncertainty=sagitta_uncertainty)
    if not copy_doubt >= 0.0:
        raise OutOfValidRange("copy_doubt", copy_doubt, "zero or more")
    factor = -(2.0 if plate_form == "torus" else 1.0) * (2.0 * plate_radius / diameter) ** 2
    doubt = float(np.hypot(sagitta_uncertainty, copy_doubt * sagitta)) * abs(factor)
    return PlateShape(dome=sagitta * factor, dome_uncertainty=doubt, residual=None, readings=1)


def wafer_sagitta(dome: float, diameter: float, *, plate_radius: float, plate_form: PlateForm = "cap") -> float:
    r"""Sagitta that a wafer takes from a plate when it has lapped to full pattern.

    Parameters
    ----------
    dome : float [m]
        Of the plate over its whole radius, domed positive.
    diameter : float [m]
        Of the wafer, more than zero.
    plate_radius : float [m]
        Outer radius of the land, more than zero.
    plate_form : 'cap' or 'torus'
        Whether the plate is one cap about its axis, or the land a bulge of its own.

    Returns
    -------
    float [m]
        Domed positive: the opposite of the plate. On a flat carrier it counts in full in TTV.

    Raises
    ------
    OutOfValidRange
        A measure that is not above zero.

    Notes
    -----
    .. math:: s = -S\,(D/2R)^2, \quad \text{torus } -\tfrac{1}{2} S\,(D/2R)^2

    Trust it to 30 % for diameters below 0.7 of the land's width.

    Examples
    --------
    >>> round(wafer_sagitta(10e-6, 0.1, plate_radius=0.15) * 1e6, 3)
    -1.111
    """
    need_positive(diameter=diameter, plate_radius=plate_radius)
    return -dome * (diameter / (2.0 * plate_radius)) ** 2 * (0.5 if plate_form == "torus" else 1.0)


def dome_limit(flatness: float, diameter: float, *, plate_radius: float, share: float = 0.5) -> float:
    """How domed or dished a plate may be for the flatness (or TTV) that an order asks for.

    Parameters
    ----------
    flatness : float [m]
        Largest form allowed on the wafer, more than zero.
    diameter : float [m]
        Of the wafer, more than zero.
    plate_radius : float [m]
        Outer radius of the land, more than zero.
    share : float, 0 < share <= 1 [1]
        Part of that limit which the plate may take.

    Returns
    -------
    float [m]
        Largest dome over the whole radius, of either sign.

    Raises
    ------
    OutOfValidRange
        A measure that is not what it says.

    Examples
    --------
    >>> round(dome_limit(2e-6, 0.0508, plate_radius=0.15) * 1e6, 1)
    34.9
    """
    need_positive(flatness=flatness, diameter=diameter, plate_radius=plate_radius, share=share)
    if share > 1.0:
        raise OutOfValidRange("share", share, "more than zero, at most one")
    return share * flatness * (2.0 * plate_radius / diameter) ** 2


# ----------------------------------------------------------------------------------------------------------------------


def _fitted(design: Floats, heights: Floats, reading_uncertainty: float) -> PlateShape:
    solved = _solved(np.ascontiguousarray(design).tobytes(), design.shape[1])
    if solved is None:
        raise OutOfValidRange(
            "bar_places",
            float(len(heights)),
            "at least three different distances, so that dome and tilt can be told apart",
        )
    inverse, solving = solved
    found = solving @ heights
    left = heights - design @ found
    return PlateShape(
        dome=float(found[0]),
        dome_uncertainty=reading_uncertainty * float(np.sqrt(inverse[0, 0])),
        residual=float(np.sqrt(np.mean(left**2))),
        readings=len(heights),
    )


@lru_cache(maxsize=256)  # a bar is laid on the same places, check after check
def _solved(design: bytes, columns: int) -> tuple[Floats, Floats] | None:
    """Inverse of the normal matrix of a design, and the matrix that solves it; None where something is left open."""
    matrix = np.frombuffer(design, dtype=np.float64).reshape(-1, columns)
    if np.linalg.matrix_rank(matrix, tol=1e-6) < columns:
        return None
    inverse = np.asarray(np.linalg.inv(matrix.T @ matrix), dtype=np.float64)
    return inverse, inverse @ matrix.T
