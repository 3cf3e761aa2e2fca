"""Bringing maps into one frame: mirrored when seen from the bonded face, turned when the piece was turned."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import ShapeMismatch
from lapwright.model.wafer import WORKED_FRAME, Frame, ThicknessMap


def transformed(sites: ThicknessMap, *, to: Frame = WORKED_FRAME) -> ThicknessMap:
    """The same map with its places given in another frame.

    Parameters
    ----------
    sites : ThicknessMap
        Lengths in m, in the frame it names.
    to : Frame
        The frame wanted; the wafer frame, looking at the worked face, unless told otherwise.

    Returns
    -------
    ThicknessMap
        Same thicknesses and labels, in the same order.

    Notes
    -----
    A frame says how its map goes into the wafer frame: a map seen from the bonded face is mirrored in x first, then
    turned counter-clockwise by `turn`, looking at the worked face. Going to another frame undoes that one's turn and
    mirror. A mirror undoes itself, so a flip made twice gives the map back.

    Examples
    --------
    >>> below = ThicknessMap(x=np.array([0.01]), y=np.array([0.02]), thickness=np.array([5e-4]),
    ...                      frame=Frame(seen_from="bonded"))
    >>> float(transformed(below).x[0]), float(transformed(below).y[0])
    (-0.01, 0.02)
    """
    if sites.frame == to:
        return sites
    x, y = sites.x, sites.y
    if sites.frame.seen_from == "bonded":
        x = -x
    x, y = _turned(x, y, sites.frame.turn - to.turn)
    if to.seen_from == "bonded":
        x = -x
    return ThicknessMap(x=x, y=y, thickness=sites.thickness, labels=sites.labels, frame=to)


def nearest_sites(sites: ThicknessMap, others: ThicknessMap) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """For each site of one map the nearest site of another, and how far away it is.

    Parameters
    ----------
    sites, others : ThicknessMap
        Two maps in one frame. Lengths in m.

    Returns
    -------
    index : int array, shape (n,) [1]
        Into the sites of `others`.
    distance : float array, shape (n,) [m]

    Raises
    ------
    ShapeMismatch
        `others` has no site.

    Examples
    --------
    >>> two = ThicknessMap(x=np.array([0.0, 0.01]), y=np.zeros(2), thickness=np.full(2, 5e-4))
    >>> one = ThicknessMap(x=np.array([0.009]), y=np.zeros(1), thickness=np.full(1, 5e-4))
    >>> index, distance = nearest_sites(one, two)
    >>> int(index[0]), round(float(distance[0]) * 1e3, 3)
    (1, 1.0)
    """
    if not len(others.x):
        raise ShapeMismatch(sites=sites.x.shape, others=others.x.shape)
    distance = np.hypot(sites.x[:, None] - others.x[None, :], sites.y[:, None] - others.y[None, :])
    index = np.argmin(distance, axis=1)
    return index, distance[np.arange(len(index)), index]


# ----------------------------------------------------------------------------------------------------------------------


def _turned(
    x: NDArray[np.float64], y: NDArray[np.float64], turn: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    cosine, sine = math.cos(turn), math.sin(turn)
    return cosine * x - sine * y, sine * x + cosine * y
