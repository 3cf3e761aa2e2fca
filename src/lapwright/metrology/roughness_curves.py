"""The material ratio curve of a profile or map and what is read off it: Rmr, height differences, the Rk family.

The curve gives, for each level, the share of the surface that lies at or above it. The same functions serve areal maps
(Sk, Spk, Svk), where every pixel counts alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange, TooManyMissing

Array = NDArray[np.float64]

_SECANT = 0.4  # of the material ratio: length of the flattest secant, ISO 13565-2:1996, 4.2


@dataclass(frozen=True, slots=True, kw_only=True)
class CoreHeights:
    """The Rk family: core height, reduced peak and valley heights [m], material ratios of the core's ends [1]."""

    rk: float
    rpk: float
    rvk: float
    mr1: float
    mr2: float


def material_ratio_curve(height: Array, *, points: int = 201) -> tuple[Array, Array]:
    """The material ratio curve at even steps of material ratio, for drawing.

    Parameters
    ----------
    height : float array, any shape [m]
        Heights above the mean line or plane; NaN = not measured.
    points : int
        Number of steps, ends included.

    Returns
    -------
    ratio : float array, shape (points,) [1]
        From 0 to 1.
    level : float array, shape (points,) [m]
        Falling: the level above which that share of the surface lies.

    Raises
    ------
    TooManyMissing
        No height is measured.

    Examples
    --------
    >>> ratio, level = material_ratio_curve(np.linspace(0.0, 1.0, 101), points=5)
    >>> level.tolist()
    [1.0, 0.75, 0.5, 0.25, 0.0]
    """
    z = _measured(height)
    ratio = np.linspace(0.0, 1.0, points)
    return ratio, np.asarray(np.quantile(z, 1.0 - ratio), dtype=np.float64)


def height_difference(height: Array, *, from_ratio: float, to_ratio: float) -> float:
    """Height between two material ratios (Rdc): how far one must go down for the share to grow from one to the other.

    Parameters
    ----------
    height : float array, any shape [m]
        Heights; NaN = not measured.
    from_ratio, to_ratio : float [1]
        Material ratios, 0 <= from_ratio < to_ratio <= 1.

    Returns
    -------
    float [m]

    Raises
    ------
    OutOfValidRange
        The ratios are not in order or outside 0 to 1.
    TooManyMissing
        No height is measured.

    References
    ----------
    .. [1] ISO 4287:1997, 4.5.3; ISO 21920-2:2021 (from memory).

    Examples
    --------
    >>> round(height_difference(np.linspace(0.0, 1.0, 101), from_ratio=0.2, to_ratio=0.8), 6)
    0.6
    """
    if not 0.0 <= from_ratio < to_ratio <= 1.0:
        raise OutOfValidRange("from_ratio", from_ratio, f"0 or more and less than to_ratio ({to_ratio:g}), at most 1")
    upper, lower = np.quantile(_measured(height), [1.0 - from_ratio, 1.0 - to_ratio])
    return float(upper - lower)


def material_ratio(height: Array, level: float) -> float:
    """Material ratio Rmr(c): share of the profile that lies at or above a level.

    Parameters
    ----------
    height : float array, any shape [m]
        Heights above the mean line; NaN = not measured.
    level : float [m]
        Level above the mean line.

    Returns
    -------
    float [1]

    Raises
    ------
    TooManyMissing
        No height is measured.

    Examples
    --------
    >>> material_ratio(np.array([0.0, 1.0, 2.0, 3.0]), 2.0)
    0.5
    """
    z = _measured(height)
    return float(np.count_nonzero(z >= level) / z.size)


def core_heights(height: Array) -> CoreHeights:
    """Core height Rk and the reduced peak and valley heights, from the material ratio curve.

    Parameters
    ----------
    height : float array, any shape [m]
        Heights; NaN = not measured.

    Returns
    -------
    CoreHeights

    Raises
    ------
    TooManyMissing
        No height is measured.

    Notes
    -----
    The flattest secant over 40 % of the material ratio fixes the part of the curve to which a straight line is fitted;
    its ends at 0 and 100 % bound the core. Triangles of the same areas as the curve beyond give Rpk and Rvk.

    References
    ----------
    .. [1] ISO 13565-2:1996, clause 4; ISO 21920-2:2021 (from memory).

    Examples
    --------
    >>> round(core_heights(np.linspace(0.0, 1.0, 1001)).rk, 2)
    1.0
    """
    curve = np.sort(_measured(height))[::-1]
    count = curve.size
    ratio = (np.arange(count) + 0.5) / count
    width = max(2, round(_SECANT * count))
    first = int(np.argmin(curve[: count - width + 1] - curve[width - 1 :]))
    part = slice(first, first + width)
    centred = ratio[part] - ratio[part].mean()
    slope = float(centred @ curve[part] / (centred @ centred))
    top = float(curve[part].mean() - slope * ratio[part].mean())
    bottom = top + slope
    mr1 = float(np.count_nonzero(curve > top) / count)
    mr2 = float(np.count_nonzero(curve >= bottom) / count)
    peaks = float(np.clip(curve - top, 0.0, None).mean())
    valleys = float(np.clip(bottom - curve, 0.0, None).mean())
    return CoreHeights(
        rk=top - bottom,
        rpk=2.0 * peaks / mr1 if mr1 > 0.0 else 0.0,
        rvk=2.0 * valleys / (1.0 - mr2) if mr2 < 1.0 else 0.0,
        mr1=mr1,
        mr2=mr2,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _measured(height: Array) -> Array:
    z = height[np.isfinite(height)]
    if not z.size:
        raise TooManyMissing("No height is measured; at least one is needed. Measure the surface again.")
    return z
