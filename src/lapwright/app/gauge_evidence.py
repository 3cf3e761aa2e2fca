"""The deviations that show a gauge's drift: its calibrations and its readings of check standards, as it stands now.

What later calibrations adjusted (as found less as left) is taken off. Before a calibration without an as-found
deviation nothing is known of that, so the history begins with it. A reading that was wrong and on the same piece right
later that day is dirt or warmth and no drift: it is left out and counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from lapwright.app.check_verdicts import allowed_off
from lapwright.model.gauge_care import CheckStandard, GaugeCheck
from lapwright.model.readings import Calibration, Gauge

Floats = NDArray[np.float64]
Whole = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeEvidence:
    """Deviations as the gauge stands now [m], when [s], and from which source; 0 is the calibrations."""

    along: Floats
    deviation: Floats
    source: Whole
    left_out: int


def gauge_evidence(
    gauge: Gauge,
    calibrations: Sequence[Calibration],
    checks: tuple[GaugeCheck, ...],
    standards: Sequence[CheckStandard],
) -> GaugeEvidence:
    """What the calibrations, the earliest first, and the checks of a gauge say of its drift."""
    unknown = [i for i, one in enumerate(calibrations) if one.as_found is None]
    usable = calibrations[unknown[-1] if unknown else 0 :]
    begin = usable[0].done if unknown else date.min
    ends = np.array([one.done.toordinal() for one in usable], dtype=np.intp)
    adjusted = np.array([_adjusted(usable[first:]) for first in range(len(usable) + 1)])
    columns = _columns_of(gauge.gauge_id, checks)
    numbers = {one.standard_id: number for number, one in enumerate(standards, start=1)}
    source = np.array([numbers.get(name or "", 0) for name in columns.standards], dtype=np.intp)
    passing = _passing(columns, source, gauge, standards)
    used = (source > 0) & (columns.days >= begin.toordinal()) & ~passing
    true = np.array([0.0, *(one.value or 0.0 for one in standards)])
    off = columns.values - true[source] - adjusted[np.searchsorted(ends, columns.days, side="right")]
    left = [one.deviation for one in usable] - adjusted[np.searchsorted(ends, ends, side="right")]
    return GaugeEvidence(
        along=np.concatenate([[start_of_day(one.done) for one in usable], columns.times[used]]),
        deviation=np.concatenate([left, off[used]]),
        source=np.concatenate([np.zeros(len(usable), dtype=np.intp), source[used]]),
        left_out=int(np.count_nonzero(passing)),
    )


def start_of_day(day: date) -> float:
    """The beginning of a day in seconds since 1970."""
    return datetime.combine(day, datetime.min.time(), tzinfo=UTC).timestamp()


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Columns:
    """The checks of a gauge as arrays: moment [s], day, value [m], and the names of their standards."""

    checks: tuple[GaugeCheck, ...]
    times: Floats
    days: Whole
    values: Floats
    standards: tuple[str | None, ...]


_NONE = _Columns((), np.empty(0), np.empty(0, dtype=np.intp), np.empty(0), ())
_known: dict[str, _Columns] = {}  # by gauge
_lock = Lock()


def _columns_of(gauge_id: str, checks: tuple[GaugeCheck, ...]) -> _Columns:
    """The checks as arrays; those that the gauge had before are not gone through again."""
    with _lock:
        before = _known.get(gauge_id, _NONE)
    if checks[: len(before.checks)] != before.checks:
        before = _NONE
    came = checks[len(before.checks) :]
    made = _Columns(
        checks,
        np.append(before.times, [one.signature.at.timestamp() for one in came]),
        np.append(before.days, np.array([one.signature.at.date().toordinal() for one in came], dtype=np.intp)),
        np.append(before.values, [one.value for one in came]),
        (*before.standards, *(one.standard_id for one in came)),
    )
    with _lock:
        _known[gauge_id] = made
    return made


def _passing(columns: _Columns, source: Whole, gauge: Gauge, standards: Sequence[CheckStandard]) -> NDArray[np.bool_]:
    """Where a reading was wrong, and on the same piece right later that day."""
    true = np.array([np.nan, *(np.nan if one.value is None else one.value for one in standards)])
    allowed = np.array([np.nan, *(allowed_off(gauge, one) for one in standards)])
    off = np.abs(columns.values - true[source])
    is_right, is_wrong = off <= allowed[source], off > allowed[source]
    found = np.zeros(source.shape, dtype=np.bool_)
    for place in np.flatnonzero(is_wrong):
        later = slice(place + 1, None)
        alike = (source[later] == source[place]) & (columns.days[later] == columns.days[place])
        found[place] = bool(np.any(alike & is_right[later]))
    return found


def _adjusted(calibrations: Sequence[Calibration]) -> float:
    """What some calibrations took off the deviation together."""
    return sum(one.as_found - one.deviation for one in calibrations if one.as_found is not None)
