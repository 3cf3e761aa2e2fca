"""Sliding with a sweeping jig, and sliding distance by integration over time.

A sweep moves the jig's axis to and fro: along a straight line through the plate's axis, or on the arc of an arm. At
each instant the closed form over all angles of the jig holds with the speed the axis then has; the mean over one
period of the sweep is taken over even steps, which for a periodic course converges faster than any power. The other
way, `sliding_distance`, follows single points of the wafer through time step by step: it makes no assumption about
angles and shows what a short run, a jig that does not turn or a repeating ratio really does.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lapwright.errors import OutOfValidRange
from lapwright.process.kinematics import Motion, mean_over_disc, mean_over_turn

Floats = NDArray[np.float64]

_INSTANTS = 96  # of one period of a sweep: agrees with 20 times as many to 1e-12 for strokes within the plate


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweep:
    """How the jig's axis goes to and fro about its mean place: half stroke [m], period [s].

    With `arm_length` and `pivot_distance` [m] the axis travels on the arc of an arm whose pivot stands that far from
    the plate's axis, the half stroke measured along the arc; without them on a straight line through the plate's axis.
    """

    half_stroke: float
    period: float
    arm_length: float | None = None
    pivot_distance: float | None = None

    def __post_init__(self) -> None:
        if not self.half_stroke >= 0.0:
            raise OutOfValidRange("half_stroke", self.half_stroke, "zero or more [m]")
        if not self.period > 0.0:
            raise OutOfValidRange("period", self.period, "more than zero [s]")
        for name in ("arm_length", "pivot_distance"):
            value = getattr(self, name)
            if value is not None and not value > 0.0:
                raise OutOfValidRange(name, value, "more than zero [m]")
        if (self.arm_length is None) != (self.pivot_distance is None):
            raise OutOfValidRange("arm_length and pivot_distance", self.arm_length or 0.0, "both of them, or neither")


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisCourse:
    """Where the jig's axis stands and how fast it goes, in the laboratory: complex numbers, the plate's axis at zero.

    `axis_place` in m, `axis_velocity` in m/s, one entry for each instant.
    """

    axis_place: NDArray[np.complex128]
    axis_velocity: NDArray[np.complex128]


def axis_course(instants: ArrayLike, motion: Motion, sweep: Sweep | None = None) -> AxisCourse:
    r"""Place and speed of the jig's axis at given instants.

    Parameters
    ----------
    instants : float array [s]
        Times from the middle of the stroke, moving outward.
    motion : Motion
        Axes and speeds; `offset` is the mean place of the jig's axis.
    sweep : Sweep, optional
        None for a jig that stays.

    Returns
    -------
    AxisCourse

    Raises
    ------
    OutOfValidRange
        The arm does not reach the mean place.

    Notes
    -----
    Straight: :math:`e(t) = e_0 + A \sin(2\pi t/T)`. Arm of length L about a pivot at distance P: the arm turns by
    :math:`(A/L) \sin(2\pi t/T)` about the angle at which the axis stands e0 from the plate's axis.

    Examples
    --------
    >>> course = axis_course([0.0, 2.5], Motion(offset=0.1, plate_speed=7.0, jig_speed=7.0),
    ...                      Sweep(half_stroke=0.02, period=10.0))
    >>> course.axis_place.real.round(3).tolist()
    [0.1, 0.12]
    """
    t = np.asarray(instants, dtype=np.float64)
    if sweep is None or sweep.half_stroke == 0.0:
        return AxisCourse(
            axis_place=np.full(t.shape, motion.offset + 0.0j), axis_velocity=np.zeros(t.shape, dtype=np.complex128)
        )
    rate = 2.0 * math.pi / sweep.period
    shift, pace = sweep.half_stroke * np.sin(rate * t), sweep.half_stroke * rate * np.cos(rate * t)
    if sweep.arm_length is None or sweep.pivot_distance is None:
        return AxisCourse(
            axis_place=(motion.offset + shift).astype(np.complex128), axis_velocity=pace.astype(np.complex128)
        )
    length, far, near = sweep.arm_length, sweep.pivot_distance, motion.offset
    cosine = (far**2 + length**2 - near**2) / (2.0 * far * length)
    if not -1.0 <= cosine <= 1.0:
        raise OutOfValidRange("pivot_distance", far, f"one from which an arm of {length:g} m reaches {near:g} m")
    start = math.pi - math.acos(cosine)  # at this angle of the arm the axis stands `near` from the plate's axis
    middle = far + cmath.rect(length, start)
    ahead = middle.conjugate() / abs(middle) if abs(middle) > 0.0 else 1.0 + 0.0j  # turns the mean place onto +x
    arm = np.asarray(length * np.exp(1.0j * (start - shift / length)), dtype=np.complex128)  # less leads outward
    place = np.asarray((far + arm) * ahead, dtype=np.complex128)
    velocity = np.asarray(-1.0j * arm * pace / length * ahead, dtype=np.complex128)
    return AxisCourse(axis_place=place, axis_velocity=velocity)


def swept_mean_speed(radius: ArrayLike, motion: Motion, sweep: Sweep) -> Floats:
    r"""Mean sliding speed of a wafer point over all angles of the jig and one period of the sweep.

    Parameters
    ----------
    radius : float array [m]
        Distance from the jig's axis, zero or more.
    motion : Motion
        Axes and speeds.
    sweep : Sweep
        How the axis goes to and fro.

    Returns
    -------
    float array, same shape [m/s]

    Raises
    ------
    OutOfValidRange
        A negative radius, or an arm that does not reach.

    Notes
    -----
    The axis slides at :math:`a(t) = |\dot C - i\omega_p C|` with C its place; the angles are averaged in closed form.
    Assumes that sweep and jig keep no common beat; `sliding_distance` does not.

    Examples
    --------
    >>> speeds = swept_mean_speed([0.0, 0.05], Motion(offset=0.09, plate_speed=6.283, jig_speed=6.283),
    ...                           Sweep(half_stroke=0.02, period=10.0))
    >>> speeds.round(5).tolist()
    [0.56554, 0.56554]
    """
    r = np.asarray(radius, dtype=np.float64)
    if np.any(~(r >= 0.0)):
        raise OutOfValidRange("radius", float(np.min(r)), "zero or more [m]")
    about = abs(motion.plate_speed - motion.jig_speed) * r
    centre = _axis_speeds(motion, sweep)
    return np.asarray(np.mean(mean_over_turn(centre.reshape((-1,) + (1,) * r.ndim), about), axis=0), dtype=np.float64)


def swept_area_mean_speed(wafer_radius: float, motion: Motion, sweep: Sweep, *, wafer_offset: float = 0.0) -> float:
    """Mean sliding speed over the face of a round wafer and one period of the sweep.

    Parameters
    ----------
    wafer_radius : float [m]
        More than zero.
    motion : Motion
        Axes and speeds.
    sweep : Sweep
        How the axis goes to and fro.
    wafer_offset : float [m]
        Distance of the wafer's centre from the jig's axis, zero or more.

    Returns
    -------
    float [m/s]

    Raises
    ------
    OutOfValidRange
        `wafer_radius` is not above zero, `wafer_offset` below it, or an arm that does not reach.

    Examples
    --------
    >>> still = Sweep(half_stroke=0.0, period=10.0)
    >>> round(swept_area_mean_speed(0.05, Motion(offset=0.1, plate_speed=7.0, jig_speed=7.0), still), 12)
    0.7
    """
    if not wafer_radius > 0.0:
        raise OutOfValidRange("wafer_radius", wafer_radius, "more than zero [m]")
    if not wafer_offset >= 0.0:
        raise OutOfValidRange("wafer_offset", wafer_offset, "zero or more [m]")
    turning = abs(motion.plate_speed - motion.jig_speed)
    centre = _axis_speeds(motion, sweep)
    if wafer_offset > 0.0:
        side = turning * wafer_offset
        angle = (np.arange(_INSTANTS) + 0.5) * (2.0 * math.pi / _INSTANTS)
        between = 2.0 * side * centre[:, None] * np.cos(angle)
        centre = np.sqrt(np.maximum(centre[:, None] ** 2 + side**2 + between, 0.0))
    return float(np.mean(mean_over_disc(centre, turning * wafer_radius)))


def sliding_distance(
    x: ArrayLike, y: ArrayLike, motion: Motion, *, duration: float, sweep: Sweep | None = None, time_steps: int = 20_000
) -> Floats:
    r"""How far points of the wafer slide on the plate in a given time, by integration over time.

    Parameters
    ----------
    x : float array [m]
        Place from the jig's axis, in the jig's frame.
    y : float array, same shape [m]
        The same across.
    motion : Motion
        Axes and speeds.
    duration : float [s]
        Time of sliding, zero or more.
    sweep : Sweep, optional
        How the axis goes to and fro; None for a jig that stays.
    time_steps : int
        Even steps, at their middles; at least one. The error falls with the square of their length.

    Returns
    -------
    float array, same shape [m]

    Raises
    ------
    OutOfValidRange
        A negative duration, no step, or an arm that does not reach.

    Notes
    -----
    .. math:: s = \int_0^T \left|\dot C + i\omega_j z e^{i\omega_j t} - i\omega_p (C + z e^{i\omega_j t})\right| dt,
        \quad z = x + iy

    Examples
    --------
    >>> motion = Motion(offset=0.09, plate_speed=7.0, jig_speed=7.0)
    >>> float(sliding_distance(0.03, 0.01, motion, duration=10.0).round(9))
    6.3
    """
    if not duration >= 0.0:
        raise OutOfValidRange("duration", duration, "zero or more [s]")
    if time_steps < 1:
        raise OutOfValidRange("time_steps", time_steps, "one or more")
    points = np.atleast_1d(np.asarray(x, dtype=np.float64) + 1.0j * np.asarray(y, dtype=np.float64))
    instants = (np.arange(time_steps) + 0.5) * (duration / time_steps)
    course = axis_course(instants, motion, sweep)
    centre = course.axis_velocity - 1.0j * motion.plate_speed * course.axis_place
    turned = 1.0j * (motion.jig_speed - motion.plate_speed) * np.exp(1.0j * motion.jig_speed * instants)
    distances = [float(np.sum(np.abs(centre + turned * point))) * duration / time_steps for point in points.ravel()]
    return np.asarray(distances, dtype=np.float64).reshape(np.shape(np.asarray(x) + np.asarray(y)))


# ----------------------------------------------------------------------------------------------------------------------


def _axis_speeds(motion: Motion, sweep: Sweep) -> Floats:
    """Sliding speed of the jig's axis at even instants of one period."""
    course = axis_course((np.arange(_INSTANTS) + 0.5) * (sweep.period / _INSTANTS), motion, sweep)
    return np.asarray(np.abs(course.axis_velocity - 1.0j * motion.plate_speed * course.axis_place), dtype=np.float64)
