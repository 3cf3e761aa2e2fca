"""Several pieces on one carrier: which one the plate touches first, and what comes off until it touches all.

The jig may hold the carrier parallel to the plate as it lies, or be tilted first. Left out: a carrier that is pressed
flat, and edges rounded by the plate.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lapwright.process.piece_sites import MountedPiece, PieceSites, least_of


@dataclass(frozen=True, slots=True, kw_only=True)
class CommonWedge:
    """How the worked faces lie together: `slope_x`, `slope_y` [1], their wedge [m] across the reach, its azimuth [rad].

    `reach` [m] is the diameter of the circle about the carrier's middle that holds all sites. `determined` is false
    where the sites lie on one line: a slope across the line cannot be told, and counts as none.
    """

    slope_x: float
    slope_y: float
    amount: float
    azimuth: float | None
    reach: float
    determined: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Touch:
    """How far the plate has come down from the first touch of all when it touches one piece, and all of it [m]."""

    name: str
    first: float
    whole: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Levelling:
    """From first touch until all pieces are touched all over, the plate tilted by a slope against the carrier's back.

    `touches` are in the order of first touch; `until_each` [m] is what comes off until every piece touches somewhere,
    `until_all` [m] until every site is reached.
    """

    slope_x: float
    slope_y: float
    touches: tuple[Touch, ...]
    until_each: float
    until_all: float


def common_wedge(pieces: Sequence[MountedPiece]) -> CommonWedge:
    r"""The plane through the worked faces of all pieces, each piece counting once.

    Parameters
    ----------
    pieces : sequence of MountedPiece
        At least one.

    Returns
    -------
    CommonWedge

    Raises
    ------
    BadInput
        No piece, or two of one name.

    Notes
    -----
    Least squares with weights :math:`1/n_i`, :math:`n_i` the sites of piece i; through three pieces read once each the
    plane is exact: :math:`h(x, y) = a + b x + c y`. The wedge is :math:`\sqrt{b^2 + c^2}` times the reach.

    Examples
    --------
    >>> places = {"A": (0.02, 0.0), "B": (-0.01, 0.0173), "C": (-0.01, -0.0173)}
    >>> heights = {"A": 4e-3 + 2e-6, "B": 4e-3 - 1e-6, "C": 4e-3 - 1e-6}
    >>> found = common_wedge(
    ...     [
    ...         MountedPiece(name=n, x=(x,), y=(y,), stack=(heights[n],), thickness=(5e-4,))
    ...         for n, (x, y) in places.items()
    ...     ]
    ... )
    >>> round(found.amount * 1e6, 2), round(math.degrees(found.azimuth or 0.0))
    (4.0, 0)
    """
    sites = PieceSites(pieces)
    weight = np.sqrt(sites.weight)
    terms = np.column_stack((np.ones(sites.x.size), sites.along))
    height = sites.stack - sites.stack.mean()
    found = np.linalg.lstsq(terms * weight[:, np.newaxis], height * weight, rcond=None)[0]
    slope_x, slope_y = (float(one) for one in sites.axes @ found[1:])
    amount = math.hypot(slope_x, slope_y) * sites.reach
    return CommonWedge(
        slope_x=slope_x,
        slope_y=slope_y,
        amount=amount,
        azimuth=math.atan2(slope_y, slope_x) if amount > 0.0 else None,
        reach=sites.reach,
        determined=sites.axes.shape[1] == 2,
    )


def levelling(pieces: Sequence[MountedPiece], *, slope_x: float = 0.0, slope_y: float = 0.0) -> Levelling:
    r"""In which order the plate reaches the pieces, and what comes off until it touches all of all.

    Parameters
    ----------
    pieces : sequence of MountedPiece
        At least one.
    slope_x, slope_y : float [1]
        Of the plate against the carrier's back; zero for a jig that holds them parallel.

    Returns
    -------
    Levelling

    Raises
    ------
    BadInput
        No piece, or two of one name.

    Notes
    -----
    With :math:`g = h - b x - c y` a piece touches when the plane has come down by :math:`\max g - \max_i g`, and all
    over at :math:`\max g - \min_i g`.

    Examples
    --------
    >>> pieces = [
    ...     MountedPiece(name=n, x=(x,), y=(0.0,), stack=(h,), thickness=(5e-4,))
    ...     for n, x, h in (("A", -0.01, 4.002e-3), ("B", 0.01, 4.010e-3))
    ... ]
    >>> found = levelling(pieces)
    >>> [one.name for one in found.touches], round(found.until_all * 1e6, 3)
    (['B', 'A'], 8.0)
    """
    sites = PieceSites(pieces)
    height = sites.stack - slope_x * sites.x - slope_y * sites.y
    top = float(height.max())
    touches = [
        Touch(name=one.name, first=top - float(height[own].max()), whole=top - float(height[own].min()))
        for one, own in zip(pieces, sites.own, strict=True)
    ]
    return Levelling(
        slope_x=slope_x,
        slope_y=slope_y,
        touches=tuple(sorted(touches, key=lambda one: (one.first, one.whole, one.name))),
        until_each=max(one.first for one in touches),
        until_all=max(one.whole for one in touches),
    )


def best_levelling(pieces: Sequence[MountedPiece]) -> Levelling:
    r"""The tilt of the plate against the carrier's back at which the least comes off until all of all is touched.

    Parameters
    ----------
    pieces : sequence of MountedPiece
        At least one.

    Returns
    -------
    Levelling
        At the tilt found. No tilt across the line where all sites lie on one.

    Raises
    ------
    BadInput
        No piece, or two of one name.

    Notes
    -----
    The two parallel planes that hold all worked faces closest together; a linear programme:
    :math:`\min_{b,c}\,[\max(h - b x - c y) - \min(h - b x - c y)]`.

    Examples
    --------
    >>> pieces = [
    ...     MountedPiece(name=n, x=(x,), y=(0.0,), stack=(h,), thickness=(5e-4,))
    ...     for n, x, h in (("A", -0.01, 4.002e-3), ("B", 0.01, 4.010e-3))
    ... ]
    >>> found = best_levelling(pieces)
    >>> round(found.slope_x * 1e6), round(found.until_all * 1e6, 3)
    (400, 0.0)
    """
    sites = PieceSites(pieces)
    count = sites.along.shape[1]
    ones, none = np.ones((sites.x.size, 1)), np.zeros((sites.x.size, 1))
    terms = sites.along / sites.radius
    height = (sites.stack - sites.stack.mean()) / sites.unit
    found = least_of(
        np.array([0.0] * count + [-1.0, 1.0]),
        np.vstack((np.hstack((terms, ones, none)), np.hstack((-terms, none, -ones)))),
        np.concatenate((height, -height)),
    )
    slope_x, slope_y = sites.slopes(found[:count])
    return levelling(pieces, slope_x=slope_x, slope_y=slope_y)
