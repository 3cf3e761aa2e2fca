"""Use case: when a gauge should be calibrated next by its own history, beside the recorded due date.

The recorded date is never moved by this; it is told what speaks for another.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING

from lapwright import units
from lapwright.app.gauge_evidence import GaugeEvidence, gauge_evidence, start_of_day
from lapwright.app.gauges import gauge_record, gauge_records, list_gauges, show_gauge
from lapwright.app.kept_results import kept_in_batches, kept_in_parts
from lapwright.errors import CannotAnswer

if TYPE_CHECKING:
    from lapwright.metrology.calibration_interval import GaugeDrift
    from lapwright.model.readings import Gauge
    from lapwright.model.shelf import RecordedGauge

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
class _Drift:
    """What the history of a gauge says of its drift; `line` is None where it says too little, and `why` tells so."""

    evidence: GaugeEvidence
    line: GaugeDrift | None
    why: str


def due_forecast(gauge_id: str, *, on: date, borne_risk: float = BORNE_RISK) -> DueForecast:
    """Risk of a gauge to be out of its limit at its due date, and the day by which its history asks for a calibration.

    Raises `NotFound` for an unknown gauge, `OutOfValidRange` for a risk outside 0 … 1. Thin evidence is no error: the
    forecast then holds no numbers and says why.
    """
    recorded = show_gauge(gauge_id, on=on)
    return _foretold(recorded, lambda: _drifts([gauge_id])[gauge_id], on=on, borne_risk=borne_risk)


def due_forecasts(*, on: date) -> dict[str, DueForecast]:
    """What `due_forecast` tells, of every gauge by name; reckoned anew where something was written of it since."""
    recorded = {one.gauge.gauge_id: one for one in list_gauges(on=on)}

    def made(names: Collection[str]) -> dict[str, DueForecast]:
        drifts = _drifts([name for name in names if recorded[name].gauge.limit > 0.0])
        return {name: _foretold(recorded[name], partial(drifts.__getitem__, name), on=on) for name in names}

    return kept_in_batches(("due forecasts", on), recorded, _rests_on(list(recorded)), made)


def kept_forecast(gauge_id: str, *, on: date) -> DueForecast:
    """What `due_forecast` tells of a gauge there is, without looking at any other; kept in the same way."""
    rests_on = _rests_on([gauge_id])
    made = kept_in_parts(("due forecast", gauge_id, on), [gauge_id], rests_on, lambda name: due_forecast(name, on=on))
    return made[gauge_id]


def drift_line(gauge_id: str) -> DriftLine:
    """The line that a gauge's calibrations and check standards show. Raises `CannotAnswer` for too few of them."""
    gauge_record(gauge_id)  # refuses an unknown one
    found = _drifts([gauge_id])[gauge_id]
    if found.line is None:
        raise CannotAnswer(found.why)
    told = found.evidence
    along, deviation, source = (tuple(one.tolist()) for one in (told.along, told.deviation, told.source))
    return DriftLine(along=along, deviation=deviation, source=source, line=found.line)


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


def _drifts(names: Collection[str]) -> dict[str, _Drift]:
    """What the histories of some gauges say, by name; for any day the same, and kept until something is written."""
    known = [record[0].gauge_id for record in gauge_records()]
    return kept_in_batches(("drifts of gauges",), names, _rests_on(known), _drifts_anew, are_all=False)


def _drifts_anew(names: Collection[str]) -> dict[str, _Drift]:
    from lapwright.records import care_queries

    gauges = {record[0].gauge_id: record[0] for record in gauge_records()}
    calibrations, checks = care_queries.calibrations_of(names), care_queries.checks_of(names)
    standards = care_queries.standards()
    return {name: _drift(gauge_evidence(gauges[name], calibrations[name], checks[name], standards)) for name in names}


def _drift(evidence: GaugeEvidence) -> _Drift:
    from lapwright.metrology.calibration_interval import gauge_drift

    try:
        line = gauge_drift(evidence.along, evidence.deviation, source=evidence.source)
    except CannotAnswer as error:
        return _Drift(evidence=evidence, line=None, why=error.sentence)
    return _Drift(evidence=evidence, line=line, why="")


def _foretold(
    recorded: RecordedGauge, drift: Callable[[], _Drift], *, on: date, borne_risk: float = BORNE_RISK
) -> DueForecast:
    due = None if recorded.calibration is None else recorded.calibration.due
    if not recorded.gauge.limit > 0.0:
        return DueForecast(recorded=due, risk=None, suggested=None, sentence="No date is suggested: it has no limit.")
    found = drift()
    if found.line is None:
        return DueForecast(recorded=due, risk=None, suggested=None, sentence=f"No date is suggested. {found.why}")
    said = _forecast(recorded.gauge, found.line, due=due, on=on, borne_risk=borne_risk)
    return replace(said, sentence=f"{said.sentence}{_left_out_told(found.evidence.left_out)}")


def _forecast(gauge: Gauge, line: GaugeDrift, *, due: date | None, on: date, borne_risk: float) -> DueForecast:
    from lapwright.metrology.calibration_interval import out_of_limit_risk, risk_reached

    told = [_drift_told(line)]
    today, reach = start_of_day(on) - line.last, line.covered
    if today > reach:
        told.append("Its last deviation is longer ago than the history is long, so nothing is foretold. Calibrate it.")
        return DueForecast(recorded=due, risk=None, suggested=None, sentence=" ".join(told))
    start = max(today, 0.0)
    risk = None
    if due is not None:
        asked = max(start_of_day(due) - line.last, start)
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
