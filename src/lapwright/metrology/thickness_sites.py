"""From a set of readings to site means: faults named all at once, zero drift taken out, repeats pooled."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, Fault, SetVoid, TooFewSites
from lapwright.metrology.outlines import is_inside
from lapwright.model.readings import Conditions, Gauge, ThicknessSet
from lapwright.model.wafer import Outline
from lapwright.units import printed

LEAST_SITES = 3
#: Something the reader must know: a stable code and a sentence.
Notice = tuple[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteMeans:
    """Means of the measured and counted sites, and what is known of the readings behind them.

    `x, y, thickness` [m] and `repeats` [1] have shape (n,); `reading_site` (index into them) and `reading_moment` [1]
    (0 at the zero before, 1 at the zero after) have one entry per reading used. `repeat_variances` [m2] holds NaN for
    a site read once. `zero_readings` counts those that were subtracted.
    """

    labels: tuple[str, ...]
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    thickness: NDArray[np.float64]
    repeats: NDArray[np.intp]
    repeat_variances: NDArray[np.float64]
    reading_site: NDArray[np.intp]
    reading_moment: NDArray[np.float64]
    zero_drift: float | None
    zero_readings: int
    warnings: tuple[Notice, ...]

    @property
    def repeat_degrees_of_freedom(self) -> int:
        """Readings beyond the first of each site."""
        return int(np.sum(self.repeats - 1))

    @property
    def repeat_deviation(self) -> float | None:
        """Standard deviation of a single reading, pooled over all sites [m]; None without repeats."""
        degrees = self.repeat_degrees_of_freedom
        if degrees < 1:
            return None
        return math.sqrt(float(np.nansum(self.repeat_variances * (self.repeats - 1))) / degrees)


def site_means(
    readings: ThicknessSet,
    *,
    outline: Outline,
    edge_exclusion: float = 0.0,
    gauge: Gauge | None = None,
    allowed_drift: float | None = None,
) -> SiteMeans:
    """Mean thickness of every measured site that counts, zero drift corrected.

    Parameters
    ----------
    readings : ThicknessSet
        All readings of one piece in the order taken; NaN where one is missing. Lengths in m.
    outline : Round, Rectangle or Polygon
        Lengths in m.
    edge_exclusion : float [m]
        Sites on the piece but inside the exclusion do not count and are named in a warning.
    gauge : Gauge, optional
        Its limit is the allowed drift unless `allowed_drift` is given.
    allowed_drift : float, optional [m]
        Largest change of zero over the set that may be corrected.

    Returns
    -------
    SiteMeans

    Raises
    ------
    BadInput
        Sites off the piece or without a place, labels used twice, two labels at one place, thickness not above zero;
        all of them listed.
    SetVoid
        The zero moved by more than allowed, or moved and nothing says how much is allowed.
    TooFewSites
        Fewer than three sites remain.

    Notes
    -----
    The zero is what the gauge shows where it should show nought; it is subtracted, running in a straight line over
    the order of the readings from `zero_before` to `zero_after`.

    Examples
    --------
    >>> from lapwright.model.wafer import Round
    >>> taken = ThicknessSet(piece="w", labels=("a", "b", "c"), x=np.array([0.0, 0.01, 0.0]),
    ...                      y=np.array([0.0, 0.0, 0.01]), site=np.array([0, 1, 2, 0]),
    ...                      thickness=np.array([5e-4, 5e-4, 5e-4, 5.02e-4]))
    >>> means = site_means(taken, outline=Round(diameter=0.05))
    >>> (means.thickness * 1e6).round(3).tolist(), means.repeats.tolist()
    ([501.0, 500.0, 500.0], [2, 1, 1])
    """
    _refuse_faults(readings, outline)
    warnings: list[Notice] = []
    moment = np.arange(1, len(readings.thickness) + 1) / (len(readings.thickness) + 1)
    thickness, drift = _without_drift(readings, moment, gauge, allowed_drift, warnings)
    counted = is_inside(outline, readings.x, readings.y, edge_exclusion=edge_exclusion)
    used = np.isfinite(thickness) & counted[readings.site]
    repeats = np.bincount(readings.site[used], minlength=len(readings.labels))
    _tell_uncounted(readings, counted, repeats, edge_exclusion, warnings)
    kept = np.flatnonzero(repeats)
    if len(kept) < LEAST_SITES:
        raise TooFewSites("Thickness variation and wedge", measured=len(kept), needed=LEAST_SITES)
    place = np.full(len(readings.labels), -1)
    place[kept] = np.arange(len(kept))
    where = place[readings.site[used]]
    means, variances = _grouped(thickness[used], where, repeats[kept])
    return SiteMeans(
        labels=tuple(readings.labels[i] for i in kept),
        x=readings.x[kept],
        y=readings.y[kept],
        thickness=means,
        repeats=repeats[kept],
        repeat_variances=variances,
        reading_site=where,
        reading_moment=moment[used],
        zero_drift=drift,
        zero_readings=_zero_readings(readings.conditions),
        warnings=tuple(warnings),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _refuse_faults(readings: ThicknessSet, outline: Outline) -> None:
    faults = [*_site_faults(readings, outline), *_reading_faults(readings)]
    if faults:
        raise BadInput(faults, subject=f"The readings of {readings.piece!r}")


def _site_faults(readings: ThicknessSet, outline: Outline) -> list[Fault]:
    faults = []
    inside = is_inside(outline, readings.x, readings.y)
    first: dict[str, int] = {}
    places: dict[tuple[float, float], str] = {}
    for i, label in enumerate(readings.labels):
        x, y = float(readings.x[i]), float(readings.y[i])
        at = f"({1e3 * x:g}, {1e3 * y:g}) mm"
        if not (math.isfinite(x) and math.isfinite(y)):
            sentence = f"Site {label!r} has no place; give x and y."
        elif label in first:
            j = first[label]
            there = f"({1e3 * readings.x[j]:g}, {1e3 * readings.y[j]:g}) mm"
            sentence = f"Site {label!r} is given twice, at {there} and at {at}; give every site one place."
        elif (x, y) in places:
            sentence = f"Sites {places[x, y]!r} and {label!r} lie at one place, {at}; give them one label."
        elif not inside[i]:
            sentence = f"Site {label!r} at {at} is not on the piece; check the outline, the place and its unit."
        else:
            sentence = ""
        first.setdefault(label, i)
        places.setdefault((x, y), label)
        if sentence:
            faults.append(Fault(sentence=sentence, field=label))
    return faults


def _reading_faults(readings: ThicknessSet) -> list[Fault]:
    values = readings.thickness
    bad = np.flatnonzero((values <= 0.0) | np.isinf(values))
    return [
        Fault(
            sentence=f"Reading {i + 1} at site {readings.labels[readings.site[i]]!r} is {1e6 * values[i]:g} µm; "
            "a thickness is a finite length above zero. Correct the reading or leave it out.",
            row=int(i) + 1,
            field=readings.labels[readings.site[i]],
        )
        for i in bad
    ]


def _without_drift(
    readings: ThicknessSet,
    moment: NDArray[np.float64],
    gauge: Gauge | None,
    allowed_drift: float | None,
    warnings: list[Notice],
) -> tuple[NDArray[np.float64], float | None]:
    """Thickness less the zero at each moment, and the drift of the zero over the set."""
    conditions: Conditions = readings.conditions
    before, after = conditions.zero_before, conditions.zero_after
    if before is None or after is None:
        known = before if before is not None else after
        if known is None:
            return readings.thickness, None
        warnings.append(
            ("thickness.drift_unknown", "The zero was read only once, so its drift over the set is not known.")
        )
        return readings.thickness - known, None
    drift = after - before
    allowed = allowed_drift if allowed_drift is not None else (gauge.limit if gauge is not None else None)
    if allowed is None and drift != 0.0:
        raise SetVoid(
            f"The zero moved {1e6 * drift:.2f} µm over the set of {readings.piece!r} and nothing says how much is "
            "allowed. Name the gauge or the allowed drift, or read the set again.",
            drift=drift,
        )
    if allowed is not None and abs(drift) > allowed:
        raise SetVoid(
            f"The zero moved {1e6 * drift:.2f} µm over the set of {readings.piece!r} (allowed {1e6 * allowed:.2f} µm); "
            "the set cannot be used. Let gauge and stand settle, zero again and read the set again.",
            drift=drift,
            allowed=allowed,
        )
    if drift != 0.0:
        moved = printed(drift, "µm", "length", digits=2)
        warnings.append(("thickness.drift_corrected", f"The zero moved {moved} over the set; taken out linearly."))
    return readings.thickness - (before + drift * moment), drift


def _zero_readings(conditions: Conditions) -> int:
    return (conditions.zero_before is not None) + (conditions.zero_after is not None)


def _tell_uncounted(
    readings: ThicknessSet,
    counted: NDArray[np.bool_],
    repeats: NDArray[np.intp],
    edge_exclusion: float,
    warnings: list[Notice],
) -> None:
    outside = [label for label, counts in zip(readings.labels, counted, strict=True) if not counts]
    if outside:
        warnings.append(
            (
                "thickness.sites_in_exclusion",
                f"Not counted, inside the edge exclusion of {1e3 * edge_exclusion:g} mm: {', '.join(outside)}.",
            )
        )
    missing = [readings.labels[i] for i in range(len(counted)) if counted[i] and repeats[i] == 0]
    if missing:
        warnings.append(("thickness.sites_missing", f"Without a reading: {', '.join(missing)}."))


def _grouped(
    values: NDArray[np.float64], where: NDArray[np.intp], repeats: NDArray[np.intp]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean and variance per site, in two passes so that a large common thickness costs no digits."""
    count = len(repeats)
    shift = values[0]
    means = shift + np.bincount(where, weights=values - shift, minlength=count) / repeats
    squares = np.bincount(where, weights=(values - means[where]) ** 2, minlength=count)
    variances = np.full(count, np.nan)
    several = repeats > 1
    variances[several] = squares[several] / (repeats[several] - 1)
    return means, variances
