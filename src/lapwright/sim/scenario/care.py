"""Care of the gauges: calibrations of the years before, two studies, a check standard read every morning.

When a set turns out void the standard is read at once and again after the gauge has rested, so that everybody sees
whether it was the gauge. Last of all one carrier is read with both gauges.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

import numpy as np

from lapwright.app import gauge_care, gauge_studies, gauges, people
from lapwright.model.gauge_care import RecordedStudy, StudyRequest
from lapwright.model.readings import Calibration
from lapwright.model.shelf import PersonCard
from lapwright.sim import cast
from lapwright.sim.gauge_life import deviation_now, yearly_calibrations
from lapwright.sim.gauges import readings
from lapwright.sim.room import temperature
from lapwright.sim.scenario.day import Day
from lapwright.sim.scenario.visit import DECIMALS
from lapwright.sim.shop import stream

WHO = cast.ENGINEER.name
YEAR = timedelta(days=365)
TOUCHES = 5  # of a check standard; their mean is written down
WEEKS = 12  # of the check standard before the order


def look_back(day: Day) -> None:
    """What stood in the books when the order came: people, gauges, calibrations, checks, studies."""
    day.tell("gauges: calibrations, checks and studies of the time before")
    begin = day.calendar.at(cast.CARE_SINCE)
    for person in cast.PEOPLE:
        people.add_person(person.name, person.full_name, by="local", reason="works here", at=begin)
    for gauge in cast.GAUGES:
        gauges.register_gauge(gauge, by=WHO, reason="in use", at=begin)
    for calibration in map(day.calendar.calibration, cast.CALIBRATIONS):
        for one in _years_of(day, calibration):
            at = datetime.combine(one.done + timedelta(days=1), day.calendar.first_morning.timetz())
            gauges.record_calibration(one, by=WHO, reason="certificate filed", at=at)
    gauge_care.register_standard(cast.STANDARD, by=WHO, reason="certificate filed", at=begin)
    for week in range(WEEKS, 0, -1):
        for gauge in cast.GAUGES:
            _check(day, gauge.gauge_id, who=cast.TECHNICIAN, at=day.calendar.first_morning - timedelta(weeks=week))
    for gauge in cast.GAUGES:
        _study(day, gauge.gauge_id)


def check_in_the_morning(day: Day) -> None:
    """The standard read with both gauges, once a day, before anything else is read."""
    if day.count("morning", day.now.date().isoformat()) == 1:
        for gauge in cast.GAUGES:
            _check(day, gauge.gauge_id, who=cast.ENGINEER, at=day.now)


def check_after_void(day: Day, gauge_id: str, *, who: PersonCard, rested: bool) -> None:
    """The standard read with the gauge as it stands, or after it has rested and was set to zero."""
    since = day.time_of_day if rested else day.shop.zeroed[gauge_id]
    warmed = temperature(day.shop.room, day.time_of_day) - temperature(day.shop.room, since)
    _check(day, gauge_id, who=who, at=day.now, warmed=warmed)
    judged = gauge_care.checks_judged(gauge_id)[-1]
    if not judged.good:
        day.catch("gauge off its standard", gauge_id, judged.sentence)


# ----------------------------------------------------------------------------------------------------------------------


def _years_of(day: Day, latest: Calibration) -> Iterator[Calibration]:
    """The latest calibration and those of the years before it, as the laboratory wrote them."""
    rng = stream(day.shop.seed, "calibrations", latest.gauge_id)
    seen = yearly_calibrations(cast.AGEING[latest.gauge_id], years=cast.YEARS, last_left=latest.deviation, rng=rng)
    for age, (found, left) in zip(range(cast.YEARS - 1, -1, -1), seen, strict=True):
        done = latest.done - age * YEAR
        yield Calibration(
            gauge_id=latest.gauge_id,
            certificate=latest.certificate.replace(f"-{latest.done:%y}-", f"-{latest.done.year % 100 - age:02d}-"),
            done=done,
            due=latest.due - age * YEAR,
            deviation=round(left * 1e6, 2) / 1e6,
            expanded_uncertainty=latest.expanded_uncertainty,
            as_found=round(found * 1e6, 2) / 1e6,
            interval_days=YEAR.days,
        )


def _check(day: Day, gauge_id: str, *, who: PersonCard, at: datetime, warmed: float = 0.0) -> None:
    """The mean of a few touches on the standard, typed."""
    gauge = day.shop.gauges[gauge_id]
    ago = (day.calendar.first_morning - at).total_seconds() / YEAR.total_seconds()
    older = deviation_now(cast.AGEING[gauge_id], last=gauge.offset, ago=ago) - gauge.offset
    rng = stream(day.shop.seed, "check", gauge_id, day.count("check", gauge_id))
    touched = readings(
        gauge,
        np.array([cast.STANDARD_TRUE + older]),
        rng=rng,
        repeats=TOUCHES,
        warmed=warmed,
        hand=cast.HANDS[who.name],
    )
    text = f"{touched.mean() * 1e6:.2f} µm"
    gauge_care.record_check(
        gauge_id, cast.STANDARD.standard_id, text, by=who.name, reason=f"mean of {TOUCHES} touches", at=at
    )


def _study(day: Day, gauge_id: str) -> None:
    """Ten pieces of the size that is measured here, read by all three people, twice, in random order."""
    plan = StudyRequest(
        study_id=f"{gauge_id}-S1",
        gauge_id=gauge_id,
        parts=cast.STUDY_PARTS,
        operators=tuple(person.name for person in cast.PEOPLE),
        repeats=2,
        seed=day.shop.seed,
        tolerance=cast.STUDY_TOLERANCE,
    )
    at = day.calendar.at(cast.STUDY_MORNING[gauge_id])
    study = gauge_studies.plan_study(plan, by=WHO, reason="before the new order", at=at)
    for text, who in _read_sheet(day, study):
        at += timedelta(minutes=1)
        gauge_studies.record_study_reading(plan.study_id, text, by=who, reason="read as the sheet says", at=at)
    gauge_studies.file_study(plan.study_id, by=WHO, reason="all lines read", at=at + timedelta(minutes=5))


def _read_sheet(day: Day, study: RecordedStudy) -> Iterator[tuple[str, str]]:
    """What the display shows at each line of the sheet, and to whom."""
    pieces = stream(day.shop.seed, "study pieces")
    spread = cast.STUDY_SPREAD * pieces.standard_normal(len(cast.STUDY_PARTS))
    true = dict(zip(cast.STUDY_PARTS, (cast.ORDER.target_thickness + spread).tolist(), strict=True))
    gauge = day.shop.gauges[study.plan.gauge_id]
    rng = stream(day.shop.seed, "study", study.plan.study_id)
    digits = DECIMALS[gauge.gauge_id]
    for line in study.plan.sheet:
        shown = readings(gauge, np.array([true[line.part]]), rng=rng, hand=cast.HANDS[line.operator])
        yield f"{float(shown[0, 0]) * 1e6:.{digits}f}", line.operator
