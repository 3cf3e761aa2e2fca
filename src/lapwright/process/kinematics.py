"""Sliding speed of a wafer that turns in its jig on a turning plate, in closed form.

Plate and jig turn about parallel axes a distance `offset` apart; both speeds are in the laboratory frame, the same
sense positive. Exact for rigid motion. The relative motion is at every instant a turn about one pole, so a speed is a
distance from that pole, and its means are the mean distances from a point to a circle and to a disc. Sweeps and the
integration over time are in `kinematics_sweep`, repeating paths in `kinematics_paths`, the plate in `plate_wear`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lapwright.errors import OutOfValidRange

_STEPS = 8  # of the arithmetic-geometric mean at most: doubles its digits each time, enough from 1e-16 up
_MET = 1e-9  # means this near to each other are one after the next step
_TERMS = 20  # of the series for edge speeds below half the centre's: the last term is below 1e-18
_TURN_POINTS = 720  # angles at which a wafer off the axis is averaged: agrees with 20 times as many to 1e-9

#: binom(1/2, n)^2 / (n + 1), the highest n first
_SERIES = tuple(math.prod((1.5 - k) / k for k in range(1, n + 1)) ** 2 / (n + 1.0) for n in reversed(range(_TERMS)))


LARGEST = 10.0  # m; far above any machine, so that a slip of the unit is told and no power overflows
FASTEST = 1e4  # rad/s, the same
SLOWEST = 1e-6  # rad/s; a plate that is slower stands, and the jig's speed has no ratio to it


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """How plate and jig turn: distance of their axes [m], speeds [rad/s] in the laboratory, one sense positive."""

    offset: float
    plate_speed: float
    jig_speed: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.offset <= LARGEST:
            raise OutOfValidRange("offset", self.offset, f"from zero to {LARGEST:g} [m]")
        for name, speed in (("plate_speed", self.plate_speed), ("jig_speed", self.jig_speed)):
            if not abs(speed) <= FASTEST:
                raise OutOfValidRange(name, speed, f"at most {FASTEST:g} either way [rad/s]")


def complete_elliptic_e(parameter: ArrayLike) -> NDArray[np.float64]:
    r"""Complete elliptic integral of the second kind, E(m).

    Parameters
    ----------
    parameter : float array [1]
        The parameter m = k squared, from 0 to 1.

    Returns
    -------
    float array, same shape [1]
        From pi/2 at m = 0 to 1 at m = 1.

    Raises
    ------
    OutOfValidRange
        A value outside [0, 1].

    Notes
    -----
    .. math:: E(m) = \int_0^{\pi/2} \sqrt{1 - m \sin^2 t} \, dt

    By the arithmetic-geometric mean: with a0 = 1, b0 = sqrt(1 - m), c0 = sqrt(m) and
    c_(n+1) = (a_n - b_n)/2, E = pi/(2 a) (1 - sum 2^(n-1) c_n^2).

    References
    ----------
    .. [1] M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, 1964, 17.6.3-17.6.4 (from memory).

    Examples
    --------
    >>> float(complete_elliptic_e(1.0))
    1.0
    """
    m = np.asarray(parameter, dtype=np.float64)
    if np.any(~((m >= 0.0) & (m <= 1.0))):
        raise OutOfValidRange("parameter", float(np.ravel(m)[0]), "from 0 to 1")
    a, b = np.ones_like(m), np.sqrt(1.0 - m)
    total, power = 0.5 * m, 0.5
    for _ in range(8):  # quadratic convergence; at m = 1 the limit is set below
        a, b, c = 0.5 * (a + b), np.sqrt(a * b), 0.5 * (a - b)
        power *= 2.0
        total = total + power * c**2
    return np.where(m == 1.0, 1.0, math.pi / (2.0 * a) * (1.0 - total))


def mean_relative_speed(radius: ArrayLike, motion: Motion) -> NDArray[np.float64]:
    r"""Mean sliding speed, over one turn of the jig, of a wafer point at a distance from the jig's axis.

    Parameters
    ----------
    radius : float array [m]
        Distance from the jig's axis, zero or more.
    motion : Motion
        Axes and speeds.

    Returns
    -------
    float array, same shape [m/s]

    Raises
    ------
    OutOfValidRange
        A negative radius.

    Notes
    -----
    .. math:: \langle v \rangle = \frac{2}{\pi}(a + b)\, E\!\left(\frac{4ab}{(a+b)^2}\right),
        \quad a = |\omega_p| e, \quad b = |\omega_p - \omega_j| r

    With equal speeds every point slides at the plate speed times the offset. The mean is over all angles: for a jig
    that does not turn it is not what one point of the wafer sees.

    Examples
    --------
    >>> turn = 2 * math.pi
    >>> float(mean_relative_speed(0.05, Motion(offset=0.09, plate_speed=turn, jig_speed=turn)).round(6))
    0.565487
    """
    r = np.asarray(radius, dtype=np.float64)
    if np.any(~(r >= 0.0)):
        raise OutOfValidRange("radius", float(np.min(r)), "zero or more [m]")
    return mean_over_turn(abs(motion.plate_speed) * motion.offset, abs(motion.plate_speed - motion.jig_speed) * r)


def mean_over_turn(axis_speed: ArrayLike, point_speed: ArrayLike) -> NDArray[np.float64]:
    r"""Mean length of the sum of two vectors of given lengths over all angles between them.

    Parameters
    ----------
    axis_speed : float array [m/s]
        Sliding speed of the jig's axis, zero or more.
    point_speed : float array, same shape or one that broadcasts [m/s]
        Speed of the point about that axis, as seen from the plate, zero or more.

    Returns
    -------
    float array [m/s]

    Notes
    -----
    .. math:: \langle v \rangle = (a + b)\,\frac{1 - \sum_n 2^{n-1} c_n^2}{\mathrm{agm}(1, k')},
        \quad k' = \frac{|a - b|}{a + b}

    k' is taken as it stands here, not from 1 - m, so that nothing cancels where both are nearly equal; and with one
    of them zero the other comes back unchanged, to the last bit.

    Examples
    --------
    >>> float(mean_over_turn(0.7, 0.0)), round(float(mean_over_turn(1.0, 1.0)), 6)
    (0.7, 1.27324)
    """
    a, b = np.broadcast_arrays(np.asarray(axis_speed, dtype=np.float64), np.asarray(point_speed, dtype=np.float64))
    total = np.asarray(a + b, dtype=np.float64)
    safe = np.where(total > 0.0, total, 1.0)
    left, right = np.ones_like(total), np.abs(a - b) / safe
    taken, power = 2.0 * (a / safe) * (b / safe), 0.5
    for _ in range(_STEPS):
        left, right, gap = 0.5 * (left + right), np.sqrt(left * right), 0.5 * (left - right)
        power *= 2.0
        taken = taken + power * gap**2
        if np.max(gap, initial=0.0) < _MET:
            break
    return np.asarray(np.where(a == b, 2.0 / math.pi * total, total * (1.0 - taken) / left))


def area_mean_speed(wafer_radius: float, motion: Motion, *, wafer_offset: float = 0.0) -> float:
    r"""Mean sliding speed over the whole face of a round wafer, on the jig's axis or beside it.

    Parameters
    ----------
    wafer_radius : float [m]
        More than zero.
    motion : Motion
        Axes and speeds.
    wafer_offset : float [m]
        Distance of the wafer's centre from the jig's axis, zero or more.

    Returns
    -------
    float [m/s]

    Raises
    ------
    OutOfValidRange
        `wafer_radius` is not above zero, or `wafer_offset` below it.

    Notes
    -----
    With a the speed of the wafer's centre and B that of its edge about it,

    .. math:: \bar v = \frac{4a}{9\pi u^2}\left[(1 + 7u^2)E(u^2) - (1 - u^2)(1 + 3u^2)K(u^2)\right],\quad u = B/a \le 1

    .. math:: \bar v = \frac{4B}{9\pi}\left[(7 + t^2)E(t^2) - 4(1 - t^2)K(t^2)\right],\quad t = a/B < 1

    the mean distance from a point to a disc; below u = 1/2, where the first form cancels, its series
    a sum of binom(1/2, n)^2 u^(2n)/(n + 1). Off the axis the centre's speed changes round the turn: the mean over 720
    angles is taken.

    Examples
    --------
    >>> area_mean_speed(0.05, Motion(offset=0.1, plate_speed=7.0, jig_speed=7.0)) == 7.0 * 0.1
    True
    """
    _needs_wafer(wafer_radius, wafer_offset)
    turning = abs(motion.plate_speed - motion.jig_speed)
    axis = abs(motion.plate_speed) * motion.offset
    if wafer_offset == 0.0:
        return float(mean_over_disc(axis, turning * wafer_radius))
    angle = (np.arange(_TURN_POINTS) + 0.5) * (2.0 * math.pi / _TURN_POINTS)
    side = turning * wafer_offset
    centre = np.sqrt(np.maximum(axis**2 + side**2 + 2.0 * axis * side * np.cos(angle), 0.0))
    return float(np.mean(mean_over_disc(centre, turning * wafer_radius)))


def mean_over_disc(axis_speed: ArrayLike, edge_speed: float) -> NDArray[np.float64]:
    """Mean sliding speed over a disc at one instant, from the speed of its centre and of its edge about the centre.

    Parameters
    ----------
    axis_speed : float array [m/s]
        Sliding speed of the disc's centre, zero or more.
    edge_speed : float [m/s]
        Speed of its edge about its centre, as seen from the plate, zero or more.

    Returns
    -------
    float array, shape of `axis_speed` [m/s]

    Notes
    -----
    Formulas as in `area_mean_speed`.

    Examples
    --------
    >>> float(mean_over_disc(0.7, 0.0)), round(float(mean_over_disc(0.0, 0.3)), 12)
    (0.7, 0.2)
    """
    a = np.atleast_1d(np.asarray(axis_speed, dtype=np.float64))
    mean = np.empty_like(a)
    far = a >= 2.0 * edge_speed
    if far.any():
        mean[far] = _far_from_the_pole(a[far], edge_speed)
    if not far.all():
        mean[~far] = _near_the_pole(a[~far], edge_speed)
    return mean.reshape(np.shape(axis_speed))


def speed_nonuniformity(wafer_radius: float, motion: Motion, *, wafer_offset: float = 0.0) -> float:
    """Spread of the mean sliding speed over a round wafer: largest less smallest, as a share of the area mean.

    Parameters
    ----------
    wafer_radius : float [m]
        More than zero.
    motion : Motion
        Axes and speeds.
    wafer_offset : float [m]
        Distance of the wafer's centre from the jig's axis, zero or more.

    Returns
    -------
    float [1]
        Zero for equal speeds. Upper limit of the uneven removal: a stiff plate takes most of it back.

    Raises
    ------
    OutOfValidRange
        `wafer_radius` is not above zero, `wafer_offset` below it, or nothing moves.

    Examples
    --------
    >>> turn = 2 * math.pi
    >>> round(speed_nonuniformity(0.05, Motion(offset=0.09, plate_speed=turn, jig_speed=0.5 * turn)), 4)
    0.0192
    """
    mean = area_mean_speed(wafer_radius, motion, wafer_offset=wafer_offset)
    if not mean > 0.0:
        raise OutOfValidRange("mean speed", mean, "more than zero [m/s]")
    nearest, farthest = max(0.0, wafer_offset - wafer_radius), wafer_offset + wafer_radius
    least, most = mean_relative_speed([nearest, farthest], motion)
    return float(most - least) / mean  # the mean speed rises with the radius


# ----------------------------------------------------------------------------------------------------------------------


def _needs_wafer(wafer_radius: float, wafer_offset: float) -> None:
    if not 0.0 < wafer_radius <= LARGEST:
        raise OutOfValidRange("wafer_radius", wafer_radius, f"more than zero, at most {LARGEST:g} [m]")
    if not 0.0 <= wafer_offset <= LARGEST:
        raise OutOfValidRange("wafer_offset", wafer_offset, f"from zero to {LARGEST:g} [m]")


def _far_from_the_pole(a: NDArray[np.float64], edge: float) -> NDArray[np.float64]:
    square = np.divide(edge, a, out=np.zeros_like(a), where=a > 0.0) ** 2
    total = np.zeros_like(a)
    for factor in _SERIES:
        total = total * square + factor
    return np.asarray(a * total)


def _near_the_pole(a: NDArray[np.float64], edge: float) -> NDArray[np.float64]:
    inside = a < edge
    m = np.where(inside, a / edge, edge / np.where(inside, 1.0, a)) ** 2
    e = complete_elliptic_e(m)
    rest = np.where(m < 1.0, (1.0 - m) * _complete_elliptic_k(np.where(m < 1.0, m, 0.0)), 0.0)
    within = edge * ((7.0 + m) * e - 4.0 * rest)
    beyond = a / np.where(inside, 1.0, m) * ((1.0 + 7.0 * m) * e - (1.0 + 3.0 * m) * rest)
    return np.asarray(4.0 / (9.0 * math.pi) * np.where(inside, within, beyond))


def _complete_elliptic_k(m: NDArray[np.float64]) -> NDArray[np.float64]:
    left, right = np.ones_like(m), np.sqrt(1.0 - m)
    for _ in range(_STEPS):
        left, right = 0.5 * (left + right), np.sqrt(left * right)
    return np.asarray(math.pi / (2.0 * left))
