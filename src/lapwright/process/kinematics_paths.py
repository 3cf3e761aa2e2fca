"""Repeating paths: after how many turns a grain of the plate draws the same line on the wafer, and how evenly it draws.

The place of a grain on the wafer depends on the angles of plate and jig alone. When both have come round together the
line closes and is drawn again and again. Equal speeds slide every point equally far, but each grain redraws one line;
a ratio that is no simple fraction spreads the lines. Real speeds wander by parts of a percent: a ratio that only just
repeats does not repeat for long.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.process.kinematics import LARGEST, SLOWEST, Motion

_GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0
_STEPS_PER_TURN = 360
_RINGS, _SECTORS = 6, 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeat:
    """When a path comes back upon itself: turns of the plate and of the jig (negative when it turns the other way).

    `miss` [m] is by how much the line then misses itself at the wafer's edge.
    """

    plate_turns: int
    jig_turns: int
    miss: float


def path_repeat(motion: Motion, wafer_radius: float, *, track_width: float, most_turns: int = 200) -> Repeat | None:
    r"""The fewest turns of the plate after which every grain redraws its line on the wafer.

    Parameters
    ----------
    motion : Motion
        Axes and speeds.
    wafer_radius : float [m]
        Where the miss is looked at: the wafer's edge. More than zero.
    track_width : float [m]
        How wide one grain's line is; a line that comes back within it is the same line. More than zero.
    most_turns : int
        Turns of the plate looked at, one or more.

    Returns
    -------
    Repeat or None
        None when the line does not come back within `most_turns`, or the plate does not turn.

    Raises
    ------
    OutOfValidRange
        A radius, a width or a number of turns that is not above zero.

    Notes
    -----
    With s the speed of the jig over that of the plate the line closes after q turns when
    :math:`2\pi R\,|q s - p| \le w` for a whole number p. Exact for a jig that does not sweep.

    Examples
    --------
    >>> turn = 2 * math.pi
    >>> path_repeat(Motion(offset=0.1, plate_speed=70 * turn, jig_speed=60 * turn), 0.05, track_width=1e-5).plate_turns
    7
    """
    for name, value in (("wafer_radius", wafer_radius), ("track_width", track_width), ("most_turns", most_turns)):
        if not value > 0.0:
            raise OutOfValidRange(name, value, "more than zero")
    if abs(motion.plate_speed) < SLOWEST:
        return None
    ratio = motion.jig_speed / motion.plate_speed
    turns = np.arange(1, most_turns + 1)
    miss = 2.0 * math.pi * wafer_radius * np.abs(turns * ratio - np.round(turns * ratio))
    back = np.flatnonzero(miss <= track_width)
    if not back.size:
        return None
    found = int(back[0])
    return Repeat(plate_turns=found + 1, jig_turns=round((found + 1) * ratio), miss=float(miss[found]))


def nearest_simple_ratio(motion: Motion, *, largest: int = 12) -> Fraction:
    """The simple fraction nearest to the speed of the jig over that of the plate.

    Parameters
    ----------
    motion : Motion
        Axes and speeds.
    largest : int
        Largest denominator, one or more.

    Returns
    -------
    Fraction

    Raises
    ------
    OutOfValidRange
        The plate does not turn, or `largest` is below one.

    Examples
    --------
    >>> nearest_simple_ratio(Motion(offset=0.1, plate_speed=7.0, jig_speed=5.999))
    Fraction(6, 7)
    """
    if abs(motion.plate_speed) < SLOWEST:
        raise OutOfValidRange("plate_speed", motion.plate_speed, "a plate that turns")
    if largest < 1:
        raise OutOfValidRange("largest", largest, "one or more")
    return Fraction(motion.jig_speed / motion.plate_speed).limit_denominator(largest)


def path_unevenness(motion: Motion, wafer_radius: float, *, turns: int = 60, grains: int = 40) -> float:
    r"""How unevenly the lines of some grains cover the wafer: deviation of line length from cell to cell over its mean.

    Parameters
    ----------
    motion : Motion
        Axes and speeds.
    wafer_radius : float [m]
        Wafer on the jig's axis. More than zero.
    turns : int
        Turns of the plate followed, one or more.
    grains : int
        Grains on the plate, evenly spread over the band that the wafer runs on. One or more.

    Returns
    -------
    float [1]
        Zero for lines that cover every cell equally. It ranks ratios; its size hangs on the number of grains.

    Raises
    ------
    OutOfValidRange
        A value that is not above zero, or a wafer that no grain crosses.

    Notes
    -----
    The wafer is divided into 144 cells of equal area (6 rings of 24 sectors). Grains stand at radii of equal area and
    at golden angles, so that the figure has no chance in it.

    References
    ----------
    .. [1] Wang, Lei, Wu, Front. Mater. 9 (2022) 901556 (abstract): the form of lapped silicon was better at a ratio of
       1.0772 than at 1.

    Examples
    --------
    >>> one, other = (Motion(offset=0.09, plate_speed=6.28, jig_speed=6.28 * s) for s in (1.0, 1.0772))
    >>> path_unevenness(one, 0.05) > path_unevenness(other, 0.05)
    True
    """
    start = _starts(motion, wafer_radius, turns=turns, grains=grains)
    ratio = motion.jig_speed / motion.plate_speed
    # in a frame that turns with the plate a line is the same in each turn; on the wafer it only lies turned
    at = start[:, None] * np.exp(2.0j * math.pi * np.arange(_STEPS_PER_TURN) / _STEPS_PER_TURN) - motion.offset
    after = np.roll(at, -1, axis=1) * np.exp(-2.0j * math.pi * ratio / _STEPS_PER_TURN)
    middle = 0.5 * (at + after)
    reach = np.abs(middle)
    grain, step = np.nonzero(reach < wafer_radius)
    ring = np.minimum((_RINGS * (reach[grain, step] / wafer_radius) ** 2).astype(int), _RINGS - 1)
    round_share = np.angle(middle[grain, step]) / (2.0 * math.pi) - ratio * step / _STEPS_PER_TURN
    length = _lengths(ring, round_share - ratio * np.arange(turns)[:, None], np.abs(after - at)[grain, step])
    if not length.sum() > 0.0:
        raise OutOfValidRange("offset", motion.offset, "one at which grains of the plate cross the wafer")
    return float(length.std() / length.mean())


def grain_paths(motion: Motion, wafer_radius: float, *, turns: int, grains: int) -> NDArray[np.complex128]:
    r"""Places of some grains of the plate in the wafer's frame, step by step.

    Parameters
    ----------
    motion : Motion
        Axes and speeds; the plate turns.
    wafer_radius : float [m]
        Wafer on the jig's axis; the grains stand at radii of equal area over the band that it runs on.
    turns : int
        Turns of the plate followed, one or more.
    grains : int
        How many grains, one or more.

    Returns
    -------
    complex array, shape (grains, 360 turns + 1) [m]
        Beyond the wafer, too, where a grain lies beside it.

    Raises
    ------
    OutOfValidRange
        A value that is not above zero, or a plate that does not turn.

    Notes
    -----
    .. math:: z(\varphi) = (a e^{i(\varphi + \varphi_0)} - e)\, e^{-i s \varphi}

    for a grain at radius a and angle φ₀, the offset e, and the speed s of the jig over that of the plate.

    Examples
    --------
    >>> same = grain_paths(Motion(offset=0.1, plate_speed=6.0, jig_speed=6.0), 0.05, turns=2, grains=1)[0]
    >>> bool(np.allclose(same[:361], same[360:]))
    True
    """
    start = _starts(motion, wafer_radius, turns=turns, grains=grains)
    plate = 2.0 * math.pi * np.arange(turns * _STEPS_PER_TURN + 1) / _STEPS_PER_TURN
    jig = plate * (motion.jig_speed / motion.plate_speed)
    tracks = (start[:, None] * np.exp(1.0j * plate)[None, :] - motion.offset) * np.exp(-1.0j * jig)[None, :]
    return np.asarray(tracks, dtype=np.complex128)


# ----------------------------------------------------------------------------------------------------------------------


def _starts(motion: Motion, wafer_radius: float, *, turns: int, grains: int) -> NDArray[np.complex128]:
    """Places of the grains on the plate at the start [m], once all that is asked for is looked at."""
    for name, value in (("wafer_radius", wafer_radius), ("turns", turns), ("grains", grains)):
        if not value > 0.0:
            raise OutOfValidRange(name, value, "more than zero")
    if wafer_radius > LARGEST:
        raise OutOfValidRange("wafer_radius", wafer_radius, f"at most {LARGEST:g} [m]")
    if abs(motion.plate_speed) < SLOWEST:
        raise OutOfValidRange("plate_speed", motion.plate_speed, "a plate that turns")
    inner, outer = max(0.0, motion.offset - wafer_radius), motion.offset + wafer_radius
    number = np.arange(grains)
    radius = np.sqrt(inner**2 + (outer**2 - inner**2) * (number + 0.5) / grains)
    return np.asarray(radius * np.exp(2.0j * math.pi * ((number * _GOLDEN) % 1.0)), dtype=np.complex128)


def _lengths(
    ring: NDArray[np.int64], round_share: NDArray[np.float64], step: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Length of line in each cell [m]; `round_share`, shape (turns, steps), is a place's angle in whole rounds."""
    sector = ((round_share - np.floor(round_share)) * _SECTORS).astype(int)
    cell = ring * (_SECTORS + 1) + sector  # one sector more, for a share that is rounded up to a whole round
    weights = np.broadcast_to(step, cell.shape)
    counted = np.bincount(cell.ravel(), weights=weights.ravel(), minlength=_RINGS * (_SECTORS + 1))
    length = np.asarray(counted, dtype=np.float64).reshape(_RINGS, _SECTORS + 1)
    length[:, 0] += length[:, _SECTORS]
    return length[:, :_SECTORS]
