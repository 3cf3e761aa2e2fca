"""Several pieces on one carrier: whether each can still reach its thickness and TTV.

All pieces end on one plane. A piece is thinner than its stack by what lies under it, carrier and bond, so that a wedge
at the level of the carrier becomes thickness that differs from piece to piece and, within each, TTV.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from lapwright.errors import OutOfValidRange
from lapwright.process.piece_sites import Array, MountedPiece, PieceSites, least_of

_SLACK = 1e-6  # share of a limit: rounding of the linear programme


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceEnd:
    """A piece at the end: thinnest and thickest [m], TTV [m], least and most removal [m], and whether it conforms."""

    name: str
    thinnest: float
    thickest: float
    ttv: float
    least_removal: float
    most_removal: float
    conforms: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CommonEnd:
    """The best plane on which all pieces can end.

    `removal` [m] is what comes off from first touch on. `used` [1] is the largest share that any piece uses up of its
    limits, of half the tolerance of thickness or of the TTV; above one a limit is passed.
    """

    slope_x: float
    slope_y: float
    removal: float
    used: float
    pieces: tuple[PieceEnd, ...]

    @property
    def reachable(self) -> bool:
        """Whether every piece conforms."""
        return all(one.conforms for one in self.pieces)


@dataclass(frozen=True, slots=True, kw_only=True)
class CarrierAdvice:
    """Lap as it lies, tilt first or bond again, and why; the ends with the plate parallel to the carrier and tilted."""

    advice: Literal["lap", "tilt", "rebond"]
    reason: str
    parallel: CommonEnd
    tilted: CommonEnd


def common_end(
    pieces: Sequence[MountedPiece],
    *,
    lower: float,
    upper: float,
    ttv: float | None = None,
    tilted: bool = True,
    least_removal: float = 0.0,
) -> CommonEnd:
    r"""The plane on which all pieces end with the most room to their limits, and how each ends on it.

    Parameters
    ----------
    pieces : sequence of MountedPiece
        At least one.
    lower, upper : float [m]
        Limits of thickness, common to all.
    ttv : float [m]
        Limit of TTV, None where there is none.
    tilted : bool
        Whether the plate may be tilted against the carrier's back; else both stay parallel.
    least_removal : float [m]
        What must come off at every site, for a face that is to be worked all over.

    Returns
    -------
    CommonEnd

    Raises
    ------
    BadInput
        No piece, or two of one name.
    OutOfValidRange
        Limits that are not above zero and in order.

    Notes
    -----
    With what lies under a piece, :math:`u = h - t`, its thickness at the end is :math:`e = a + b x + c y - u`. A linear
    programme finds the smallest share s with :math:`|e - e_0| \le s\,d` about the middle of the limits, half the
    tolerance d, with :math:`\max_i e - \min_i e \le s\,T` within each piece, and with :math:`e \le t - r`
    everywhere, since no piece grows. A second one, TTV held at that, then brings the thicknesses nearest the middle.

    Examples
    --------
    >>> pieces = [
    ...     MountedPiece(name=n, x=(x,), y=(0.0,), stack=(h,), thickness=(5e-4,))
    ...     for n, x, h in (("A", -0.01, 4.002e-3), ("B", 0.01, 4.010e-3))
    ... ]
    >>> found = common_end(pieces, lower=98e-6, upper=102e-6, tilted=False)
    >>> found.reachable, round(found.used, 3), [round(one.thinnest * 1e6, 3) for one in found.pieces]
    (False, 2.0, [104.0, 96.0])
    """
    if not 0.0 < lower < upper:
        raise OutOfValidRange("lower limit of thickness", lower, f"more than zero and less than {upper:g} m")
    if ttv is not None and not ttv > 0.0:
        raise OutOfValidRange("ttv", ttv, "more than zero")
    if not least_removal >= 0.0:
        raise OutOfValidRange("least_removal", least_removal, "zero or more")
    sites = PieceSites(pieces)
    limits = _Limits(lower=lower, upper=upper, ttv=ttv, least_removal=least_removal)
    share = _best_end(sites, limits, tilted=tilted)[0]
    _, slope_x, slope_y, middle = _best_end(sites, limits, tilted=tilted, ttv_share=share)
    plane = middle + slope_x * sites.x + slope_y * sites.y
    end = plane - sites.stack + sites.thickness
    ends = tuple(
        _end_of(one.name, end[own], (sites.stack - plane)[own], limits)
        for one, own in zip(pieces, sites.own, strict=True)
    )
    top = float((sites.stack - slope_x * sites.x - slope_y * sites.y).max())
    used = max(max(limits.used(one.thinnest, one.thickest)) for one in ends)
    return CommonEnd(slope_x=slope_x, slope_y=slope_y, removal=top - middle, used=used, pieces=ends)


def carrier_advice(
    pieces: Sequence[MountedPiece], *, lower: float, upper: float, ttv: float | None = None, least_removal: float = 0.0
) -> CarrierAdvice:
    """What to do with a carrier before its first cut.

    Parameters
    ----------
    pieces : sequence of MountedPiece
        At least one.
    lower, upper : float [m]
        Limits of thickness, common to all.
    ttv : float [m]
        Limit of TTV, None where there is none.
    least_removal : float [m]
        What must come off at every site.

    Returns
    -------
    CarrierAdvice
        To lap as it lies where all pieces conform so, to tilt where they do only then, else to bond again.

    Raises
    ------
    BadInput, OutOfValidRange
        As `common_end`.

    Examples
    --------
    >>> pieces = [
    ...     MountedPiece(name=n, x=(x,), y=(0.0,), stack=(h,), thickness=(5e-4,))
    ...     for n, x, h in (("A", -0.01, 4.002e-3), ("B", 0.01, 4.010e-3))
    ... ]
    >>> carrier_advice(pieces, lower=98e-6, upper=102e-6).advice
    'tilt'
    """
    parallel, tilted = (
        common_end(pieces, lower=lower, upper=upper, ttv=ttv, tilted=one, least_removal=least_removal)
        for one in (False, True)
    )
    if parallel.reachable:
        reason = (
            "With the plate parallel to the carrier all pieces end within their limits; the worst uses up"
            f" {parallel.used * 100:.0f} %."
        )
        return CarrierAdvice(advice="lap", reason=reason, parallel=parallel, tilted=tilted)
    missed = ", ".join(one.name for one in parallel.pieces if not one.conforms)
    if tilted.reachable:
        reason = (
            f"With the plate parallel to the carrier these miss their limits: {missed}. With the plate tilted all keep"
            f" them; the worst uses up {tilted.used * 100:.0f} %."
        )
        return CarrierAdvice(advice="tilt", reason=reason, parallel=parallel, tilted=tilted)
    missed = ", ".join(one.name for one in tilted.pieces if not one.conforms)
    reason = (
        f"On no plane do all pieces end within their limits; on the best these miss them: {missed}. Take these off and"
        " bond them again, or work them on a carrier of their own."
    )
    return CarrierAdvice(advice="rebond", reason=reason, parallel=parallel, tilted=tilted)


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Limits:
    lower: float
    upper: float
    ttv: float | None
    least_removal: float

    @property
    def middle(self) -> float:
        return (self.lower + self.upper) / 2.0

    @property
    def half(self) -> float:
        return (self.upper - self.lower) / 2.0

    def used(self, thinnest: float, thickest: float) -> tuple[float, float]:
        """The shares used up of half the tolerance and of the TTV."""
        off = max(self.middle - thinnest, thickest - self.middle)
        return off / self.half, 0.0 if self.ttv is None else (thickest - thinnest) / self.ttv


def _best_end(
    sites: PieceSites, limits: _Limits, *, tilted: bool, ttv_share: float | None = None
) -> tuple[float, float, float, float]:
    """The smallest share, the slopes, and the plane's height at the carrier's middle; the TTV's share held if given."""
    unit, count, pieces = sites.unit, sites.along.shape[1] if tilted else 0, len(sites.own)
    zero = float((sites.stack - sites.thickness).mean()) + limits.middle
    # unknowns: slopes, level, share; then for each piece how far its thinnest and thickest lie from the middle
    plane = np.hstack(
        (sites.along[:, :count] / sites.radius, np.ones((sites.x.size, 1)), np.zeros((sites.x.size, 1 + 2 * pieces)))
    )
    thinnest, thickest = np.zeros_like(plane), np.zeros_like(plane)
    for number, own in enumerate(sites.own):
        thinnest[own, count + 2 + 2 * number] = thickest[own, count + 3 + 2 * number] = 1.0
    under = (sites.stack - sites.thickness + limits.middle - zero) / unit
    bounds, most = _bounds(plane.shape[1], count, pieces, limits, unit, ttv_share)
    found = least_of(
        np.eye(plane.shape[1])[count + 1],
        np.vstack((plane - thickest, thinnest - plane, plane, bounds)),
        np.concatenate((under, -under, (sites.stack - limits.least_removal - zero) / unit, most)),
    )
    slope_x, slope_y = sites.slopes(found[:count]) if count else (0.0, 0.0)
    level = float(found[count]) * unit + zero
    middle = level - slope_x * float(sites.centre[0]) - slope_y * float(sites.centre[1])
    return float(found[count + 1]), slope_x, slope_y, middle


