"""Reading what is recorded of the care of gauges: standards, calibrations, checks, zeros and studies."""

from __future__ import annotations

import math
from collections.abc import Collection
from datetime import datetime

from django.db.models import Max, QuerySet

from lapwright.model.gauge_care import (
    CheckStandard,
    GaugeCheck,
    RecordedStudy,
    StudyReading,
    ZeroRead,
)
from lapwright.model.readings import Calibration
from lapwright.records import kept, models, rows
from lapwright.records.coding import from_plain
from lapwright.records.faults import translated
from lapwright.records.queries import find

MOST_ASKED = 5000  # rows asked for at once
_ZEROS = ("zero_before", "zero_after")


def standards() -> tuple[CheckStandard, ...]:
    """All check standards by name."""
    with translated():
        return tuple(from_plain(row.definition) for row in models.CheckStandard.objects.order_by("standard_id"))


def standard(standard_id: str) -> CheckStandard:
    """One check standard."""
    with translated():
        found: CheckStandard = from_plain(
            find(models.CheckStandard.objects.all(), "standard_id", standard_id).definition
        )
        return found


def calibrations(gauge_id: str) -> tuple[tuple[Calibration, datetime], ...]:
    """The calibrations of a gauge, the earliest first, each with when it was recorded."""
    with translated():
        found = models.Calibration.objects.filter(gauge__gauge_id=gauge_id).select_related("gauge")
        return tuple((rows.calibration(row), row.at) for row in found.order_by("done", "pk"))


def calibrations_of(names: Collection[str]) -> dict[str, tuple[Calibration, ...]]:
    """The calibrations of some gauges by name, the earliest first; of one there is not none."""
    with translated():
        keys = _gauge_keys(names)
        found = kept.calibrations_of(set(keys.values()))
        return {name: found[keys[name]][1] if name in keys else () for name in names}


def checks(gauge_id: str) -> tuple[GaugeCheck, ...]:
    """The readings of standards and of the zero with a gauge, the earliest first."""
    return checks_of([gauge_id])[gauge_id]


def checks_of(names: Collection[str]) -> dict[str, tuple[GaugeCheck, ...]]:
    """The same of some gauges by name: the same object while no check was added."""
    with translated():
        keys = _gauge_keys(names)
        found = _all_checks(list(keys.values()))
        return {name: found[keys[name]] if name in keys else () for name in names}


def checks_of_all() -> dict[str, tuple[GaugeCheck, ...]]:
    """The same of every gauge."""
    with translated():
        return checks_of(list(models.Gauge.objects.values_list("gauge_id", flat=True)))


def gauges_of_sets(keys: Collection[int]) -> frozenset[str]:
    """The gauges that some sets were read with."""
    with translated():
        sets = models.ReadingSet.objects.filter(pk__in=list(keys))
        return frozenset(sets.values_list("gauge__gauge_id", flat=True))


def gauges_of_zeros(keys: Collection[int]) -> frozenset[str]:
    """The gauges that some readings are zeros of; other readings tell of none."""
    with translated():
        listed, found = list(keys), set()
        for first in range(0, len(listed), MOST_ASKED):
            some = models.Reading.objects.filter(pk__in=listed[first : first + MOST_ASKED], kind__in=_ZEROS)
            found |= set(some.order_by().values_list("set__gauge__gauge_id", flat=True).distinct())
        return frozenset(found)


def gauges_checked(keys: Collection[int]) -> frozenset[str]:
    """The gauges that some checks were made with."""
    with translated():
        made = models.GaugeCheck.objects.filter(pk__in=list(keys))
        return frozenset(made.values_list("gauge__gauge_id", flat=True))


def gauges_calibrated(keys: Collection[int]) -> frozenset[str]:
    """The gauges that some calibrations are of."""
    with translated():
        done = models.Calibration.objects.filter(pk__in=list(keys))
        return frozenset(done.values_list("gauge__gauge_id", flat=True))


def zeros_read(gauge_id: str, *, latest: int) -> tuple[ZeroRead, ...]:
    """The zeros of the latest sets taken with a gauge, the earliest first; a set without zeros is left out."""
    with translated():
        taken = models.ReadingSet.objects.filter(gauge__gauge_id=gauge_id).order_by("-at", "-pk")
        heads = list(taken.values_list("pk", "state", "version")[:latest])[::-1]
        ended = {key: version for key, state, version in heads if state != "open"}
        told = _zeros_told([key for key, *_ in heads if key not in ended])
        told |= kept.while_last("zeros of an ended set", ended, _zeros_told)
        return tuple(one for key, *_ in heads if (one := told[key][0]) is not None)


def study(study_id: str) -> RecordedStudy:
    """One gauge study."""
    with translated():
        return _study(find(_studies(), "study_id", study_id))


