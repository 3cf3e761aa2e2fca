"""Reading what belongs to runs: the pieces that ran together, the masses, the runs of a station."""

from __future__ import annotations

from typing import Any

from django.db import connection
from django.db.models import Count, Max, QuerySet, Sum
from django.db.models.functions import Coalesce

from lapwright.model.job import RecordedRun, RecordedWeighing
from lapwright.model.readings import Signature
from lapwright.records import models, rows
from lapwright.records.faults import translated
from lapwright.records.queries import find


def companions(run_id: int) -> tuple[RecordedRun, ...]:
    """The runs of the other pieces that ran together with a run."""
    with translated():
        return tuple(rows.run(row) for row in _runs().filter(with_run_id=run_id))


def orders_of_run(run_id: int) -> frozenset[str]:
    """The orders of the pieces that ran together in a run."""
    with translated():
        led = models.Run.objects.filter(pk=run_id).values_list(Coalesce("with_run", "pk"), flat=True)
        first = led.first() or run_id
        # one after the other: for both at once SQLite would go through all runs
        found = (models.Run.objects.filter(pk=first), models.Run.objects.filter(with_run=first, with_run__gt=0))
        return frozenset(name for one in found for name in one.values_list("wafer__order__order_id", flat=True))


def runs_of_stage(stage_id: int) -> tuple[RecordedRun, ...]:
    """The runs of one stage of one wafer."""
    with translated():
        return tuple(rows.run(row) for row in _runs().filter(stage_id=stage_id))


def stage_ends(stage_ids: tuple[int, ...]) -> dict[int, Signature]:
    """Who ended each of these stages, when and why; a stage that has not ended is left out."""
    with translated():
        changes = models.Change.objects.filter(table="stage", row__in=stage_ids, fields__has_key="ended_at")
        return {one.row: rows.signature(one) for one in changes.order_by("version")}


def runs_of_wafer(wafer_id: str) -> tuple[RecordedRun, ...]:
    """The runs of one wafer."""
    with translated():
        return tuple(rows.run(row) for row in _runs().filter(wafer__wafer_id=wafer_id))


def ended_runs(station_id: str, *, newest: int) -> tuple[RecordedRun, ...]:
    """The last runs of a station that have ended and whose gauge said what it removed, the newest first."""
    with translated():
        found = _runs().filter(
            station__station_id=station_id, ended_at__isnull=False, gauge_removal_m__isnull=False, with_run=None
        )
        return tuple(rows.run(row) for row in found.order_by("-ended_at", "-pk")[:newest])


def look_back_stamp() -> tuple[object, ...]:
    """What changes whenever something does that looking back on runs rests on."""
    with translated():
        ended = models.Run.objects.aggregate(Count("pk"), Max("ended_at"), Max("at"), Sum("version"))
        sets = models.ReadingSet.objects.aggregate(Count("pk"), Max("at"), Sum("version"))
        return (connection.settings_dict["NAME"], *ended.values(), *sets.values())


def weighings(wafer_id: str) -> tuple[RecordedWeighing, ...]:
    """The masses taken of a wafer, alone or with others, that count."""
    with translated():
        return tuple(rows.weighing(row) for row in _weighings().filter(wafer__wafer_id=wafer_id, void=None))


def weighing(weighing_id: int) -> RecordedWeighing:
    """One mass."""
    with translated():
        return rows.weighing(find(_weighings(), "pk", weighing_id, what="weighing"))


def wafer_on_jig(jig_id: str) -> str | None:
    """The wafer whose zero on a jig holds, while it is in work; None when there is none."""
    with translated():
        last = models.Zero.objects.filter(jig__jig_id=jig_id, void=None).select_related("wafer").order_by("-pk").first()
        return last.wafer.wafer_id if last is not None and last.wafer.state in ("ready", "in_work") else None


# ----------------------------------------------------------------------------------------------------------------------


def _runs() -> QuerySet[models.Run]:
    return models.Run.objects.select_related("wafer", "station", "jig").order_by("pk")


def _weighings() -> QuerySet[Any]:
    found: QuerySet[Any] = models.Weighing.objects.order_by("at", "pk")
    return found.select_related("wafer")
