"""What can be computed anew: numbers of the records first, and the records of some of them when they are wanted."""

from __future__ import annotations

from collections.abc import Sequence

from lapwright.model.job import RecordedSet
from lapwright.model.live import RecordedStream
from lapwright.model.order import Quantity
from lapwright.model.surface_record import RecordedSurface, SurfaceKind
from lapwright.records import kept, models, rows, stream_queries
from lapwright.records.faults import translated
from lapwright.records.queries import surface_rows, verdict_rows

#: What a set was judged by: verdict, quantity, value [m].
Judged = tuple[int, Quantity, float | None]


def surface_ids(kind: SurfaceKind) -> tuple[int, ...]:
    """Numbers of all measured faces of a kind."""
    with translated():
        return tuple(surface_rows().filter(kind=kind).order_by("pk").values_list("pk", flat=True))


def judged_set_ids() -> tuple[int, ...]:
    """Numbers of all closed sets that a verdict rests on."""
    with translated():
        found = models.Verdict.objects.exclude(set=None).filter(set__state="closed")
        return tuple(found.order_by("set_id").values_list("set_id", flat=True).distinct())


def ended_stream_ids() -> tuple[int, ...]:
    """Numbers of all streams of a gauge that have ended."""
    with translated():
        found = models.Stream.objects.exclude(end=None).exclude(target_m=None).filter(drop=None)
        return tuple(found.order_by("pk").values_list("pk", flat=True))


def surfaces_of(surface_ids: Sequence[int]) -> tuple[RecordedSurface, ...]:
    """Measured faces by number."""
    with translated():
        return tuple(rows.surface(row) for row in surface_rows().filter(pk__in=surface_ids).order_by("pk"))


def sets_of(set_ids: Sequence[int]) -> tuple[tuple[RecordedSet, tuple[Judged, ...]], ...]:
    """Sets by number, each with what was judged by it."""
    with translated():
        judged: dict[int, list[Judged]] = {}
        for row in verdict_rows().filter(set_id__in=set_ids):
            one = rows.verdict(row).verdict
            judged.setdefault(row.set_id, []).append((row.pk, one.limit.quantity, one.value))
        found = kept.reading_sets(kept.sets().filter(pk__in=set_ids).order_by("pk"))
        return tuple((one, tuple(judged.get(one.set_id, ()))) for one in found)


def streams_of(stream_ids: Sequence[int]) -> tuple[tuple[RecordedStream, list[float], list[float]], ...]:
    """Streams by number, each with the times [s] and lengths [m] of its readings."""
    found = []
    for stream_id in stream_ids:
        times, lengths = stream_queries.stream_readings(stream_id)
        found.append((stream_queries.stream(stream_id), times.tolist(), lengths.tolist()))
    return tuple(found)
