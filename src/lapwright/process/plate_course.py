"""Shape of a plate over its running time: how fast it grows domed or dished, and when it must be looked at again.

Time is running time: a plate at rest keeps its shape. Between two checks the plate ran in one or more legs, each with
the ring at one place; dressing begins anew. A trend is told for the checks since ring and speeds were last changed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange

SEEN = 3.0  # standard uncertainties: a trend beyond them is real (a chance of 1 in 370 when there is none)
_WORST_CASE = 2.0  # standard uncertainties by which the dome may already be worse than found


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """A time of running with the ring at one place: offset [m], speed of the jig over the plate's, duration [s]."""

    offset: float
    duration: float
    speed_ratio: float = 1.0

    def __post_init__(self) -> None:
        if not self.duration >= 0.0:
            raise OutOfValidRange("duration", self.duration, "zero or more [s]")


@dataclass(frozen=True, slots=True, kw_only=True)
class DomeAt:
    """A check: dome with standard uncertainty [m], and how the plate ran since the check before it.

    `dressed` when the plate was dressed or faced in that time: nothing is then concluded from the change.
    """

    dome: float
    dome_uncertainty: float
    legs: tuple[Leg, ...] = ()
    dressed: bool = False

    def __post_init__(self) -> None:
        if not self.dome_uncertainty > 0.0:
            raise OutOfValidRange("dome_uncertainty", self.dome_uncertainty, "more than zero [m]")

    @property
    def ran(self) -> float:
        """Running time since the check before [s]."""
        return math.fsum(leg.duration for leg in self.legs)


class _Between(Protocol):
    """What lies between a check and the one before it."""

    @property
    def legs(self) -> tuple[Leg, ...]: ...

    @property
    def dressed(self) -> bool: ...


Between = TypeVar("Between", bound=_Between)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateTrend:
    """How a plate stands and where it goes. SI.

    `dome` now with its standard uncertainty; `dome_rate` [m/s of running] with its own, None while one check since the
    last change tells nothing of it. `checks` counts those that the trend rests on, `is_moving` says whether it is seen.
    """

    dome: float
    dome_uncertainty: float
    dome_rate: float | None
    dome_rate_uncertainty: float | None
    checks: int
    is_moving: bool


def running_times(course: Sequence[DomeAt]) -> NDArray[np.float64]:
    """Running time of a plate at each of its checks, from the first.

    Parameters
    ----------
    course : sequence of DomeAt
        Checks in their order.

    Returns
    -------
    float array, shape (n,) [s]

    Examples
    --------
    >>> leg = Leg(offset=0.1, duration=3600.0)
    >>> running_times([DomeAt(dome=0.0, dome_uncertainty=1e-6), DomeAt(dome=0.0, dome_uncertainty=1e-6, legs=(leg,))])
    array([   0., 3600.])
    """
    steps = [0.0 if number == 0 else check.ran for number, check in enumerate(course)]
    return np.cumsum(np.asarray(steps, dtype=np.float64))


