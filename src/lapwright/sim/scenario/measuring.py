"""Measuring a piece until the program is content: a void set is taken again, a site that stands out is read again."""

from __future__ import annotations

from dataclasses import dataclass, replace

from lapwright.app import readings
from lapwright.errors import SetVoid
from lapwright.metrology.thickness import ThicknessResult
from lapwright.model.job import RecordedSet
from lapwright.sim.fields import Field
from lapwright.sim.scenario.care import check_after_void
from lapwright.sim.scenario.day import Day
from lapwright.sim.scenario.filing import file_in
from lapwright.sim.scenario.keying import key_in
from lapwright.sim.scenario.visit import Visit

REST = 60.0  # min until a void set is taken again
ATTEMPTS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A closed set and what the program says of it."""

    recorded: RecordedSet
    result: ThicknessResult


def measure(day: Day, visit: Visit) -> Taken:
    """A set that the program lets stand.

    Sites that stand out again in the next set are the piece's own. Raises `SetVoid` when no attempt brought a usable
    set.
    """
    stood_out: set[str] = set()
    for _ in range(ATTEMPTS):
        recorded = key_in(day, visit) if visit.sites is None else file_in(day, visit, visit.sites)
        visit = replace(visit, minutes=8.0, dirt=Field(), slips={})
        try:
            result = readings.set_result(recorded.set_id)
        except SetVoid as void:
            day.catch("drifting gauge", f"{visit.request.gauge_id}, {visit.request.piece}", void.sentence)
            check_after_void(day, visit.request.gauge_id, who=visit.who, rested=False)
            _declare_void(day, visit, recorded, void.sentence)
            day.wait(minutes=REST)
            check_after_void(day, visit.request.gauge_id, who=visit.who, rested=True)
            continue
        suspects = {suspect.label: suspect.reason for suspect in result.outliers}
        if not set(suspects) - stood_out:
            return Taken(recorded=recorded, result=result)
        stood_out |= set(suspects)
        sentence = "; ".join(f"Site {label}: {reason}" for label, reason in suspects.items())
        day.catch("site stands out", visit.request.piece, sentence)
        _declare_void(day, visit, recorded, f"Cleaned and read again. {sentence}")
    raise SetVoid(f"{visit.request.piece} could not be read in {ATTEMPTS} attempts.")


# ----------------------------------------------------------------------------------------------------------------------


def _declare_void(day: Day, visit: Visit, recorded: RecordedSet, why: str) -> None:
    readings.void_set(recorded.set_id, by=visit.who.name, reason=why, at=day.wait(minutes=1.0))
