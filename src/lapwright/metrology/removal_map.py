"""What a stage took off, from the map before and the map after, and whether the piece was put back turned.

A piece that keeps its wedge but shows it a quarter turn further was most likely read, or mounted, with its flat in
another place. The check compares the wedge vectors of the two maps under no turn and under quarter turns.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, Fault, OutOfValidRange, TooFewSites
from lapwright.metrology.frames import nearest_sites, transformed
from lapwright.metrology.surface_fit import SurfaceFit, fitted_surface, steepest_slope
from lapwright.metrology.thickness_sites import Notice
from lapwright.model.wafer import WORKED_FRAME, ThicknessMap, Wedge

_LEAST_SITES = 3
#: Squared lengths of slope vectors, in standard uncertainties: what the mean wedge of both maps, brought onto each
#: other, must have to tell a turn by (99 % of chi-squared with two degrees of freedom); what the two may at most be
#: off (99.9 %); and by how much the turned reading must be the better one.
_SEEN = 9.21
_SAME = 13.8
_BETTER = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RemovalResult:
    """Thickness removed at each common site, its mean, range and wedge. SI, in the wafer frame.

    `suspected_turn` [rad] is the turn, counter-clockwise, by which the later map looks turned against the earlier;
    nought when it does not, None when the wedges cannot tell.
    """

    removal: ThicknessMap
    mean: float
    minimum: float
    maximum: float
    wedge: Wedge | None
    suspected_turn: float | None
    warnings: tuple[Notice, ...]


def removal_map(
    before: ThicknessMap,
    after: ThicknessMap,
    *,
    diameter: float,
    site_uncertainty: float,
    site_tolerance: float = 0.2e-3,
) -> RemovalResult:
    """Thickness removed between two maps on their common sites, with the turn between them checked.

    Parameters
    ----------
    before, after : ThicknessMap
        Each in the frame it names. Lengths in m; NaN is not measured.
    diameter : float [m]
        Over which the wedge is given, above zero.
    site_uncertainty : float [m]
        Standard uncertainty of a site from what differs from site to site, the same in both maps; above zero.
    site_tolerance : float [m]
        How far apart two sites may lie and still be the same.

    Returns
    -------
    RemovalResult
        The azimuth of the wedge of the removal points to where most was taken; None when it is within its expanded
        uncertainty (k = 2).

    Raises
    ------
    BadInput
        Sites of the later map that the earlier does not have; all of them listed.
    OutOfValidRange
        `diameter` or `site_uncertainty` is not above zero.
    TooFewSites
        Fewer than three common measured sites.

    Notes
    -----
    A turn is suspected when the later wedge agrees with the earlier one turned by 90, 180 or 270 degrees (99.9 %),
    better than with the unturned one by 2 in squared standard uncertainties. A stage that changes the wedge agrees
    with no turn, and the answer is None.

    Examples
    --------
    >>> x, y = np.array([0.0, 0.04, 0.0, -0.04, 0.0]), np.array([0.0, 0.0, 0.04, 0.0, -0.04])
    >>> first = ThicknessMap(x=x, y=y, thickness=5e-4 + 1e-4 * x)
    >>> later = ThicknessMap(x=x, y=y, thickness=4e-4 + 1e-4 * y)
    >>> found = removal_map(first, later, diameter=0.1, site_uncertainty=3e-7)
    >>> round(found.mean * 1e6, 3), math.degrees(found.suspected_turn)
    (100.0, 90.0)
    """
    for name, value in (("diameter", diameter), ("site_uncertainty", site_uncertainty)):
        if not value > 0.0:
            raise OutOfValidRange(name, value, "more than zero")
    before, after = transformed(before), transformed(after)
    labels = after.labels or tuple(str(i + 1) for i in range(len(after.x)))
    partner = _partners(before, after, labels, site_tolerance)
    removal = before.thickness[partner] - after.thickness
    measured = np.isfinite(removal)
    if int(measured.sum()) < _LEAST_SITES:
        raise TooFewSites("A removal map", measured=int(measured.sum()), needed=_LEAST_SITES)
    x, y, taken = after.x[measured], after.y[measured], removal[measured]
    turn = _suspected_turn(
        _plane(x, y, before.thickness[partner][measured], diameter / 2),
        _plane(x, y, after.thickness[measured], diameter / 2),
        site_uncertainty,
    )
    return RemovalResult(
        removal=ThicknessMap(
            x=x,
            y=y,
            thickness=taken,
            labels=tuple(label for label, has in zip(labels, measured, strict=True) if has),
            frame=WORKED_FRAME,
        ),
        mean=float(np.mean(taken)),
        minimum=float(taken.min()),
        maximum=float(taken.max()),
        wedge=_wedge(_plane(x, y, taken, diameter / 2), math.sqrt(2.0) * site_uncertainty),
        suspected_turn=turn,
        warnings=tuple(_turn_notices(turn)),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _partners(before: ThicknessMap, after: ThicknessMap, labels: tuple[str, ...], tolerance: float) -> NDArray[np.intp]:
    nearest, away = nearest_sites(after, before)
    faults = [
        Fault(
            sentence=f"Site {label!r} of the later map is {1e3 * away[i]:.2f} mm from any site of the earlier one "
            f"(allowed {1e3 * tolerance:.2f} mm). Read the same sites before and after.",
            field=label,
        )
        for i, label in enumerate(labels)
        if away[i] > tolerance
    ]
    if faults:
        raise BadInput(faults, subject="The two maps")
    return nearest


def _plane(
    x: NDArray[np.float64], y: NDArray[np.float64], values: NDArray[np.float64], reach: float
) -> SurfaceFit | None:
    return fitted_surface(x, y, values, surface="plane", reach=reach)


def _wedge(plane: SurfaceFit | None, noise: float) -> Wedge | None:
    if plane is None:
        return None
    slope = steepest_slope(plane)
    amount = 2.0 * slope.rise
    unsure = amount <= 2.0 * noise * 2.0 * float(np.linalg.norm(slope.weights))
    return Wedge(amount=amount, azimuth=None if unsure else slope.azimuth)


def _suspected_turn(earlier: SurfaceFit | None, later: SurfaceFit | None, noise: float) -> float | None:
    """The quarter turn that brings the earlier wedge onto the later one; None when the wedges cannot tell."""
    if earlier is None or later is None:
        return None
    covariance = noise**2 * earlier.weights[1:] @ earlier.weights[1:].T
    off, both = [], []
    for quarter in range(4):
        turn = np.linalg.matrix_power(np.array([[0.0, -1.0], [1.0, 0.0]]), quarter)
        turned = turn @ earlier.coefficients[1:]
        together = covariance + turn @ covariance @ turn.T
        off.append(_squared_length(later.coefficients[1:] - turned, together))
        both.append(_squared_length(later.coefficients[1:] + turned, together))
    best = int(np.argmin(off))
    if off[best] > _SAME or both[best] < _SEEN:
        return None
    return best * math.pi / 2 if best and off[0] - off[best] > _BETTER else 0.0


def _squared_length(slopes: NDArray[np.float64], covariance: NDArray[np.float64]) -> float:
    return float(slopes @ np.linalg.solve(covariance, slopes))


def _turn_notices(turn: float | None) -> list[Notice]:
    if not turn:
        return []
    sentence = (
        f"Same wedge, turned by {math.degrees(turn):.0f} degrees: check where the flat was when the piece was read or "
        "mounted. The removal map is wrong if the piece was turned."
    )
    return [("thickness.turn_suspected", sentence)]
