"""Use case: when a gauge should be calibrated next by its own history, beside the recorded due date.

The recorded date is never moved by this; it is told what speaks for another. Every past deviation is put as the gauge
stands now: what later calibrations adjusted (as found less as left) is taken off. Before a calibration without an
as-found deviation nothing is known of that, so the history begins with it.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from lapwright import units
from lapwright.app.gauge_care import list_calibrations, list_checks, list_standards, passing_faults
from lapwright.app.gauges import list_gauges, show_gauge
from lapwright.app.kept_results import kept_in_parts
from lapwright.errors import CannotAnswer
from lapwright.model.readings import Calibration, Gauge

if TYPE_CHECKING:
    from lapwright.metrology.calibration_interval import GaugeDrift

BORNE_RISK = 0.05  # usual share of gauges found out at their due date; common practice, no source
DAY = 86400.0
YEAR = 365.25 * DAY


@dataclass(frozen=True, slots=True, kw_only=True)
class DueForecast:
    """What the history says of the next calibration.

    `risk` is the chance to be found out of the limit at the recorded due date, or today when it is past; `suggested`
    the day on which that reaches what is borne. Either is None when the history does not reach so far; `sentence` says
    why.
    """

    recorded: date | None
    risk: float | None
    suggested: date | None
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftLine:
    """The straight drift of a gauge with what it goes through: times [s], deviations [m], and their sources."""

    along: tuple[float, ...]
    deviation: tuple[float, ...]
    source: tuple[int, ...]
    line: GaugeDrift


@dataclass(frozen=True, slots=True, kw_only=True)
class _Evidence:
    """Deviations as the gauge stands now [m], when [s], and from which source; 0 is the calibrations."""

    along: list[float]
    deviation: list[float]
    source: list[int]
    left_out: int = 0


def due_forecast(gauge_id: str, *, on: date, borne_risk: float = BORNE_RISK) -> DueForecast:
    """Risk of a gauge to be out of its limit at its due date, and the day by which its history asks for a calibration.

    Raises `NotFound` for an unknown gauge, `OutOfValidRange` for a risk outside 0 … 1. Thin evidence is no error: the
    forecast then holds no numbers and says why.
    """
    from lapwright.metrology.calibration_interval import gauge_drift

    recorded = show_gauge(gauge_id, on=on)
    due = None if recorded.calibration is None else recorded.calibration.due
    if not recorded.gauge.limit > 0.0:
        return DueForecast(recorded=due, risk=None, suggested=None, sentence="No date is suggested: it has no limit.")
    found = _evidence(gauge_id)
    try:
        line = gauge_drift(np.array(found.along), np.array(found.deviation), source=np.array(found.source, dtype=int))
    except CannotAnswer as error:
        return DueForecast(recorded=due, risk=None, suggested=None, sentence=f"No date is suggested. {error.sentence}")
    said = _forecast(recorded.gauge, line, due=due, on=on, borne_risk=borne_risk)
    return replace(said, sentence=f"{said.sentence}{_left_out_told(found.left_out)}")


def due_forecasts(*, on: date) -> dict[str, DueForecast]:
    """What `due_forecast` tells, of every gauge by name; reckoned anew where something was written of it since."""
    names = [one.gauge.gauge_id for one in list_gauges(on=on)]
    return kept_in_parts(("due forecasts", on), names, _rests_on(names), lambda name: due_forecast(name, on=on))


def kept_forecast(gauge_id: str, *, on: date) -> DueForecast:
    """What `due_forecast` tells of a gauge there is, without looking at any other; kept in the same way."""
    rests_on = _rests_on([gauge_id])
    made = kept_in_parts(("due forecast", gauge_id, on), [gauge_id], rests_on, lambda name: due_forecast(name, on=on))
    return made[gauge_id]


def drift_line(gauge_id: str) -> DriftLine:
    """The line that a gauge's calibrations and check standards show. Raises `CannotAnswer` for too few of them."""
    from lapwright.metrology.calibration_interval import gauge_drift

    found = _evidence(gauge_id)
    line = gauge_drift(np.array(found.along), np.array(found.deviation), source=np.array(found.source, dtype=int))
    return DriftLine(along=tuple(found.along), deviation=tuple(found.deviation), source=tuple(found.source), line=line)


# ----------------------------------------------------------------------------------------------------------------------


def _rests_on(names: Collection[str]) -> dict[str, Callable[[frozenset[int]], Collection[str]]]:
    """Which of some gauges a forecast is to be made anew for, by the tables that it rests on."""
    from lapwright.records import care_queries

    return {
        "gaugecheck": care_queries.gauges_checked,
        "calibration": care_queries.gauges_calibrated,
        "gauge": lambda _keys: names,
        "checkstandard": lambda _keys: names,
    }


