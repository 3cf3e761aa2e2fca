"""Keying in a set, reading by reading: zero, the sites in the order asked for, zero; answering what is asked back."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from lapwright.app import readings
from lapwright.model.job import ReadingAnswer, RecordedSet
from lapwright.sim.scenario.day import Day
from lapwright.sim.scenario.visit import Visit, as_shown, conditions_now, shown_by_gauge
from lapwright.sim.shop import TakenSet


def key_in(day: Day, visit: Visit) -> RecordedSet:
    """A set keyed in and closed."""
    request = replace(visit.request, conditions=conditions_now(day, visit))
    reason = f"{request.moment.replace('_', '-')} readings"
    recorded = readings.open_set(request, by=visit.who.name, reason=reason, at=day.now)
    shown = shown_by_gauge(day, visit, recorded.pattern)
    _read_zero(day, visit, recorded, when="before", value=shown.zero_before)
    _read_sites(day, visit, recorded, shown)
    _heed_suspects(day, visit, recorded)
    _read_zero(day, visit, recorded, when="after", value=shown.zero_after)
    return readings.close_set(recorded.set_id, by=visit.who.name, reason="all sites read", at=day.wait(minutes=1.0))


# ----------------------------------------------------------------------------------------------------------------------


def _read_zero(
    day: Day, visit: Visit, recorded: RecordedSet, *, when: Literal["before", "after"], value: float
) -> None:
    text = as_shown(value, visit.request.gauge_id)
    readings.record_zero(recorded.set_id, text, when=when, by=visit.who.name, reason=f"zero {when}", at=day.now)


def _read_sites(day: Day, visit: Visit, recorded: RecordedSet, shown: TakenSet) -> None:
    """Key in the sites in the order the program asks for them."""
    places = {label: index for index, label in enumerate(recorded.pattern.labels)}
    slips = dict(visit.slips)
    progress = readings.set_progress(readings.show_set(recorded.set_id))
    while progress.expected == "site":
        assert progress.site is not None
        assert progress.repeat is not None
        text = as_shown(float(shown.readings[progress.repeat - 1, places[progress.site]]), visit.request.gauge_id)
        typed = slips.pop(progress.site, text)
        progress = _offered(day, visit, recorded, typed=typed, again=text).progress
        day.wait(minutes=visit.minutes / shown.readings.size)


def _offered(day: Day, visit: Visit, recorded: RecordedSet, *, typed: str, again: str) -> ReadingAnswer:
    """A reading offered; when the program asks back, the gauge is looked at again and what it shows is kept."""
    who = visit.who.name
    answer = readings.record_reading(recorded.set_id, typed, by=who, reason="reading", at=day.now)
    if answer.question is None:
        return answer
    day.catch("questioned at entry", visit.request.piece, answer.question)
    return readings.record_reading(
        recorded.set_id, again, confirmed=typed == again, by=who, reason="looked again when asked", at=day.now
    )


def _heed_suspects(day: Day, visit: Visit, recorded: RecordedSet) -> None:
    """Clean stand and piece and read again each site the program suspects; corrections, the first readings stay."""
    suspects = readings.set_result(recorded.set_id).outliers
    if not suspects:
        return
    clean = shown_by_gauge(day, replace(visit, dirt=type(visit.truth)(), minutes=1.0), recorded.pattern)
    places = {label: index for index, label in enumerate(recorded.pattern.labels)}
    for suspect in suspects:
        day.catch("site stands out", visit.request.piece, f"Site {suspect.label}: {suspect.reason}")
        for taken in readings.show_set(recorded.set_id).readings:
            if taken.kind != "site" or taken.reading.site != suspect.label or taken.replaced_by is not None:
                continue
            assert taken.reading.reading_id is not None
            value = float(clean.readings[taken.reading.repeat - 1, places[suspect.label]])
            readings.correct_reading(
                recorded.set_id,
                taken.reading.reading_id,
                as_shown(value, visit.request.gauge_id),
                confirmed=True,
                by=visit.who.name,
                reason="stand cleaned, site read again",
                at=day.wait(minutes=0.3),
            )