def studies(gauge_id: str | None = None) -> tuple[RecordedStudy, ...]:
    """The studies of a gauge or of all, the latest first."""
    with translated():
        found = models.GaugeStudy.objects.order_by("-pk")
        found = found if gauge_id is None else found.filter(gauge__gauge_id=gauge_id)
        versions: dict[int, int] = dict(found.values_list("pk", "version"))
        going = list(found.filter(state="planned").values_list("pk", flat=True))
        ended = {key: version for key, version in versions.items() if key not in going}
        told = _read_studies(going) | kept.while_last("ended study", ended, _read_studies)
        return tuple(told[key] for key in versions)


# ----------------------------------------------------------------------------------------------------------------------


def _gauge_keys(names: Collection[str]) -> dict[str, int]:
    """Name of a gauge -> its key."""
    return dict(models.Gauge.objects.filter(gauge_id__in=list(names)).values_list("gauge_id", "pk"))


def _all_checks(keys: list[int]) -> dict[int, tuple[GaugeCheck, ...]]:
    """Checks of gauges by key; they are never changed, so those of a gauge are read again only when one was added."""
    made = models.GaugeCheck.objects.filter(gauge_id__in=keys)
    last = dict.fromkeys(keys, 0) | dict(made.order_by().values_list("gauge_id").annotate(last=Max("pk")))
    return kept.added_to("checks of a gauge", last, _read_checks)


def _read_checks(before: dict[int, tuple[int, tuple[GaugeCheck, ...] | None]]) -> dict[int, tuple[GaugeCheck, ...]]:
    """Checks of gauges with those that came since; of gauges not read before all at once."""
    made = models.GaugeCheck.objects.select_related("gauge", "standard").order_by("at", "pk")
    read: dict[int, list[GaugeCheck]] = {key: list(known or ()) for key, (_, known) in before.items()}
    for row in made.filter(gauge_id__in=[key for key, (_, known) in before.items() if known is None]):
        read[row.gauge_id].append(_check(row))
    for key, (end, known) in before.items():
        if known is not None:
            read[key] += (_check(row) for row in made.filter(gauge_id=key, pk__gt=end))
            read[key].sort(key=lambda one: (one.signature.at, one.check_id))
    return {key: tuple(found) for key, found in read.items()}


def _check(row: models.GaugeCheck) -> GaugeCheck:
    return GaugeCheck(
        check_id=row.pk,
        gauge_id=row.gauge.gauge_id,
        standard_id=None if row.standard is None else row.standard.standard_id,
        text=row.text,
        unit=row.unit,
        value=row.value_m,
        signature=rows.signature(row),
    )


def _zeros_told(keys: Collection[int]) -> dict[int, tuple[ZeroRead | None]]:
    """The zeros of some sets, None where one has none; to an ended set none come any more."""
    if not keys:
        return {}
    of_set: dict[int, dict[str, list[float]]] = {}
    found = models.Reading.objects.filter(set__in=keys, kind__in=_ZEROS, corrected_by=None)
    for set_id, kind, value in found.exclude(value_m=None).values_list("set_id", "kind", "value_m"):
        of_set.setdefault(set_id, {}).setdefault(kind, []).append(value)
    told: dict[int, tuple[ZeroRead | None]] = {}
    taken = models.ReadingSet.objects.filter(pk__in=keys).select_related("order")
    for row in taken.only("piece", "at", "by", "conditions", "order__order_id"):
        before, after = _zeros_of(row, of_set.get(row.pk, {}))
        read = ZeroRead(
            set_id=row.pk,
            order_id=None if row.order is None else row.order.order_id,
            piece=row.piece,
            at=row.at,
            by=row.by,
            before=before,
            after=after,
        )
        told[row.pk] = (None if before is None and after is None else read,)
    return told


def _zeros_of(row: models.ReadingSet, read: dict[str, list[float]]) -> tuple[float | None, float | None]:
    """Mean zero before and after; of an imported set those that its file stated."""
    stated = from_plain(row.conditions)
    before, after = (math.fsum(read[kind]) / len(read[kind]) if kind in read else None for kind in
                     ("zero_before", "zero_after"))  # fmt: skip
    return (stated.zero_before if before is None else before), (stated.zero_after if after is None else after)


def _studies() -> QuerySet[models.GaugeStudy]:
    return models.GaugeStudy.objects.select_related("gauge").prefetch_related("readings")


def _read_studies(keys: list[int]) -> dict[int, RecordedStudy]:
    return {row.pk: _study(row) for row in _studies().filter(pk__in=keys)}


def _study(row: models.GaugeStudy) -> RecordedStudy:
    read = list(row.readings.all())
    replaced = {one.corrects_id: one.pk for one in read if one.corrects_id is not None}
    return RecordedStudy(
        plan=from_plain(row.plan),
        state=row.state,  # type: ignore[arg-type]
        readings=tuple(
            StudyReading(
                reading_id=one.pk,
                order=one.line,
                text=one.text,
                unit=one.unit,
                value=one.value_m,
                corrects=one.corrects_id,
                replaced_by=replaced.get(one.pk),
                signature=rows.signature(one),
            )
            for one in read
        ),
        figures=None if row.figures is None else from_plain(row.figures),
        planned=rows.signature(row),
        filed=rows.later_signature(row.filed_by, row.filed_at, row.filed_reason),
        version=row.version,
    )
