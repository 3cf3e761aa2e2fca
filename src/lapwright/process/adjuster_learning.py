"""What one division of a jig's adjusters really moves, and their play, learned from moves and what they did.

Each move is the divisions set at each adjuster and the wedge before and after, as vectors in the jig's frame. Travel
per division of each adjuster is estimated by Bayesian regression from its nominal value; the play, common to all of
them, by how well each value on a grid explains the moves. An adjuster that reverses first runs through its play.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.process.jig import JigGeometry

Floats = NDArray[np.float64]

_SPREAD = 0.3  # of the nominal travel: how far off an adjuster may be before anything is seen (own judgement)
_PLAYS = np.linspace(0.0, 2.0, 41)  # divisions
_PLAY_SCALE = 0.5  # divisions, prior mean of the play (own judgement)


@dataclass(frozen=True, slots=True, kw_only=True)
class AdjusterTrial:
    """One move: divisions set at each adjuster, and the wedge before and after [m].

    Wedges are complex numbers in the jig's frame, face up, across the wafer's full diameter, towards the thickest edge.
    """

    divisions: tuple[float, ...]
    wedge_before: complex
    wedge_after: complex


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedAdjusters:
    """Travel of one division of each adjuster with its standard uncertainty [m], and the play [divisions].

    `off` are the adjusters, counted from 0, whose travel differs from the nominal by more than twice its uncertainty
    and more than 5 %.
    """

    travel: Floats
    travel_uncertainty: Floats
    play: float
    play_uncertainty: float
    off: tuple[int, ...]
    sentences: tuple[str, ...]


def learned_adjusters(
    trials: Sequence[AdjusterTrial], geometry: JigGeometry, diameter: float, *, wedge_uncertainty: float
) -> LearnedAdjusters:
    r"""Travel per division and play from a jig's own moves.

    Parameters
    ----------
    trials : sequence of AdjusterTrial
        Moves in the order made; none is allowed: then the nominal values come back with their prior spread.
    geometry : JigGeometry
        Where the adjusters stand and their nominal travel.
    diameter : float [m]
        Full diameter of the wafers, more than zero.
    wedge_uncertainty : float [m]
        Standard uncertainty of each part of one wedge, more than zero.

    Returns
    -------
    LearnedAdjusters

    Raises
    ------
    ShapeMismatch
        A move with another number of divisions than the jig has adjusters.
    OutOfValidRange
        A value that is not above zero, or adjusters that are not three.

    Notes
    -----
    Three adjusters moved by z_i tilt the wafer by the plane through them, so the wedge changes by

    .. math:: \Delta W = -D \sum_i g_i k_i n_i', \quad n' = n - \text{play} \cdot \text{sign}(n) \text{ on reversal}

    with g_i the gradient that a unit advance of adjuster i alone gives. Priors: k_i normal about the nominal, 30 %;
    play exponential, mean 0.5 division, on a grid up to 2. A move that only runs through the play moves nothing.

    Examples
    --------
    >>> from lapwright.process.jig import Adjuster
    >>> jig = JigGeometry(adjusters=tuple(Adjuster(azimuth=math.radians(a), radius=0.07, travel_per_division=2e-6)
    ...                                   for a in (90, 210, 330)))
    >>> found = learned_adjusters([], jig, 0.1, wedge_uncertainty=3e-7)
    >>> found.travel.round(9).tolist(), found.off
    ([2e-06, 2e-06, 2e-06], ())
    """
    for name, value in (("diameter", diameter), ("wedge_uncertainty", wedge_uncertainty)):
        if not value > 0.0:
            raise OutOfValidRange(name, value, "more than zero [m]")
    count = len(geometry.adjusters)
    if count != 3:
        raise OutOfValidRange("number of adjusters", count, "three: with more the plane is not theirs alone")
    for trial in trials:
        if len(trial.divisions) != count:
            raise ShapeMismatch(divisions=(len(trial.divisions),), adjusters=(count,))
    nominal = np.array([one.travel_per_division for one in geometry.adjusters])
    effect = -diameter * _gradients(geometry) * np.array([one.sense for one in geometry.adjusters])
    noise = wedge_uncertainty * math.sqrt(2.0)
    fits = [_fit(trials, float(play), effect, nominal, noise) for play in _PLAYS]
    log_chance = np.array([fit[2] for fit in fits]) - _PLAYS / _PLAY_SCALE
    chance = np.exp(log_chance - log_chance.max())
    chance /= chance.sum()
    travel = sum((c * fit[0] for c, fit in zip(chance, fits, strict=True)), np.zeros(count))
    square = sum(
        (c * (np.diag(fit[1]) + (fit[0] - travel) ** 2) for c, fit in zip(chance, fits, strict=True)), np.zeros(count)
    )
    play = float(np.sum(chance * _PLAYS))
    doubt = math.sqrt(float(np.sum(chance * (_PLAYS - play) ** 2)))
    spread = np.sqrt(square)
    off = tuple(
        int(i)
        for i in np.flatnonzero((np.abs(travel - nominal) > 2.0 * spread) & (np.abs(travel / nominal - 1) > 0.05))
    )
    return LearnedAdjusters(
        travel=np.asarray(travel), travel_uncertainty=np.asarray(spread), play=play, play_uncertainty=doubt, off=off,
        sentences=_sentences(travel, spread, nominal, off, play, doubt),
    )  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _gradients(geometry: JigGeometry) -> NDArray[np.complex128]:
    """The slope, as a complex number, of the plane that is one at an adjuster and zero at the others [1/m]."""
    azimuths = np.array(
        [math.pi - one.azimuth if geometry.view == "operator" else one.azimuth for one in geometry.adjusters]
    )
    radii = np.array([one.radius for one in geometry.adjusters])
    plane = np.linalg.inv(np.column_stack([np.ones(3), radii * np.cos(azimuths), radii * np.sin(azimuths)]))
    return np.asarray(plane[1] + 1.0j * plane[2], dtype=np.complex128)


def _effective(trials: Sequence[AdjusterTrial], play: float) -> Floats:
    """Divisions that really moved something, shape (moves, adjusters); the first move of each counts as taken up."""
    leaning = [0.0] * (len(trials[0].divisions) if trials else 0)
    moved = []
    for trial in trials:
        row = []
        for i, turn in enumerate(trial.divisions):
            way = math.copysign(1.0, turn) if turn != 0.0 else leaning[i]
            lost = play if leaning[i] != 0.0 and way != leaning[i] else 0.0
            row.append(math.copysign(max(abs(turn) - lost, 0.0), turn) if turn != 0.0 else 0.0)
            leaning[i] = way
        moved.append(row)
    return np.array(moved, dtype=np.float64).reshape(len(trials), -1)


def _fit(
    trials: Sequence[AdjusterTrial], play: float, effect: NDArray[np.complex128], nominal: Floats, noise: float
) -> tuple[Floats, Floats, float]:
    """Travel, its covariance, and the logarithm of how likely the moves are with this play."""
    if not trials:
        return nominal, np.diag((_SPREAD * nominal) ** 2), 0.0
    complex_design = _effective(trials, play) * effect[None, :] * nominal[None, :]
    design = np.vstack([complex_design.real, complex_design.imag]) / noise
    change = np.array([trial.wedge_after - trial.wedge_before for trial in trials])
    values = np.concatenate([change.real, change.imag]) / noise
    left = values - design.sum(axis=1)  # against the nominal travel
    precision = design.T @ design + np.eye(len(nominal)) / _SPREAD**2
    covariance = np.linalg.inv(precision)
    pull = design.T @ left
    share = covariance @ pull
    log_chance = -0.5 * float(left @ left) + 0.5 * float(pull @ share) - 0.5 * float(np.linalg.slogdet(precision)[1])
    return nominal * (1.0 + share), covariance * np.outer(nominal, nominal), log_chance


def _sentences(
    travel: Floats, spread: Floats, nominal: Floats, off: tuple[int, ...], play: float, doubt: float
) -> tuple[str, ...]:
    told = []
    for i in off:
        if travel[i] <= 0.0:
            told.append(
                f"Adjuster {i + 1} seems to move the wrong way. Check which way its divisions count, and the azimuths."
            )
            continue
        told.append(
            f"Adjuster {i + 1} moves {travel[i] * 1e6:.2f} ± {2.0 * spread[i] * 1e6:.2f} µm a division, not"
            f" {nominal[i] * 1e6:.2f}. Take the learned value for the next correction."
        )
    if play > 2.0 * doubt and play > 0.2:
        told.append(f"Worn: play {play:.1f} ± {2.0 * doubt:.1f} divisions. Always end a move in the same direction.")
    return tuple(told)