def plate_trend(course: Sequence[DomeAt]) -> PlateTrend:
    r"""Where a plate stands and how fast its dome grows, from the checks since ring and speeds were last changed.

    Parameters
    ----------
    course : sequence of DomeAt
        Checks in their order, at least one.

    Returns
    -------
    PlateTrend

    Raises
    ------
    OutOfValidRange
        No check.

    Notes
    -----
    A straight line through dome against running time, each check weighted by its stated uncertainty; the dome now is
    that of the line at the last check. Seen means a rate beyond three times its standard uncertainty. The uncertainty
    is the stated one, not the scatter about the line: two checks have no scatter.

    Examples
    --------
    >>> leg = Leg(offset=0.1, duration=7200.0)
    >>> course = [DomeAt(dome=h * 1e-6, dome_uncertainty=5e-7, legs=(leg,)) for h in (0.0, 6.0, 12.0)]
    >>> found = plate_trend(course)
    >>> round(found.dome_rate * 3600e6, 3), found.is_moving
    (3.0, True)
    """
    if not course:
        raise OutOfValidRange("number of checks", 0, "at least one")
    recent = since_last_change(course)
    last = recent[-1]
    times = running_times(recent)
    if len(recent) < 2 or not times[-1] > 0.0:
        return PlateTrend(
            dome=last.dome, dome_uncertainty=last.dome_uncertainty, dome_rate=None, dome_rate_uncertainty=None,
            checks=len(recent), is_moving=False,
        )  # fmt: skip
    weights = np.array([1.0 / check.dome_uncertainty for check in recent])
    design = np.column_stack([np.ones_like(times), times - times[-1]]) * weights[:, None]
    values = np.array([check.dome for check in recent]) * weights
    scale = np.array([1.0, 1.0 / times[-1]])  # seconds against metres: keep the normal matrix well conditioned
    covariance = np.linalg.inv((design * scale).T @ (design * scale)) * np.outer(scale, scale)
    level, rate = covariance @ design.T @ values
    doubt = float(np.sqrt(covariance[1, 1]))
    return PlateTrend(
        dome=float(level),
        dome_uncertainty=float(np.sqrt(covariance[0, 0])),
        dome_rate=float(rate),
        dome_rate_uncertainty=doubt,
        checks=len(recent),
        is_moving=bool(abs(rate) > SEEN * doubt),
    )


def since_last_change(course: Sequence[Between]) -> list[Between]:
    """The checks at the end that stand in one line: nothing dressed, ring and ratio the same in all legs between.

    Parameters
    ----------
    course : sequence of DomeAt, or of anything else with legs and dressed
        Checks in their order, at least one.

    Returns
    -------
    list of the same

    Examples
    --------
    >>> legs = [(Leg(offset=place, duration=3600.0),) for place in (0.1, 0.1, 0.11, 0.11)]
    >>> course = [DomeAt(dome=0.0, dome_uncertainty=1e-6, legs=one) for one in legs]
    >>> len(since_last_change(course))
    3
    """
    recent: list[Between] = [course[-1]]
    settings: set[tuple[float, float]] | None = None
    for earlier, later in zip(course[-2::-1], course[:0:-1], strict=True):
        here = {(round(leg.offset, 6), round(leg.speed_ratio, 4)) for leg in later.legs if leg.duration > 0.0}
        known = here if settings is None else settings | here
        if later.dressed or len(known) > 1:
            break
        settings = known
        recent.insert(0, earlier)
    return recent


def time_to_next_check(trend: PlateTrend, *, dome_limit: float | None, longest: float) -> float:
    r"""Running time until a plate must be looked at again.

    Parameters
    ----------
    trend : PlateTrend
        Where it stands and where it goes.
    dome_limit : float or None [m]
        Largest dome allowed, of either sign; None for none.
    longest : float [s]
        Longest time between checks, more than zero.

    Returns
    -------
    float [s]
        Zero when it is due now.

    Raises
    ------
    OutOfValidRange
        A limit or a time that is not above zero.

    Notes
    -----
    The first time at which :math:`|S + \dot S t| + 2\sqrt{u^2 + (u_{\dot S} t)^2}` may have reached the limit, at most
    `longest`. A rate that is not seen counts with its uncertainty all the same.

    Examples
    --------
    >>> trend = PlateTrend(dome=6e-6, dome_uncertainty=5e-7, dome_rate=3e-6 / 3600, dome_rate_uncertainty=1e-12,
    ...                    checks=3, is_moving=True)
    >>> round(time_to_next_check(trend, dome_limit=12e-6, longest=12 * 3600.0) / 3600, 1)
    1.7
    """
    if not longest > 0.0:
        raise OutOfValidRange("longest", longest, "more than zero [s]")
    if dome_limit is None:
        return longest
    if not dome_limit > 0.0:
        raise OutOfValidRange("dome_limit", dome_limit, "more than zero [m]")
    times = np.linspace(0.0, longest, 1441)
    rate, doubt = trend.dome_rate or 0.0, trend.dome_rate_uncertainty or 0.0
    worst = np.abs(trend.dome + rate * times) + _WORST_CASE * np.hypot(trend.dome_uncertainty, doubt * times)
    beyond = np.flatnonzero(worst >= dome_limit)
    return float(times[beyond[0]]) if beyond.size else longest
