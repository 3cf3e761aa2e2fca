"""Reading series over time from the records: runs, bonds, verdicts, findings, set means, and what changed when."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet

from lapwright.model.job import RecordedBond, RecordedFinding, RecordedRun, RecordedVerdict
from lapwright.model.shelf import Station
from lapwright.model.supply import pad_parts
from lapwright.records import kept, models, rows
from lapwright.records.coding import from_plain
from lapwright.records.faults import translated
from lapwright.records.supply_queries import names_now


@dataclass(frozen=True, slots=True, kw_only=True)
class SetMean:
    """Mean of the sites of a closed set of a stack [m], and when it was taken."""

    wafer_id: str
    opened: datetime
    closed: datetime
    mean: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StationChange:
    """What stood on a station before and after a change."""

    station_id: str
    at: datetime
    before: Station
    after: Station


LATEST = 400  # rows of each kind that are followed; more points than that run together on a chart


def ended_runs() -> tuple[RecordedRun, ...]:
    """The latest runs that are over, the earliest first."""
    with translated():
        found = models.Run.objects.exclude(ended_at=None).select_related("wafer", "station", "jig")
        return tuple(rows.run(row) for row in _latest(found))


def lots(wafer_ids: Iterable[str]) -> dict[str, tuple[str, str]]:
    """Order and lot of some wafers."""
    with translated():
        named = models.Wafer.objects.filter(wafer_id__in=list(wafer_ids))
        found = named.values_list("wafer_id", "order__order_id", "lot__lot_id")
        return {wafer_id: (order_id, lot_id) for wafer_id, order_id, lot_id in found}


def stack_means(wafer_ids: Iterable[str]) -> tuple[SetMean, ...]:
    """Means of the closed sets of stacks of some wafers, the earliest first; corrected readings left out."""
    with translated():
        of_wafers = models.ReadingSet.objects.filter(wafer__wafer_id__in=list(wafer_ids))
        found = of_wafers.filter(subject="stack", state="closed").order_by("at", "pk")
        sets = list(found.values_list("pk", "piece", "at", "closed_at", "version"))
        means = kept.set_means({key: version for key, *_, version in sets})
        return tuple(
            SetMean(wafer_id=piece, opened=opened, closed=closed, mean=mean)
            for key, piece, opened, closed, _ in sets
            if (mean := means[key]) is not None and closed is not None
        )


def has_stack_ended(keys: Collection[int]) -> bool:
    """Whether any of some sets of stacks was closed, of which `stack_means` tells from then on, or has become void."""
    with translated():
        return models.ReadingSet.objects.filter(pk__in=list(keys), subject="stack").exclude(state="open").exists()


def judged_bonds() -> tuple[RecordedBond, ...]:
    """The latest bonds with their numbers, the earliest first."""
    with translated():
        found = models.Bond.objects.exclude(numbers=None).select_related("wafer", "carrier")
        return tuple(rows.bond(row) for row in _latest(found))


def last_adhesive(order_id: str) -> str | None:
    """What the last wafer of an order was bonded with; None while none has been."""
    with translated():
        found = models.Bond.objects.filter(wafer__order__order_id=order_id).order_by("-pk")
        return found.values_list("adhesive", flat=True).first()


def latest_verdicts() -> tuple[RecordedVerdict, ...]:
    """The latest verdict on each limit of each wafer judged of late, the earliest first."""
    with translated():
        later = models.Verdict.objects.filter(
            wafer=OuterRef("wafer"), quantity=OuterRef("quantity"), pk__gt=OuterRef("pk")
        )
        found = models.Verdict.objects.filter(~Exists(later)).select_related("wafer")
        return tuple(rows.verdict(row) for row in _latest(found))


def findings() -> tuple[RecordedFinding, ...]:
    """The latest findings, the earliest first."""
    with translated():
        found = models.Finding.objects.select_related("wafer", "gauge")
        return tuple(rows.finding(row) for row in _latest(found))


def station_changes() -> tuple[StationChange, ...]:
    """Every change of what stands on a station, the earliest first; lots by the names they have now."""
    with translated():
        lots = names_now()
        names = dict(models.Station.objects.values_list("pk", "station_id"))
        found = models.Change.objects.filter(table="station", fields__has_key="definition").order_by("at", "pk")
        return tuple(
            StationChange(
                station_id=names[row.row],
                at=row.at,
                before=_stood(row.fields["definition"][0], lots),
                after=_stood(row.fields["definition"][1], lots),
            )
            for row in found
        )


# ----------------------------------------------------------------------------------------------------------------------


def _stood(plain: Any, lots: Mapping[str, str]) -> Station:
    """What stood on a station then, lots by the names they have now."""
    held: Station = from_plain(plain)
    piece = held.plate_piece
    if piece is not None:
        lot, number = pad_parts(piece)
        piece = lots.get(lot, lot) + number
    return replace(held, abrasive_lot=lots.get(held.abrasive_lot or "", held.abrasive_lot), plate_piece=piece)


def _latest(found: QuerySet[Any]) -> list[Any]:
    return list(found.order_by("-at", "-pk")[:LATEST])[::-1]
