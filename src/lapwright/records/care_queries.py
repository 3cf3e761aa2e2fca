"""Reading what is recorded of the care of gauges: standards, checks, zeros, studies, and what a gauge has touched."""

from __future__ import annotations

import math
from collections.abc import Collection
from datetime import datetime
from typing import Any

from django.db.models import Max, Q, QuerySet

from lapwright.model.gauge_care import (
    CheckStandard,
    GaugeCheck,
    GaugePair,
    RecordedStudy,
    StudyReading,
    Touched,
    TouchedDocument,
    TouchedSet,
    TouchedVerdict,
    ZeroRead,
)
from lapwright.model.readings import Calibration
from lapwright.records import kept, models, rows
from lapwright.records.coding import from_plain
from lapwright.records.faults import translated
from lapwright.records.queries import find


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


def checks(gauge_id: str) -> tuple[GaugeCheck, ...]:
    """The readings of standards and of the zero with a gauge, the earliest first."""
    with translated():
        gauge = models.Gauge.objects.only("pk").filter(gauge_id=gauge_id).first()
        return () if gauge is None else _all_checks([gauge.pk])[gauge.pk]


def checks_of_all() -> dict[str, tuple[GaugeCheck, ...]]:
    """The same of every gauge, by name: the same object while no check was added."""
    with translated():
        names = dict(models.Gauge.objects.values_list("pk", "gauge_id"))
        found = _all_checks(list(names))
        return {name: found[key] for key, name in names.items()}


def gauges_of_sets(keys: Collection[int]) -> frozenset[str]:
    """The gauges that some sets were read with."""
    with translated():
        sets = models.ReadingSet.objects.filter(pk__in=list(keys))
        return frozenset(sets.values_list("gauge__gauge_id", flat=True))


def gauges_of_pieces(keys: Collection[int]) -> frozenset[str]:
    """The gauges with which the pieces of some sets were read, in these sets and in others."""
    with translated():
        pieces = models.ReadingSet.objects.filter(pk__in=list(keys)).order_by().values_list("piece", flat=True)
        sets = models.ReadingSet.objects.filter(piece__in=list(set(pieces)))
        return frozenset(sets.order_by().values_list("gauge__gauge_id", flat=True).distinct())


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


def touched(gauge_id: str, *, since: datetime | None, until: datetime | None, why: str) -> Touched:
    """All that rests on what a gauge measured from a moment to another; None leaves that end open."""
    with translated():
        gauge = find(models.Gauge.objects.all(), "gauge_id", gauge_id)
        later = Q() if since is None else Q(at__gte=since)
        begun = Q() if until is None else Q(at__lt=until)
        ended = Q() if since is None else Q(at__gte=since) | Q(closed_at__gte=since)
        sets = list(
            models.ReadingSet.objects.filter(ended, begun, gauge=gauge)
            .select_related("order", "wafer")
            .order_by("at", "pk")
        )
        surfaces = list(models.Surface.objects.filter(later, begun, gauge=gauge).order_by("pk"))
        findings = list(
            models.Finding.objects.filter(later, begun).filter(Q(gauge=gauge) | Q(surface__in=surfaces)).order_by("pk")
        )
        verdicts = list(
            models.Verdict.objects.filter(Q(set__in=sets) | Q(finding__in=findings))
            .select_related("wafer__order")
            .order_by("pk")
        )
        wafer_keys = {row.wafer_id for row in sets if row.wafer_id is not None}
        wafer_keys |= {row.wafer_id for row in (*surfaces, *findings)}
        bonded = models.Bond.objects.filter(Q(wafer_set__in=sets) | Q(carrier_set__in=sets) | Q(stack_set__in=sets))
        wafer_keys |= set(bonded.values_list("wafer_id", flat=True))
        wafers = list(models.Wafer.objects.filter(pk__in=wafer_keys).select_related("order").order_by("wafer_id"))
        documents = list(_certificates(wafers, later))
        return Touched(
            gauge_id=gauge_id,
            since=since,
            until=until,
            why=why,
            sets=tuple(_touched_set(row) for row in sets),
            surface_ids=tuple(row.pk for row in surfaces),
            finding_ids=tuple(row.pk for row in findings),
            wafers=tuple((row.wafer_id, row.order.order_id) for row in wafers),
            verdicts=tuple(_touched_verdict(row) for row in verdicts),
            certificates=tuple(_touched_document(row) for row in documents),
        )


