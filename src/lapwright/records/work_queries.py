"""How long what was done on an order took: the times of its sets and of its runs."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from django.db.models import F, Q

from lapwright.model.story import OrderWork, RunTimes, SetTimes
from lapwright.records import models
from lapwright.records.faults import translated
from lapwright.records.queries import find


def order_work(order_id: str, *, pause: timedelta) -> OrderWork:
    """The times of all sets of an order and of its carriers, and of its runs.

    Where a set was over within `pause`, no pause can be in it, so its readings are told only if they lie outside it.
    """
    with translated():
        row = find(models.Order.objects.only("pk"), "order_id", order_id)
        wafers = dict(models.Wafer.objects.filter(order=row).order_by().values_list("pk", "wafer_id"))
        return OrderWork(sets=_set_times(row, wafers, pause), runs=_run_times(wafers))


# ----------------------------------------------------------------------------------------------------------------------


def _set_times(order: models.Order, wafers: Mapping[int, str], pause: timedelta) -> tuple[SetTimes, ...]:
    of_order = Q(wafer__in=list(wafers)) | Q(order=order, subject="carrier")
    found = models.ReadingSet.objects.filter(of_order).order_by("at", "pk")
    listed = list(found.values_list("pk", "wafer_id", "moment", "stage_id", "source", "at", "closed_at"))
    long = [row[0] for row in listed if row[6] is None or row[6] - row[5] > pause]
    read = _read([row[0] for row in listed], long)
    return tuple(
        SetTimes(
            wafer_id=None if wafer is None else wafers[wafer],
            moment=moment,  # type: ignore[arg-type]
            stage_id=stage,
            source=source,
            opened=opened,
            read=tuple(read.get(pk, ())),
            closed=closed,
        )
        for pk, wafer, moment, stage, source, opened, closed in listed
    )


def _read(sets: list[int], long: list[int]) -> dict[int, list[datetime]]:
    """Set -> when it was read: always for those that took long, else only where a clock ran backwards meanwhile."""
    outside = Q(set__in=sets) & (Q(at__lt=F("set__at")) | Q(at__gt=F("set__closed_at")))
    found = models.Reading.objects.filter(Q(set__in=long) | outside).order_by("set_id", "sequence")
    read: dict[int, list[datetime]] = {}
    for key, at in found.values_list("set_id", "at"):
        read.setdefault(key, []).append(at)
    return read


def _run_times(wafers: Mapping[int, str]) -> tuple[RunTimes, ...]:
    found = models.Run.objects.filter(wafer__in=list(wafers)).order_by("pk")
    names = ("wafer_id", "stage_id", "plate", "abrasive", "at", "ended_at", "with_run_id")
    return tuple(
        RunTimes(wafer_id=wafers[wafer], stage_id=stage, plate=plate, abrasive=abrasive, started=started, ended=ended,
                 with_run=with_run)
        for wafer, stage, plate, abrasive, started, ended, with_run in found.values_list(*names)
    )  # fmt: skip
