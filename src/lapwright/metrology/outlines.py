"""What lies inside an outline, how far it reaches, how wide it is.

The outlines are those of the model: a disc with flat, notch or neither, a rectangle, a polygon; all in the wafer
frame, flat and notch at -y. An edge exclusion shrinks the outline by a distance measured at right angles to its edge,
flat and notch included.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lapwright.errors import OutOfValidRange
from lapwright.model.wafer import Outline, Polygon, Rectangle, Round

NOTCH_DEPTH = 1.0e-3  # m; SEMI M1: 1.00 mm, +0.25, -0.00 (from memory)
_SLACK = 1e-9  # share of the size within which a site on the very line counts as inside: unit conversion rounds


def is_inside(outline: Outline, x: ArrayLike, y: ArrayLike, *, edge_exclusion: float = 0.0) -> NDArray[np.bool_]:
    """Whether places lie on the outline less its edge exclusion, the limit itself included.

    Parameters
    ----------
    outline : Round, Rectangle or Polygon
        Lengths in m.
    x, y : float arrays of one shape [m]
        Places in the wafer frame.
    edge_exclusion : float [m]
        Zero or more.

    Returns
    -------
    bool array, shape of `x`
        False where a coordinate is not finite.

    Raises
    ------
    OutOfValidRange
        `edge_exclusion` is negative or not finite.

    Notes
    -----
    A notch is taken as a right-angled V with its tip 1 mm inside the rim.

    References
    ----------
    .. [1] SEMI M1, flat and notch dimensions (from memory). Key ``semi_m1``.

    Examples
    --------
    >>> is_inside(Round(diameter=0.1), [0.0, 0.049], [0.0, 0.0], edge_exclusion=0.002)
    array([ True, False])
    """
    if not (math.isfinite(edge_exclusion) and edge_exclusion >= 0.0):
        raise OutOfValidRange("edge_exclusion", edge_exclusion, "a finite length, zero or more")
    px, py = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(y, dtype=float))
    margin = edge_exclusion - _SLACK * furthest_reach(outline)
    if isinstance(outline, Round):
        inside = _inside_round(outline, px, py, margin)
    elif isinstance(outline, Rectangle):
        inside = (np.abs(px) <= outline.width / 2 - margin) & (np.abs(py) <= outline.height / 2 - margin)
    else:
        inside = _inside_polygon(outline, px, py, margin)
    return np.asarray(inside & np.isfinite(px) & np.isfinite(py))


def extent(outline: Outline, *, azimuth: float) -> float:
    """Full width of an outline along a direction; the full diameter of a round one whatever its flat.

    Parameters
    ----------
    outline : Round, Rectangle or Polygon
        Lengths in m.
    azimuth : float [rad]
        Direction, counter-clockwise from +x.

    Returns
    -------
    float [m]

    Examples
    --------
    >>> extent(Rectangle(width=0.03, height=0.02), azimuth=0.0)
    0.03
    """
    if isinstance(outline, Round):
        return outline.diameter
    along = math.cos(azimuth), math.sin(azimuth)
    if isinstance(outline, Rectangle):
        return abs(along[0]) * outline.width + abs(along[1]) * outline.height
    shadow = [along[0] * cx + along[1] * cy for cx, cy in outline.corners]
    return max(shadow) - min(shadow)


def furthest_reach(outline: Outline) -> float:
    """Distance from the centre to the furthest place of an outline: the radius of a round one.

    Parameters
    ----------
    outline : Round, Rectangle or Polygon
        Lengths in m.

    Returns
    -------
    float [m]

    Examples
    --------
    >>> furthest_reach(Round(diameter=0.1))
    0.05
    """
    if isinstance(outline, Round):
        return outline.diameter / 2
    if isinstance(outline, Rectangle):
        return math.hypot(outline.width, outline.height) / 2
    return max(math.hypot(cx, cy) for cx, cy in outline.corners)


def reach(outline: Outline, *, azimuth: float, edge_exclusion: float = 0.0) -> float:
    """How far one can go from the centre in a direction before leaving the outline less its edge exclusion.

    Parameters
    ----------
    outline : Round, Rectangle or Polygon
        Lengths in m; the centre is the origin.
    azimuth : float [rad]
        Direction, counter-clockwise from +x.
    edge_exclusion : float [m]
        Zero or more.

    Returns
    -------
    float [m]

    Raises
    ------
    OutOfValidRange
        The exclusion leaves nothing at the centre, or is negative.

    Examples
    --------
    >>> round(reach(Round(diameter=0.1), azimuth=0.0, edge_exclusion=0.003), 6)
    0.047
    """
    if not is_inside(outline, 0.0, 0.0, edge_exclusion=edge_exclusion):
        raise OutOfValidRange(
            "edge_exclusion",
            edge_exclusion,
            "less than the distance from the centre to the nearest edge [m]",
            "Nothing is left to measure: ask for a smaller exclusion, or check the outline and its units.",
        )
    strict = edge_exclusion + _SLACK * furthest_reach(outline)  # so that rounding does not bring the end outside
    steps = np.linspace(0.0, furthest_reach(outline), 257)
    along = math.cos(azimuth), math.sin(azimuth)
    good = is_inside(outline, steps * along[0], steps * along[1], edge_exclusion=strict)
    if not good[0]:
        return 0.0
    if bool(good.all()):
        return float(steps[-1])
    first_out = int(np.argmin(good))
    low, high = float(steps[first_out - 1]), float(steps[first_out])
    for _ in range(50):
        middle = 0.5 * (low + high)
        if is_inside(outline, middle * along[0], middle * along[1], edge_exclusion=strict):
            low = middle
        else:
            high = middle
    return low


# ----------------------------------------------------------------------------------------------------------------------


def _inside_round(outline: Round, x: NDArray[np.float64], y: NDArray[np.float64], margin: float) -> NDArray[np.bool_]:
    radius = outline.diameter / 2
    inside = np.hypot(x, y) <= radius - margin
    if outline.mark == "flat":
        inside &= y >= -math.sqrt(radius**2 - outline.flat_length**2 / 4) + margin
    elif outline.mark == "notch":
        tip = -radius + NOTCH_DEPTH
        corners = ((0.0, tip), (2 * NOTCH_DEPTH, tip - 2 * NOTCH_DEPTH), (-2 * NOTCH_DEPTH, tip - 2 * NOTCH_DEPTH))
        notch = Polygon(corners=corners)
        inside &= ~_within_corners(notch, x, y) & (_distance_to_edge(notch, x, y) >= margin)
    return inside


def _inside_polygon(
    outline: Polygon, x: NDArray[np.float64], y: NDArray[np.float64], margin: float
) -> NDArray[np.bool_]:
    distance = _distance_to_edge(outline, x, y)
    within = _within_corners(outline, x, y)
    return np.asarray(np.where(within, distance >= margin, distance <= -margin))


def _within_corners(outline: Polygon, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Even-odd rule: a ray to +x crosses the edge an odd number of times."""
    odd = np.zeros(x.shape, dtype=bool)
    for (ax, ay), (bx, by) in _edges(outline):
        if ay == by:
            continue
        crosses = (ay > y) != (by > y)
        odd ^= crosses & (x < ax + (y - ay) * (bx - ax) / (by - ay))
    return odd


def _distance_to_edge(outline: Polygon, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    nearest = np.full(x.shape, np.inf)
    for (ax, ay), (bx, by) in _edges(outline):
        length2 = (bx - ax) ** 2 + (by - ay) ** 2
        share = ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length2 if length2 > 0.0 else np.zeros(x.shape)
        share = np.clip(share, 0.0, 1.0)
        nearest = np.minimum(nearest, np.hypot(x - ax - share * (bx - ax), y - ay - share * (by - ay)))
    return nearest


def _edges(outline: Polygon) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    corners = outline.corners
    return [(corners[i], corners[(i + 1) % len(corners)]) for i in range(len(corners))]