MANY = 2000  # sets of a gauge from which on those of all the others may be fewer
#: Moments between whose sets nothing is done to the piece, so that two gauges read the same thing.
_STILL = ("incoming", "carrier", "on_carrier", "final")


def gauge_pairs(gauge_id: str) -> tuple[GaugePair, ...]:
    """Sets of this gauge beside the last set of each other gauge on the same piece at the same moment, latest first."""
    with translated():
        closed = models.ReadingSet.objects.filter(state="closed", moment__in=_STILL)
        found = (
            closed.filter(piece__in=_read_twice(gauge_id, closed)).select_related("gauge", "order").order_by("at", "pk")
        )
        latest: dict[tuple[str, str], dict[str, models.ReadingSet]] = {}
        for row in found:
            latest.setdefault((row.piece, row.moment), {})[row.gauge.gauge_id] = row
        pairs = [
            _pair(by_gauge[gauge_id], other)
            for by_gauge in latest.values()
            if gauge_id in by_gauge
            for name, other in by_gauge.items()
            if name != gauge_id
        ]
    return tuple(sorted(pairs, key=lambda one: (max(one.at), one.set_ids), reverse=True))


# ----------------------------------------------------------------------------------------------------------------------


def _read_twice(gauge_id: str, closed: QuerySet[models.ReadingSet]) -> list[str]:
    """Pieces that were read with a gauge and with another one, looked for among the sets of which there are fewer."""
    closed = closed.order_by()
    mine = closed.filter(gauge__gauge_id=gauge_id)
    others = _pieces_of_others(gauge_id, closed) if mine[:MANY].count() == MANY else None
    fewer = mine.values_list("piece", flat=True) if others is None else others
    pieces = sorted(set(fewer))  # named one by one, or all sets would be gone through
    read: dict[str, set[object]] = {}
    for first in range(0, len(pieces), kept.MOST_ASKED):
        some = closed.filter(piece__in=pieces[first : first + kept.MOST_ASKED])
        for piece, gauge in some.values_list("piece", "gauge"):
            read.setdefault(piece, set()).add(gauge)
    return [piece for piece, gauges in read.items() if len(gauges) > 1]


def _pieces_of_others(gauge_id: str, closed: QuerySet[models.ReadingSet]) -> list[str] | None:
    """Pieces read with other gauges, asked gauge by gauge, each by its index; None where they are many, too."""
    found: list[str] = []
    for other in models.Gauge.objects.exclude(gauge_id=gauge_id).values_list("pk", flat=True):
        found += closed.filter(gauge=other).values_list("piece", flat=True)[: MANY - len(found)]
        if len(found) == MANY:
            return None
    return found


def _pair(mine: models.ReadingSet, other: models.ReadingSet) -> GaugePair:
    return GaugePair(
        piece=mine.piece,
        moment=mine.moment,
        order_id=None if mine.order is None else mine.order.order_id,
        set_ids=(mine.pk, other.pk),
        gauge_ids=(mine.gauge.gauge_id, other.gauge.gauge_id),
        at=(mine.at, other.at),
    )


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
    found = models.Reading.objects.filter(set__in=keys, kind__in=("zero_before", "zero_after"), corrected_by=None)
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


def _certificates(wafers: list[models.Wafer], later: Q) -> QuerySet[Any]:
    """Certificates issued since then for one of the wafers, or for an order of one of them as a whole."""
    orders = {row.order_id for row in wafers}
    return (
        models.Document.objects.filter(later, kind__startswith="certificate")
        .filter(Q(wafer__in=wafers) | Q(wafer=None, order_id__in=orders))
        .select_related("order", "wafer")
        .order_by("pk")
    )


def _touched_set(row: models.ReadingSet) -> TouchedSet:
    return TouchedSet(
        set_id=row.pk,
        piece=row.piece,
        order_id=None if row.order is None else row.order.order_id,
        moment=row.moment,
        at=row.at,
        state=row.state,
    )


def _touched_verdict(row: models.Verdict) -> TouchedVerdict:
    return TouchedVerdict(
        verdict_id=row.pk,
        wafer_id=row.wafer.wafer_id,
        order_id=row.wafer.order.order_id,
        quantity=row.quantity,
        outcome=row.outcome,
        at=row.at,
    )


def _touched_document(row: models.Document) -> TouchedDocument:
    return TouchedDocument(
        document_id=row.pk,
        order_id=row.order.order_id,
        wafer_id=None if row.wafer is None else row.wafer.wafer_id,
        kind=row.kind,
        name=row.name,
        at=row.at,
    )