def _bounds(
    width: int, count: int, pieces: int, limits: _Limits, unit: float, ttv_share: float | None
) -> tuple[Array, Array]:
    """What share, thinnest and thickest of each piece have to do with each other."""
    rows, most = [], []
    for number in range(pieces):
        ends = slice(count + 2 + 2 * number, count + 4 + 2 * number)
        for ends_by, limit in (((-1.0, 0.0), limits.half), ((0.0, 1.0), limits.half), ((-1.0, 1.0), limits.ttv)):
            if limit is None:
                continue
            row = np.zeros(width)
            row[ends] = ends_by
            held = ends_by == (-1.0, 1.0) and ttv_share is not None
            row[count + 1] = 0.0 if held else -limit / unit
            rows.append(row)
            most.append(limit / unit * (ttv_share or 0.0) * (1.0 + _SLACK) + _SLACK if held else 0.0)
    return np.array(rows), np.array(most)


def _end_of(name: str, end: Array, removal: Array, limits: _Limits) -> PieceEnd:
    thinnest, thickest = float(end.min()), float(end.max())
    used = limits.used(thinnest, thickest)
    return PieceEnd(
        name=name,
        thinnest=thinnest,
        thickest=thickest,
        ttv=thickest - thinnest,
        least_removal=float(removal.min()),
        most_removal=float(removal.max()),
        conforms=max(used) <= 1.0 + _SLACK,
    )
