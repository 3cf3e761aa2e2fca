"""Use case: one motion of plate and jig, answered for command, page and API alike, with the lines that grains draw."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from lapwright.errors import BadInput, Fault

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from lapwright.process.kinematics import Motion
    from lapwright.process.kinematics_sweep import Sweep
    from lapwright.process.sliding import Sliding

#: Turns of the plate and grains that are drawn, and how far the jig's speed is changed to look for a quieter one [1].
TURNS = 20
GRAINS = 3
_TRIED = (-0.08, -0.05, -0.03, 0.03, 0.05, 0.08)
MOST_KEPT = 64  # answers; a motion alone says all of its own
_WORTH = 0.8  # of the unevenness: less is not worth another setting


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateQuestion:
    """Land of a plate [m], the ring or foot that wears it [m], and its grooves [m]; `groove_pitch` None: none."""

    land: tuple[float, float] | None = None
    ring: tuple[float, float] | None = None
    groove_width: float = 0.0
    groove_pitch: float | None = None
    crossed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class MotionQuestion:
    """A motion and the wafer on it. SI; `ring` of the plate is the wafer itself unless given."""

    motion: Motion
    wafer_radius: float
    wafer_offset: float = 0.0
    sweep: Sweep | None = None
    track_width: float | None = None
    duration: float | None = None
    plate: PlateQuestion = PlateQuestion()


@dataclass(frozen=True, slots=True, kw_only=True)
class Paths:
    """Lines that some grains of the plate draw on the wafer, in its frame [m], at one speed of the jig.

    `unevenness` [1] ranks ratios; `closes_after` turns of the plate the lines repeat, None when not within 200.
    """

    motion: Motion
    tracks: NDArray[np.complex128]
    unevenness: float
    closes_after: int | None


def motion_answer(question: MotionQuestion) -> dict[str, Any]:
    """Speeds over the wafer, repeating paths and, where a land is given, the wear of the plate."""
    from lapwright.formats.kinematics_results import sliding_dict
    from lapwright.process.plate_wear import groove_contact

    found, plate = sliding_of(question), question.plate
    result = sliding_dict(found, duration=question.duration)
    if plate.groove_pitch is not None:
        result["contact_share"] = groove_contact(plate.groove_width, plate.groove_pitch, crossed=plate.crossed)
    if plate.land is not None:
        result |= _wear(question, found.speed_ratio, plate.land)
    return result


@lru_cache(maxsize=MOST_KEPT)
def sliding_of(question: MotionQuestion) -> Sliding:
    """Speed over the wafer, its spread, and the state of its paths."""
    from lapwright.process.sliding import sliding

    return sliding(
        question.motion,
        question.wafer_radius,
        wafer_offset=question.wafer_offset,
        sweep=question.sweep,
        track_width=question.track_width,
    )


@lru_cache(maxsize=MOST_KEPT)
def drawn_paths(question: MotionQuestion) -> tuple[Paths, ...]:
    """The lines at the speeds asked for, and at the speed of the jig nearby that spreads them best, where it does.

    Empty where no line is drawn: the plate does not turn, or jig and plate turn about one axis. A sweep is left out.
    """
    from lapwright.process.kinematics_paths import path_unevenness

    motion, reach = question.motion, question.wafer_offset + question.wafer_radius
    if not (motion.plate_speed and motion.offset > 0.0):
        return ()
    asked = _paths(motion, reach, sliding_of(question).unevenness)
    if not motion.jig_speed:
        return (asked,)
    tried = [replace(motion, jig_speed=motion.jig_speed * (1.0 + share)) for share in _TRIED]
    best = _paths(min(tried, key=lambda one: path_unevenness(one, reach, turns=TURNS, grains=TURNS)), reach)
    return (asked, best) if best.unevenness < _WORTH * asked.unevenness else (asked,)


# ----------------------------------------------------------------------------------------------------------------------


def _paths(motion: Motion, reach: float, unevenness: float | None = None) -> Paths:
    from lapwright.process.kinematics_paths import grain_paths, path_repeat, path_unevenness
    from lapwright.process.sliding import SAME_LINE

    repeat = path_repeat(motion, reach, track_width=SAME_LINE * reach)
    return Paths(
        motion=motion,
        tracks=grain_paths(motion, reach, turns=TURNS, grains=GRAINS),
        unevenness=path_unevenness(motion, reach) if unevenness is None else unevenness,
        closes_after=None if repeat is None else repeat.plate_turns,
    )


def _wear(question: MotionQuestion, ratio: float | None, land: tuple[float, float]) -> dict[str, Any]:
    from lapwright.formats.kinematics_results import wear_dict
    from lapwright.process.plate_wear import Footprint, Land, neutral_offset, wear_profile

    if ratio is None:
        sentence = "A plate that does not turn wears under the jig alone; give it a speed."
        raise BadInput([Fault(sentence=sentence, field="plate_speed_rpm")])
    ring = question.plate.ring or (0.0, question.wafer_radius)
    ground = Land(inner_radius=land[0], outer_radius=land[1])
    parts = (Footprint(outer_radius=ring[1], inner_radius=ring[0]),)
    settings = {"speed_ratio": ratio, "half_stroke": 0.0 if question.sweep is None else question.sweep.half_stroke}
    profile = wear_profile(ground, parts, offset=question.motion.offset, **settings)
    return wear_dict(profile, neutral_offset(ground, parts, **settings))
