"""One answer about a motion of plate and jig: how fast the wafer slides, how evenly, and whether its paths repeat."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.process.kinematics import SLOWEST, Motion, area_mean_speed, mean_relative_speed, speed_nonuniformity
from lapwright.process.kinematics_paths import Repeat, nearest_simple_ratio, path_repeat, path_unevenness
from lapwright.process.kinematics_sweep import Sweep, swept_area_mean_speed, swept_mean_speed

_RADII = 11
_FEW_TURNS = 20  # a path that closes within so many turns of the plate is drawn over and over in any run
SAME_LINE = 1e-4  # wafer radii; a line this near to itself is the same line, whatever the grain


@dataclass(frozen=True, slots=True, kw_only=True)
class Sliding:
    """What is known of a motion.

    `radius` [m] from the jig's axis with mean speeds `speeds` [m/s] there, `mean_speed` [m/s] over the face,
    `nonuniformity` [1] largest less smallest over it. `nearest_ratio` is the simple fraction next to `speed_ratio`,
    `repeat` None when no path closes, `unevenness` [1] of the lines on the wafer; `sentences` say what to think of it.
    """

    radius: NDArray[np.float64]
    speeds: NDArray[np.float64]
    mean_speed: float
    nonuniformity: float
    speed_ratio: float | None
    nearest_ratio: Fraction | None
    repeat: Repeat | None
    unevenness: float | None
    sentences: tuple[str, ...]


def sliding(
    motion: Motion, wafer_radius: float, *, wafer_offset: float = 0.0, sweep: Sweep | None = None,
    track_width: float | None = None,
) -> Sliding:  # fmt: skip
    """Speed over the wafer, its spread, and the state of its paths.

    Parameters
    ----------
    motion : Motion
        Axes and speeds.
    wafer_radius : float [m]
        More than zero.
    wafer_offset : float [m]
        Distance of the wafer's centre from the jig's axis, zero or more.
    sweep : Sweep, optional
        How the jig's axis goes to and fro; paths are then looked at as if it stayed.
    track_width : float, optional [m]
        How wide one grain's line is; a ten-thousandth of the radius when not given.

    Returns
    -------
    Sliding

    Raises
    ------
    OutOfValidRange
        A measure that is not what it says, or nothing slides.

    Examples
    --------
    >>> turn = 2 * np.pi / 60
    >>> sliding(Motion(offset=0.1, plate_speed=70 * turn, jig_speed=60 * turn), 0.05).sentences[0]
    'This ratio repeats every 7 turns of the plate (6 of the jig): each grain draws the same lines again.'
    """
    radius = np.linspace(max(0.0, wafer_offset - wafer_radius), wafer_offset + wafer_radius, _RADII)
    if sweep is None:
        mean = area_mean_speed(wafer_radius, motion, wafer_offset=wafer_offset)
        speeds = mean_relative_speed(radius, motion)
        spread = speed_nonuniformity(wafer_radius, motion, wafer_offset=wafer_offset)
    else:
        mean = swept_area_mean_speed(wafer_radius, motion, sweep, wafer_offset=wafer_offset)
        speeds = swept_mean_speed(radius, motion, sweep)
        if not mean > 0.0:
            raise OutOfValidRange("mean speed", mean, "more than zero [m/s]")
        spread = float(speeds[-1] - speeds[0]) / mean
    turns = abs(motion.plate_speed) >= SLOWEST
    reach = wafer_offset + wafer_radius
    width = SAME_LINE * reach if track_width is None else track_width
    crossed = turns and motion.offset > 0.0
    found = path_repeat(motion, reach, track_width=width) if turns else None
    return Sliding(
        radius=radius,
        speeds=speeds,
        mean_speed=mean,
        nonuniformity=spread,
        speed_ratio=motion.jig_speed / motion.plate_speed if turns else None,
        nearest_ratio=nearest_simple_ratio(motion) if turns else None,
        repeat=found,
        unevenness=path_unevenness(motion, reach) if crossed else None,
        sentences=_sentences(motion, found, spread),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _sentences(motion: Motion, found: Repeat | None, spread: float) -> tuple[str, ...]:
    said = []
    if motion.jig_speed == 0.0:
        said.append(
            "The jig does not turn: the outer side of the wafer slides farther all the time. See that it turns."
        )
    elif found is not None and found.plate_turns <= _FEW_TURNS:
        turns = "turn" if found.plate_turns == 1 else f"{found.plate_turns} turns"
        said.append(
            f"This ratio repeats every {turns} of the plate ({abs(found.jig_turns)} of the jig): each grain draws the"
            " same lines again."
        )
    elif found is not None:
        said.append(f"Paths close after {found.plate_turns} turns of the plate: lines are well spread by then.")
    else:
        said.append("Paths do not close within 200 turns of the plate: lines are spread.")
    if spread > 0.02:
        said.append(
            f"The edge slides {spread:.1%} more than the centre: with even pressure it would lose that much more. Bring"
            " the speeds nearer to each other."
        )
    return tuple(said)