def _forecast(gauge: Gauge, line: GaugeDrift, *, due: date | None, on: date, borne_risk: float) -> DueForecast:
    from lapwright.metrology.calibration_interval import out_of_limit_risk, risk_reached

    told = [_drift_told(line)]
    today, reach = _seconds(on) - line.last, line.covered
    if today > reach:
        told.append("Its last deviation is longer ago than the history is long, so nothing is foretold. Calibrate it.")
        return DueForecast(recorded=due, risk=None, suggested=None, sentence=" ".join(told))
    start = max(today, 0.0)
    risk = None
    if due is not None:
        asked = max(_seconds(due) - line.last, start)
        if asked <= reach:
            risk = out_of_limit_risk(line, gauge_limit=gauge.limit, ahead=asked)
        told.append(_risk_told(risk, gauge, due=due, on=on))
    ahead = risk_reached(
        line, gauge_limit=gauge.limit, borne_risk=borne_risk, search_from=start, search_until=max(reach, start)
    )
    suggested = None if ahead is None else _day(line.last + ahead)
    end = _day(line.last + reach)
    told.append(_suggestion_told(suggested, due=due, on=on, end=end, borne_risk=borne_risk))
    return DueForecast(recorded=due, risk=risk, suggested=suggested, sentence=" ".join(told))


def _evidence(gauge_id: str) -> _Evidence:
    calibrations = sorted(list_calibrations(gauge_id), key=lambda one: one.done)
    unknown = [i for i, one in enumerate(calibrations) if one.as_found is None]
    usable = calibrations[unknown[-1] if unknown else 0 :]
    found = _Evidence(along=[], deviation=[], source=[])
    for calibration in usable:
        _put(found, _seconds(calibration.done), calibration.deviation - _adjusted_after(usable, calibration.done), 0)
    begin = usable[0].done if unknown else date.min
    values = {one.standard_id: one.value or 0.0 for one in list_standards()}
    numbers = {standard: i for i, standard in enumerate(values, start=1)}
    passing = passing_faults(gauge_id)
    for check in list_checks(gauge_id):
        day = check.signature.at.date()
        if check.standard_id in values and day >= begin and check.check_id not in passing:
            off = check.value - values[check.standard_id] - _adjusted_after(usable, day)
            _put(found, check.signature.at.timestamp(), off, numbers[check.standard_id])
    return replace(found, left_out=len(passing))


def _put(found: _Evidence, time: float, deviation: float, source: int) -> None:
    found.along.append(time)
    found.deviation.append(deviation)
    found.source.append(source)


def _adjusted_after(calibrations: list[Calibration], day: date) -> float:
    """What all calibrations after a day took off the deviation together."""
    later = itertools.dropwhile(lambda one: one.done <= day, calibrations)
    return sum(one.as_found - one.deviation for one in later if one.as_found is not None)


def _drift_told(line: GaugeDrift) -> str:
    from lapwright.metrology.distributions import student_t_quantile

    reach = student_t_quantile(0.975, line.degrees_of_freedom) * line.slope_deviation * YEAR
    sign = "+" if line.slope >= 0.0 else ""
    rate = f"{sign}{_micrometres(line.slope * YEAR)} ± {_micrometres(reach)} a year (95 %)"
    seen = "" if line.is_seen else ", which may be none"
    return f"By its calibrations and check standards over {_span(line.covered)} it drifts by {rate}{seen}."


def _risk_told(risk: float | None, gauge: Gauge, *, due: date, on: date) -> str:
    if risk is None:
        return f"The due date {due} lies farther ahead than the history is long; the risk there is not foretold."
    when = f"at the due date {due}" if due >= on else "now (it is past due)"
    return f"Risk to be found out of ± {_micrometres(gauge.limit)} {when}: {_percent(risk)}."


def _suggestion_told(suggested: date | None, *, due: date | None, on: date, end: date, borne_risk: float) -> str:
    borne = _percent(borne_risk)
    if suggested is None:
        return f"The risk stays below {borne} until {end}, as far as the history tells; no other date is suggested."
    if suggested <= on:
        return f"The risk is {borne} or more already: calibrate it now."
    said = f"The risk reaches {borne} on {suggested}: calibrate it by then"
    if due is None or suggested == due:
        return f"{said}."
    days = abs((suggested - due).days)
    side = "sooner" if suggested < due else "later"
    return f"{said}, {days} days {side} than recorded. The recorded date stays until somebody changes it."


def _left_out_told(count: int) -> str:
    if not count:
        return ""
    were = "check was" if count == 1 else "checks were"
    return f" {count} {were} wrong and right again the same day, and left out here."


def _seconds(day: date) -> float:
    return datetime.combine(day, datetime.min.time(), tzinfo=UTC).timestamp()


def _day(seconds: float) -> date:
    return (datetime.fromtimestamp(0.0, tz=UTC) + timedelta(seconds=seconds)).date()


def _span(seconds: float) -> str:
    return f"{seconds / YEAR:.1f} years" if seconds >= YEAR else f"{seconds / DAY:.0f} days"


def _percent(share: float) -> str:
    percent = 100.0 * share
    if percent < 1.0:
        return "less than 1 %"
    return "more than 99 %" if percent > 99.0 else f"{percent:.0f} %"


def _micrometres(value: float) -> str:
    return units.printed(value, "µm", "length", digits=2)
