"""What a recorded set holds: its sites, its valid readings, its progress, its result. Nothing is written here."""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from lapwright.app.kept_results import kept_result
from lapwright.app.plausibility import Known, question_about, question_about_zero
from lapwright.model.job import ReadingKind, RecordedReading, RecordedSet, SetProgress
from lapwright.model.readings import Gauge, Reading, Subject, ThicknessSet
from lapwright.model.request import SetRequest
from lapwright.model.wafer import WORKED_FRAME, Frame, Outline, Round, SitePattern, ThicknessMap
from lapwright.units import find_unit, from_unit, number, parse

if TYPE_CHECKING:
    from lapwright.metrology.thickness import ThicknessResult

#: What is typed at a site that cannot be read.
NOT_MEASURED = ("-", "–")
_UNIT = re.compile(r"\s*[+-]?[\d.,\u2009\u202f\u00a0]+(?:[eE][+-]?\d+)?\s*(.*?)\s*")


def pattern_of(request: SetRequest) -> SitePattern:
    """The sites of a set, from the name of the pattern and the outline of the piece."""
    from lapwright.metrology.site_patterns import named_pattern
    from lapwright.records import queries

    outline, edge_exclusion = outline_of(request.subject, request.piece)
    if request.subject == "carrier" and request.order_id is not None:
        order = queries.order(request.order_id).order
        outline, edge_exclusion = order.outline, order.edge_exclusion
    return named_pattern(request.pattern, outline, edge_exclusion=edge_exclusion)


def outline_of(subject: Subject, piece: str) -> tuple[Outline, float]:
    """Outline and edge exclusion of a piece: of a carrier its disc, of a stack that of the wafer on it."""
    from lapwright.records import queries

    if subject == "carrier":
        return Round(diameter=queries.carrier_itself(piece).diameter), 0.0
    wafer = queries.wafer(piece)
    return wafer.wafer.outline, queries.order(wafer.order_id).order.edge_exclusion


def length_of(text: str, unit: str) -> tuple[float, str]:
    """A length as entered, in m, and the unit it was in; a bare number is in the set's unit, '-' was not measured."""
    cleaned = text.strip()
    if cleaned in NOT_MEASURED:
        return math.nan, unit
    found = _UNIT.fullmatch(cleaned)
    if found is None or not found[1]:
        return from_unit(number(cleaned), find_unit(unit, "length")), unit
    return parse(cleaned, "length"), found[1]


def valid_readings(recorded: RecordedSet, kind: ReadingKind) -> tuple[RecordedReading, ...]:
    """The readings of a kind that have not been corrected, in the place of those they correct."""
    places = {one.reading.reading_id: one.sequence for one in recorded.readings}
    by_id = {one.reading.reading_id: one for one in recorded.readings}

    def place(one: RecordedReading) -> int:
        while one.reading.corrects is not None:
            one = by_id[one.reading.corrects]
        return places[one.reading.reading_id]

    standing = [one for one in recorded.readings if one.kind == kind and one.replaced_by is None]
    return tuple(sorted(standing, key=place))


def repeats_taken(recorded: RecordedSet, site: str) -> int:
    """How often a site has been read, corrections not counted."""
    return sum(one.kind == "site" and one.reading.site == site for one in valid_readings(recorded, "site"))


def zero_of(recorded: RecordedSet, kind: ReadingKind) -> float | None:
    """Mean of the zero readings before or after a set [m], None when there are none."""
    values = [one.reading.thickness for one in valid_readings(recorded, kind)]
    return math.fsum(values) / len(values) if values else None


def progress_of(recorded: RecordedSet) -> SetProgress:
    """What a set expects next: sites in the pattern's order, all of them once, then all of them again."""
    standing = valid_readings(recorded, "site")
    counts = Counter(one.reading.site for one in standing)
    wanted = len(recorded.pattern.labels) * recorded.repeats
    taken = sum(min(counts[label], recorded.repeats) for label in recorded.pattern.labels)
    kinds = {one.kind for one in recorded.readings}
    if recorded.state != "open":
        return SetProgress(expected="nothing", site=None, repeat=None, taken=taken, wanted=wanted)
    if recorded.zero_wanted and not kinds:
        return SetProgress(expected="zero_before", site=recorded.pattern.labels[0], repeat=1, taken=0, wanted=wanted)
    for repeat in range(1, recorded.repeats + 1):
        for label in recorded.pattern.labels:
            if counts[label] < repeat:
                return SetProgress(expected="site", site=label, repeat=repeat, taken=taken, wanted=wanted)
    expected = "zero_after" if "zero_before" in kinds and "zero_after" not in kinds else "close"
    return SetProgress(expected=expected, site=None, repeat=None, taken=taken, wanted=wanted)  # type: ignore[arg-type]


def thickness_set(recorded: RecordedSet) -> ThicknessSet:
    """The valid readings of a set as arrays: corrections in place of what they correct."""
    standing = valid_readings(recorded, "site")
    places = {label: index for index, label in enumerate(recorded.pattern.labels)}
    conditions = recorded.conditions
    return ThicknessSet(
        piece=recorded.piece,
        labels=recorded.pattern.labels,
        x=recorded.pattern.x,
        y=recorded.pattern.y,
        site=np.array([places[one.reading.site] for one in standing], dtype=np.intp),
        thickness=np.array([one.reading.thickness for one in standing], dtype=np.float64),
        conditions=conditions,
        gauge=recorded.gauge_id,
        operator=recorded.opened.by,
    )


