"""Tilt of the jig: from a wafer's wedge to the correction of each adjuster, and the wedge that rounding leaves.

The wedge is the WAFER's, as it is or as it will be after a cut at the present setting; never that of the bond line or
of the raw stack. Positive correction brings the wafer nearer the plate at that adjuster: more is removed there.
Left out: backlash, and how far an adjuster really moves the wafer (learned elsewhere).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, Fault, OutOfValidRange, ShapeMismatch
from lapwright.model.shelf import Jig
from lapwright.model.wafer import Wedge

View = Literal["worked", "operator"]
_FLAT = 1e-12  # m; a residual below a picometre has no direction

ADJUSTERS_VOID_ZERO = "Adjusters moved: take the zero anew and dial in a new preset."
CENTRE_SHIFT_VOIDS_ZERO = "The wafer's centre moves along the jig's axis: the old zero no longer names its height."


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjuster:
    """One adjuster: azimuth [rad] in the stated view, distance from the jig's axis [m], travel per division [m].

    `sense` is +1 when divisions counted upwards bring the wafer nearer the plate there, -1 when they take it away.
    """

    azimuth: float
    radius: float
    travel_per_division: float
    sense: Literal[1, -1] = 1

    def __post_init__(self) -> None:
        for name in ("radius", "travel_per_division"):
            if not getattr(self, name) > 0.0:
                raise OutOfValidRange(name, getattr(self, name), "more than zero [m]")


@dataclass(frozen=True, slots=True, kw_only=True)
class JigGeometry:
    """Where a jig's adjusters stand and how finely they can be set.

    Azimuths are counter-clockwise with the jig turned face up (`worked`), or as seen from the jig's top (`operator`,
    which mirrors x). `mount_angle` [rad] is the azimuth, jig face up, at which the wafer's +x lies. `division_step` is
    the smallest part of a division that can be set.
    """

    adjusters: tuple[Adjuster, ...]
    division_step: float = 0.25
    view: View = "worked"
    mount_angle: float = 0.0

    def __post_init__(self) -> None:
        if len(self.adjusters) < 3:
            raise OutOfValidRange("number of adjusters", len(self.adjusters), "at least 3")
        if not self.division_step > 0.0:
            raise OutOfValidRange("division_step", self.division_step, "more than zero [division]")


@dataclass(frozen=True, slots=True, kw_only=True)
class AdjusterMove:
    """What to do at one adjuster: azimuth as given [rad], correction [m], divisions exact and as they can be set."""

    azimuth: float
    correction: float
    divisions_exact: float
    divisions_to_set: float


@dataclass(frozen=True, slots=True, kw_only=True)
class JigCorrection:
    """The moves of all adjusters, and what they leave. SI.

    `residual` is the wedge that stays after rounding to what can be set, its azimuth in the wafer frame. `centre_shift`
    is how far the wafer's centre comes nearer the plate. `misfit` is how far the set adjusters stray from one plane
    (zero for three). `voids` says what no longer holds, in sentences.
    """

    moves: tuple[AdjusterMove, ...]
    residual: Wedge
    centre_shift: float
    misfit: float
    voids: tuple[str, ...]


def geometry_of(jig: Jig, *, view: View = "worked", mount_angle: float = 0.0) -> JigGeometry:
    """Geometry of a jig on the shelf: equal radius, divisions counted towards the plate, travel as accepted or nominal.

    Parameters
    ----------
    jig : Jig
        As recorded on the shelf.
    view : 'worked' or 'operator'
        How its azimuths were noted.
    mount_angle : float [rad]
        Azimuth, jig face up, at which the wafer's +x lies.

    Returns
    -------
    JigGeometry

    Examples
    --------
    >>> jig = Jig(jig_id="J1", name="jig", adjuster_radius=0.07, adjuster_azimuths=(0.0, 2.1, 4.2),
    ...           advance_per_division=2e-6)
    >>> len(geometry_of(jig).adjusters)
    3
    """
    travels = jig.learned_advances or (jig.advance_per_division,) * len(jig.adjuster_azimuths)
    adjusters = tuple(
        Adjuster(azimuth=azimuth, radius=jig.adjuster_radius, travel_per_division=travel)
        for azimuth, travel in zip(jig.adjuster_azimuths, travels, strict=True)
    )
    return JigGeometry(adjusters=adjusters, division_step=jig.division_step, view=view, mount_angle=mount_angle)


def adjuster_corrections(
    wedge: Wedge,
    diameter: float,
    jig: JigGeometry,
    *,
    fixed_adjuster: int | None = None,
    only_positive: bool = False,
) -> JigCorrection:
    r"""Correction of each adjuster that takes a wafer's wedge out, and the wedge left after rounding.

    Parameters
    ----------
    wedge : Wedge
        The wafer's wedge: amount [m] across the full diameter, azimuth of the thick edge [rad] in the wafer frame.
    diameter : float [m]
        Full diameter of the wafer.
    jig : JigGeometry
        Adjusters, smallest step, view and mount angle.
    fixed_adjuster : int, optional
        Index of an adjuster that must not move. The centre then shifts.
    only_positive : bool
        All moves towards the plate (against backlash). The centre then shifts.

    Returns
    -------
    JigCorrection
        Positive corrections bring the wafer nearer the plate: more is removed there.

    Raises
    ------
    BadInput
        `fixed_adjuster` together with `only_positive`, or an index that names no adjuster.
    OutOfValidRange
        `diameter` is not above zero, or the adjusters stand on one line.

    Notes
    -----
    .. math:: \Delta_i = \frac{W R_i}{D} \cos(\beta_i - \varphi)

    The plane of the correction runs through the jig's axis, so the wafer's centre stays; for evenly spaced adjusters
    the corrections have zero mean. With more than three adjusters the set divisions need not lie in one plane: the
    residual is that of the plane fitted to them by least squares, and `misfit` says how far they stray. A wedge
    without azimuth (not to be told from none) asks for no move and is returned as it is.

    Examples
    --------
    >>> three = tuple(Adjuster(azimuth=math.radians(a), radius=0.07, travel_per_division=2e-6) for a in (90, 210, 330))
    >>> found = adjuster_corrections(Wedge(amount=6e-6, azimuth=math.radians(30)), 0.1, JigGeometry(adjusters=three))
    >>> [round(move.correction * 1e6, 3) for move in found.moves]
    [2.1, -4.2, 2.1]
    """
    if not diameter > 0.0:
        raise OutOfValidRange("diameter", diameter, "more than zero [m]")
    _refuse_contradictions(jig, fixed_adjuster, only_positive=only_positive)
    tilt = _tilt(wedge, diameter, jig)
    places = _places(jig)
    corrections = places @ tilt
    shift = _centre_shift(corrections, fixed_adjuster, only_positive=only_positive)
    corrections = corrections + shift
    exact = corrections / _travel(jig)
    to_set = np.round(exact / jig.division_step) * jig.division_step + 0.0  # + 0.0: no minus zero
    set_travel = to_set * _travel(jig)
    plane = _plane(places, set_travel)
    moves = tuple(
        AdjusterMove(azimuth=a.azimuth, correction=float(c), divisions_exact=float(e), divisions_to_set=float(s))
        for a, c, e, s in zip(jig.adjusters, corrections, exact, to_set, strict=True)
    )
    misfit = float(np.max(np.abs(set_travel - plane[0] - places @ plane[1:]))) if len(moves) > 3 else 0.0
    return JigCorrection(
        moves=moves,
        residual=_residual(wedge, tilt - plane[1:], diameter, jig),
        centre_shift=float(plane[0]),
        misfit=misfit,
        voids=_voids(to_set, shift),
    )


def still_to_turn(correction: JigCorrection, done: Sequence[float], jig: JigGeometry) -> JigCorrection:
    """What is left of a correction after some of it was turned; the residual stays that of the whole correction.

    Parameters
    ----------
    correction : JigCorrection
        As worked out from the wafer's map.
    done : sequence of float [division]
        Divisions turned since at each adjuster, towards the plate positive.
    jig : JigGeometry
        That the correction was worked out for.

    Returns
    -------
    JigCorrection
        Divisions to set rounded to what can be set.

    Raises
    ------
    ShapeMismatch
        Another number of divisions than the correction has moves.

    Examples
    --------
    >>> jig = JigGeometry(adjusters=tuple(Adjuster(azimuth=math.radians(a), radius=0.07, travel_per_division=2e-6)
    ...                                   for a in (90, 210, 330)))
    >>> asked = adjuster_corrections(Wedge(amount=6e-6, azimuth=math.radians(30)), 0.1, jig)
    >>> [move.divisions_to_set for move in still_to_turn(asked, (1.0, -2.0, 0.5), jig).moves]
    [0.0, 0.0, 0.5]
    """
    if len(done) != len(correction.moves):
        raise ShapeMismatch(divisions=(len(done),), adjusters=(len(correction.moves),))
    step = jig.division_step
    moves = tuple(
        AdjusterMove(
            azimuth=move.azimuth,
            correction=move.correction - far * float(travel),
            divisions_exact=move.divisions_exact - far,
            divisions_to_set=round((move.divisions_to_set - far) / step) * step + 0.0,
        )
        for move, far, travel in zip(correction.moves, done, _travel(jig), strict=True)
    )
    return replace(correction, moves=moves)


# ----------------------------------------------------------------------------------------------------------------------


def _refuse_contradictions(jig: JigGeometry, fixed_adjuster: int | None, *, only_positive: bool) -> None:
    faults = []
    if fixed_adjuster is not None and only_positive:
        faults.append(
            Fault(
                sentence="A fixed adjuster and moves in one direction only exclude each other. Ask for one of them.",
                field="fixed_adjuster",
            )
        )
    if fixed_adjuster is not None and not 0 <= fixed_adjuster < len(jig.adjusters):
        sentence = f"There is no adjuster {fixed_adjuster}; they count from 0 to {len(jig.adjusters) - 1}."
        faults.append(Fault(sentence=sentence, field="fixed_adjuster"))
    if faults:
        raise BadInput(faults, subject="The jig correction")


def _worked_azimuth(azimuth: float, view: View) -> float:
    """The azimuth as it is with the jig face up: seen from its top, x is mirrored."""
    return math.pi - azimuth if view == "operator" else azimuth


def _places(jig: JigGeometry) -> NDArray[np.float64]:
    """Where the adjusters stand, jig face up, shape (n, 2) [m]."""
    azimuths = np.array([_worked_azimuth(a.azimuth, jig.view) for a in jig.adjusters])
    radii = np.array([a.radius for a in jig.adjusters])
    places = np.column_stack([radii * np.cos(azimuths), radii * np.sin(azimuths)])
    spread = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)
    if spread[1] < 1e-6 * spread[0]:
        raise OutOfValidRange("spread of the adjusters", float(spread[1]), "three that do not stand on one line")
    return places


def _travel(jig: JigGeometry) -> NDArray[np.float64]:
    return np.array([a.travel_per_division * a.sense for a in jig.adjusters])


def _tilt(wedge: Wedge, diameter: float, jig: JigGeometry) -> NDArray[np.float64]:
    """The slope to take out, in the jig's frame, face up, shape (2,) [1]."""
    if wedge.azimuth is None:
        return np.zeros(2)
    azimuth = wedge.azimuth + jig.mount_angle
    return wedge.amount / diameter * np.array([math.cos(azimuth), math.sin(azimuth)])


