"""Reading wafers that do not keep their limits, and what was decided about them, in a few queries however many."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django.db.models import Exists, Max, OuterRef, Q, QuerySet

from lapwright.model.job import WaferState
from lapwright.model.odd_ones import OddWafer, RecordedDecision
from lapwright.records import models, queries, rows
from lapwright.records.faults import translated

OPEN: tuple[WaferState, ...] = ("judged", "set_aside")
PHOTOGRAPHS = ("photo", "bond_photo")


def odd_wafers(*, most: int | None = None) -> tuple[OddWafer, ...]:
    """Judged wafers of which a standing verdict does not conform, and those set aside; the longest waiting first.

    With `most` no more than so many are looked at.
    """
    with translated():
        waiting = sorted(_waiting().values_list("since", "pk"))[:most]
        found = queries.wafer_rows().filter(pk__in=[pk for _since, pk in waiting])
        every = _together(list(found.order_by("since", "pk")))
        return tuple(one for one in every if one.failed or one.wafer.state == "set_aside")


def odd_count() -> int:
    """How many wafers are set aside, or judged with a verdict that does not conform, standing or not."""
    with translated():
        return _waiting().count()


def odd_of(wafer_ids: Sequence[str]) -> dict[str, OddWafer]:
    """Some wafers by name, whether they are odd or not."""
    with translated():
        found = _together(list(queries.wafer_rows().filter(wafer_id__in=wafer_ids)))
        return {one.wafer.wafer.wafer_id: one for one in found}


def wafers_of(order_id: str) -> tuple[OddWafer, ...]:
    """All wafers of an order in their order, whether they are odd or not."""
    with translated():
        return _together(list(queries.wafer_rows().filter(order__order_id=order_id)))


def latest_finals(order_id: str) -> dict[str, int]:
    """The last closed final set of each wafer of an order that has one."""
    with translated():
        found = models.ReadingSet.objects.filter(wafer__order__order_id=order_id, moment="final", state="closed")
        return dict(found.values("wafer").annotate(last=Max("pk")).values_list("wafer__wafer_id", "last"))


def decided_wafers(count: int) -> tuple[OddWafer, ...]:
    """The wafers that were decided about or rejected last and wait for nothing any more, the latest first."""
    with translated():
        latest = models.OddDecision.objects.order_by("-pk").values_list("wafer", flat=True)[: 2 * count]
        found = queries.wafer_rows().filter(Q(pk__in=list(latest)) | Q(state="rejected")).exclude(state__in=OPEN)
        return _together(list(found.order_by("-since", "-pk")[:count]))


def decisions_of(wafer_ids: Sequence[str]) -> dict[str, RecordedDecision]:
    """The latest decision about each of some wafers, whether it still holds or not."""
    with translated():
        found = models.OddDecision.objects.filter(wafer__wafer_id__in=wafer_ids).select_related("wafer")
        return {row.wafer.wafer_id: rows.decision(row) for row in found}


def odd_wafer(wafer_id: str) -> OddWafer:
    """One wafer, whether it is odd or not."""
    with translated():
        return _together([queries.find(queries.wafer_rows(), "wafer_id", wafer_id)])[0]


# ----------------------------------------------------------------------------------------------------------------------


def _waiting() -> QuerySet[Any]:
    bad = models.Verdict.objects.filter(wafer=OuterRef("pk")).exclude(outcome="conforms")
    found = models.Wafer.objects.filter(state__in=OPEN)
    return found.filter(Q(state="set_aside") | Q(Exists(bad))).order_by()


def _together(wafers: Sequence[models.Wafer]) -> tuple[OddWafer, ...]:
    mine = Q(wafer__in=[row.pk for row in wafers])
    verdicts: dict[int, dict[str, models.Verdict]] = {}
    for verdict in queries.verdict_rows().filter(mine):
        verdicts.setdefault(verdict.wafer_id, {})[verdict.quantity] = verdict
    photographs = _grouped(queries.document_rows().filter(mine, kind__in=PHOTOGRAPHS))
    decisions = _grouped(models.OddDecision.objects.filter(mine).select_related("wafer"))
    stops = models.WaferEvent.objects.filter(mine, after__in=("set_aside", "rejected")).select_related("wafer")
    stopped = {row.wafer_id: row for row in stops.order_by("pk")}
    return tuple(
        OddWafer(
            wafer=rows.wafer(row),
            verdicts=tuple(rows.verdict(one) for one in verdicts.get(row.pk, {}).values()),
            photographs=tuple(rows.document(one) for one in photographs.get(row.pk, ())),
            decisions=tuple(rows.decision(one) for one in decisions.get(row.pk, ())),
            stopped=rows.signature(stopped[row.pk])
            if row.pk in stopped and row.state in ("set_aside", "rejected")
            else None,
        )
        for row in wafers
    )


def _grouped(found: Iterable[Any]) -> dict[int, list[Any]]:
    groups: dict[int, list[Any]] = {}
    for row in found:
        groups.setdefault(row.wafer_id, []).append(row)
    return groups