def result_of(recorded: RecordedSet, *, frame: Frame = WORKED_FRAME) -> ThicknessResult:
    """Thickness, TTV, wedge and their uncertainties of a set, corrected by the gauge's curve where it has one.

    The correction is a line of the budgets and a notice of the result; the recorded readings stay as they are.
    """
    from lapwright import records

    drift = records.current_settings().zero_drift_um * 1e-6
    return kept_result(recorded, frame, lambda: computed(recorded, frame, allowed_drift=drift))


def computed(recorded: RecordedSet, frame: Frame, *, allowed_drift: float) -> ThicknessResult:
    """The result of a set from what it holds alone; `allowed_drift` of the gauge's zero [m] is corrected."""
    from lapwright.app.gauge_correction import corrected_set
    from lapwright.metrology.thickness import thickness_statistics

    around = recorded.surroundings
    corrected = corrected_set(recorded, thickness_set(recorded))
    result = thickness_statistics(
        corrected.readings,
        outline=around.outline,
        edge_exclusion=around.edge_exclusion,
        gauge=around.gauge,
        allowed_drift=allowed_drift,
        frame=frame,
        further_contributions=corrected.contributions,
    )
    return replace(result, warnings=(*result.warnings, *corrected.notices)) if corrected.notices else result


def sites_of(recorded: RecordedSet, *, frame: Frame = WORKED_FRAME) -> ThicknessMap:
    """The site means of a set, as its result has them, without the rest of it."""
    from lapwright import records
    from lapwright.app.gauge_correction import corrected_set
    from lapwright.metrology.thickness_sites import site_means

    around = recorded.surroundings
    found = site_means(
        corrected_set(recorded, thickness_set(recorded)).readings,
        outline=around.outline,
        edge_exclusion=around.edge_exclusion,
        gauge=around.gauge,
        allowed_drift=records.current_settings().zero_drift_um * 1e-6,
    )
    return ThicknessMap(x=found.x, y=found.y, thickness=found.thickness, labels=found.labels, frame=frame)


def noise_of(gauge: Gauge) -> float:
    """The least scatter that a reading of a gauge has [m]."""
    return max(gauge.repeatability or 0.0, gauge.local or 0.0, gauge.limit / 3.0, gauge.resolution, 1e-8)


def question_of(recorded: RecordedSet, reading: Reading) -> str | None:
    """The question to ask about a reading of a set, or None."""
    from lapwright import records

    if math.isnan(reading.thickness):
        return None
    others = [
        one.reading
        for one in valid_readings(recorded, "site")
        if one.reading.reading_id != reading.corrects and not math.isnan(one.reading.thickness)
    ]
    known = Known(
        x=np.array([one.x for one in others]),
        y=np.array([one.y for one in others]),
        thickness=np.array([one.thickness for one in others]),
        pieces=_other_pieces(recorded),
        noise=noise_of(recorded.surroundings.gauge),
        nominal=_nominal(recorded),
        sigmas=records.current_settings().question_sigma,
    )
    return question_about(reading.thickness, reading.x, reading.y, known)


def question_of_zero(recorded: RecordedSet, zero: float, kind: ReadingKind) -> str | None:
    """The question to ask about a zero of a set, or None."""
    before = zero_of(recorded, "zero_before") if kind == "zero_after" else None
    return question_about_zero(zero, before=before, size=_size(recorded))


# ----------------------------------------------------------------------------------------------------------------------


def _size(recorded: RecordedSet) -> float | None:
    """About how thick what is read is: the carrier alone where it is under the wafer, None where nothing tells."""
    from lapwright.records import queries

    if recorded.subject != "stack" or recorded.wafer_id is None:
        return _nominal(recorded)
    carrier_id = queries.wafer(recorded.wafer_id).carrier_id
    return None if carrier_id is None else queries.carrier_itself(carrier_id).nominal_thickness


def _other_pieces(recorded: RecordedSet) -> list[np.ndarray]:
    from lapwright.records import queries

    if recorded.order_id is None or recorded.moment not in ("incoming", "final"):
        return []
    found = queries.site_values(recorded.order_id, recorded.moment, besides=recorded.piece)
    return [np.array(values) for values in found if values]


def _nominal(recorded: RecordedSet) -> float | None:
    from lapwright.records import queries

    if recorded.subject == "carrier":
        return queries.carrier_itself(recorded.piece).nominal_thickness
    if recorded.subject == "stack":
        return _stack_nominal(recorded)
    if recorded.moment == "incoming":
        return queries.wafer(recorded.piece).wafer.nominal_thickness
    if recorded.moment == "final" and recorded.order_id is not None:
        return queries.order(recorded.order_id).order.target_thickness
    return None


def _stack_nominal(recorded: RecordedSet) -> float | None:
    """Carrier and wafer together, the wafer as it came, as ordered, or while it is worked between the two."""
    from lapwright.records import queries

    if (carrier := _size(recorded)) is None or recorded.order_id is None:
        return None
    order = queries.order(recorded.order_id).order
    ends = {"stack": (order.start_thickness,), "on_carrier": (order.target_thickness,)}
    wafer = ends.get(recorded.moment, (order.start_thickness, order.target_thickness))
    return carrier + sum(wafer) / len(wafer)