def _centre_shift(corrections: NDArray[np.float64], fixed_adjuster: int | None, *, only_positive: bool) -> float:
    if fixed_adjuster is not None:
        return -float(corrections[fixed_adjuster])
    if only_positive:
        return -float(corrections.min())
    return 0.0


def _plane(places: NDArray[np.float64], travel: NDArray[np.float64]) -> NDArray[np.float64]:
    """Height at the axis and slopes of the plane through the set adjusters, by least squares, shape (3,)."""
    design = np.column_stack([np.ones(len(places)), places])
    return np.asarray(np.linalg.lstsq(design, travel, rcond=None)[0], dtype=np.float64)


def _residual(wedge: Wedge, slope: NDArray[np.float64], diameter: float, jig: JigGeometry) -> Wedge:
    if wedge.azimuth is None:
        return wedge
    amount = diameter * float(np.hypot(slope[0], slope[1]))
    if amount < _FLAT:
        return Wedge(amount=0.0, azimuth=None)
    azimuth = math.atan2(slope[1], slope[0]) - jig.mount_angle
    return Wedge(amount=amount, azimuth=azimuth % (2.0 * math.pi))


def _voids(to_set: NDArray[np.float64], shift: float) -> tuple[str, ...]:
    if not np.any(to_set):
        return ()
    return (ADJUSTERS_VOID_ZERO, CENTRE_SHIFT_VOIDS_ZERO) if abs(shift) > _FLAT else (ADJUSTERS_VOID_ZERO,)
