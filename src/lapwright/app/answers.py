"""Use case: how do you know? From a judged number to its readings, gauge, calibration, formula and version."""

from __future__ import annotations

from dataclasses import dataclass

from lapwright import __version__
from lapwright.app.evidence import FORMULAS
from lapwright.app.verdicts import latest_verdicts
from lapwright.errors import NotFound
from lapwright.model.job import RecordedFinding, RecordedReading, RecordedSet, RecordedVerdict
from lapwright.model.readings import Calibration, Gauge
from lapwright.model.surface_record import RecordedSurface


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The chain from one judged number down to what was typed or received.

    `readings` are all readings of the set, corrected ones included; `recomputed` is the value as it comes out now, None
    when it was not asked for, and `agrees` whether it is the one judged, bit for bit.
    """

    order_id: str
    wafer_id: str
    quantity: str
    verdict: RecordedVerdict
    set: RecordedSet | None
    readings: tuple[RecordedReading, ...]
    finding: RecordedFinding | None
    surface: RecordedSurface | None
    gauge: Gauge | None
    calibration: Calibration | None
    formula: str
    version: str
    link: tuple[int, str]
    recomputed: float | None = None
    agrees: bool = False


def list_answers(order_id: str) -> tuple[tuple[str, tuple[RecordedVerdict, ...]], ...]:
    """Every judged number of an order: by wafer, the latest verdict on each quantity."""
    from lapwright.records import story_queries

    found = story_queries.order_verdicts(order_id)
    return tuple((wafer_id, latest_verdicts(verdicts)) for wafer_id, verdicts in found.items() if verdicts)


def wafer_answers(wafer_id: str) -> tuple[RecordedVerdict, ...]:
    """Every judged number of a wafer: the latest verdict on each quantity."""
    from lapwright.records import queries

    return latest_verdicts(queries.verdicts(wafer_id))


def answer(order_id: str, wafer_id: str, quantity: str, *, recompute: bool = False) -> Answer:
    """How one judged number is known. Raises `NotFound` for a quantity that was not judged."""
    from lapwright.records import queries, story_queries
    from lapwright.records.chain_check import last_link

    story = story_queries.wafer_story(wafer_id)
    verdict = next((one for one in latest_verdicts(story.verdicts) if one.verdict.limit.quantity == quantity), None)
    if story.wafer.order_id != order_id or verdict is None:
        raise NotFound(f"No {quantity} of wafer {wafer_id!r} was judged in order {order_id!r}. Start from the order.")
    taken = next((one for one in story.sets if one.set_id == verdict.set_id), None)
    finding = next((one for one in story.findings if one.finding_id == verdict.finding_id), None)
    surface_id = None if finding is None else finding.surface_id
    surface = next((one for one in story.surfaces if one.surface_id == surface_id), None)
    gauge, calibration = None, None
    if taken is not None:
        gauge = taken.surroundings.gauge
        done = [one for one in taken.surroundings.calibrations if one.done <= taken.opened.at.date()]
        calibration = done[-1] if done else None
    elif finding is not None and finding.gauge_id is not None:
        gauge, calibration, _version, _signature = queries.gauge(finding.gauge_id)
    found = _recomputed(quantity, taken, finding, surface) if recompute else None
    return Answer(
        order_id=order_id,
        wafer_id=wafer_id,
        quantity=quantity,
        verdict=verdict,
        set=taken,
        readings=() if taken is None else taken.readings,
        finding=finding,
        surface=surface,
        gauge=gauge,
        calibration=calibration,
        formula=FORMULAS.get(quantity, "") if taken is not None or surface is not None else "",
        version=__version__ if surface is None else surface.software_version,
        link=last_link(),
        recomputed=found,
        agrees=found == verdict.verdict.value,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _recomputed(
    quantity: str, taken: RecordedSet | None, finding: RecordedFinding | None, surface: RecordedSurface | None
) -> float | None:
    """The judged value from the readings, or from the face's own files; a typed value is what it is."""
    from lapwright import records
    from lapwright.app.evidence import judged_numbers
    from lapwright.app.surface_records import value_again

    if taken is not None:
        return judged_numbers(taken, records.current_settings().zero_drift_um * 1e-6).get(quantity)
    if surface is not None:
        return value_again(surface)
    return None if finding is None else finding.value
