"""Reading feeds, requests to the recorder, and streams."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

import numpy as np
from django.db import connection
from django.db.models import Exists, Max, OuterRef, QuerySet, Sum
from django.db.models.functions import Length

from lapwright.errors import RecordError
from lapwright.model.live import Asked, DroppedStream, LiveAnswer, RecordedFeed, RecordedStream, StreamEvent
from lapwright.model.readings import Signature
from lapwright.records import kept, models, rows
from lapwright.records.coding import from_plain
from lapwright.records.faults import translated
from lapwright.records.queries import find
from lapwright.records.stream_blocks import Array, unpacked

OVER = ("certified", "rejected")  # states of a wafer that is done with
CLAIM_NUMBER = 0x6C617071  # beside the locks of the upgrade and the chain; ours alone in that database

OpenRequest = tuple[int, str, str, Asked, Signature]


def feeds() -> tuple[RecordedFeed, ...]:
    """All feeds by station."""
    with translated():
        found = models.Feed.objects.order_by("station__station_id")
        return tuple(RecordedFeed(feed=from_plain(row.definition), version=row.version) for row in found)


def feed(station_id: str) -> RecordedFeed | None:
    """The feed of a station."""
    with translated():
        row = models.Feed.objects.filter(station__station_id=station_id).first()
        return None if row is None else RecordedFeed(feed=from_plain(row.definition), version=row.version)


def open_requests() -> tuple[OpenRequest, ...]:
    """Requests without an answer, the oldest first: number, station, kind, what was asked, by whom."""
    with translated():
        found = _requests().filter(answer=None).order_by("pk")
        return tuple(
            (row.pk, row.station.station_id, row.kind, _asked(row.asked), rows.signature(row)) for row in found
        )


def answer_of(request_id: int) -> LiveAnswer:
    """What the recorder said to a request so far."""
    with translated():
        row = find(_requests(), "pk", request_id, what="request to the recorder")
        answer = getattr(row, "answer", None)
    asked: dict[str, Any] = {"request_id": row.pk, "kind": row.kind, "station_id": row.station.station_id}
    if answer is None:
        return LiveAnswer(**asked, accepted=None)
    return LiveAnswer(
        **asked, accepted=answer.accepted, code=answer.code, sentence=answer.sentence, run_id=answer.run_id
    )


def open_streams() -> tuple[RecordedStream, ...]:
    """Streams that have not ended."""
    with translated():
        going = models.Stream.objects.filter(~Exists(models.StreamEnd.objects.filter(stream=OuterRef("pk"))))
        # keys first: joined, the database would begin with all the wafers there are
        return tuple(_stream(row) for row in _streams().filter(pk__in=list(going.values_list("pk", flat=True))))


def stream(stream_id: int) -> RecordedStream:
    """One stream."""
    with translated():
        return _stream(find(_streams(), "pk", stream_id, what="stream"))


def stream_of_run(run_id: int) -> RecordedStream | None:
    """The stream of a run; None for a run that was not followed."""
    with translated():
        row = _streams().filter(run_id=run_id).first()
        return None if row is None else _stream(row)


def last_ended_stream(station_id: str) -> RecordedStream | None:
    """The stream of a station that ended last; None when none has."""
    with translated():
        last = models.StreamEnd.objects.aggregate(last=Max("pk"))["last"] or 0
        key = kept.carried_on("last stream of a station", last, _last_ended).get(station_id)
        row = None if key is None else _streams().filter(pk=key).first()
        return None if row is None else _stream(row)


def stream_readings(stream_id: int) -> tuple[Array, Array]:
    """Times in the run [s] and lengths [m] of a stream, every reading that is committed.

    Raises `RecordError` when a block is damaged.
    """
    with translated():
        pieces = [
            unpacked(bytes(data))
            for table in (models.StreamBlock, models.StreamTail)
            for data in table._default_manager.filter(stream_id=stream_id).values_list("data", flat=True)  # noqa: SLF001
        ]
    if not pieces:
        return np.empty(0), np.empty(0)
    return np.concatenate([piece[0] for piece in pieces]), np.concatenate([piece[1] for piece in pieces])


def droppable_streams(before: datetime) -> tuple[RecordedStream, ...]:
    """Streams that ended before a time, of wafers that are done with, whose raw readings are still there."""
    with translated():
        found = _streams().filter(end__at__lt=before, drop=None, run__wafer__state__in=OVER, blocks__isnull=False)
        return tuple(_stream(row) for row in found.distinct())


def raw_bytes() -> int:
    """Bytes of all raw readings as they are packed."""
    with translated():
        return int(models.StreamBlock.objects.aggregate(all=Sum(Length("data")))["all"] or 0)


def asker_of(stream_id: int) -> str:
    """Who asked for the run of a stream."""
    with translated():
        return str(find(_streams(), "pk", stream_id, what="stream").by)


def claim_stations(names: Iterable[str]) -> frozenset[str]:
    """Those of the stations that this connection may record: no other recorder of the database has claimed them.

    A claim is held as long as the connection. On SQLite there is one recorder, and all are its own.
    """
    wanted = frozenset(names)
    if connection.vendor != "postgresql" or not wanted:
        return wanted
    with translated(), connection.cursor() as cursor:
        keys = dict(models.Station.objects.filter(station_id__in=wanted).values_list("pk", "station_id"))
        cursor.execute(
            "SELECT key, (EXISTS (SELECT 1 FROM pg_locks WHERE locktype = 'advisory' AND granted"
            " AND pid = pg_backend_pid() AND classid = %s AND objid = key))"
            " OR pg_try_advisory_lock(%s, key) FROM unnest(%s::int[]) AS key",
            [CLAIM_NUMBER, CLAIM_NUMBER, list(keys)],
        )
        return frozenset(keys[key] for key, is_ours in cursor.fetchall() if is_ours)


def close_connection() -> None:
    """Let go of this thread's connection to the database."""
    connection.close()


# ----------------------------------------------------------------------------------------------------------------------


def _last_ended(since: int, before: dict[str, int] | None) -> dict[str, int]:
    """Station -> its last stream that has ended, those that ended before a row told already."""
    ended = models.StreamEnd.objects.filter(pk__gt=since).order_by()
    found = ended.values_list("stream__run__station__station_id").annotate(last=Max("stream"))
    told = dict(before or {})
    for station_id, last in found:
        told[station_id] = max(last, told.get(station_id, 0))
    return told


def _asked(plain: Any) -> Asked:
    """What a request holds; None for a stop, and for what this version cannot read: it must not hold up a stop."""
    try:
        asked: Asked = from_plain(plain or None)
    except RecordError:
        return None
    return asked


def _requests() -> QuerySet[Any]:
    found: QuerySet[Any] = models.LiveRequest.objects.all()
    return found.select_related("station", "answer")


def _streams() -> QuerySet[Any]:
    found: QuerySet[Any] = models.Stream.objects.order_by("pk")
    return found.select_related("run__station", "run__wafer", "end", "drop")


def _stream(row: models.Stream) -> RecordedStream:
    end, drop = getattr(row, "end", None), getattr(row, "drop", None)
    ended_at: datetime | None = None if end is None else end.at
    return RecordedStream(
        stream_id=row.pk,
        run_id=row.run_id,
        station_id=row.run.station.station_id,
        wafer_id=row.run.wafer.wafer_id,
        feed=from_plain(row.feed),
        target=row.target_m,
        time=row.time_s,
        zero=row.zero_m,
        rate=row.rate_m_per_s,
        started=row.at,
        readings=sum(
            table._default_manager.filter(stream=row).aggregate(all=Sum("count"))["all"] or 0  # noqa: SLF001
            for table in (models.StreamBlock, models.StreamTail)
        ),
        outcome=None if end is None else end.outcome,
        ended=ended_at,
        ended_after=None if end is None else end.after_s,
        ended_code="" if end is None else end.code,
        ended_sentence="" if end is None else end.sentence,
        ended_removed=None if end is None else end.removed_m,
        ended_uncertainty=None if end is None else end.uncertainty_m,
        ended_margin=None if end is None else end.margin_m,
        ended_shown=None if end is None else end.shown_m,
        events=tuple(
            StreamEvent(kind=one.kind, time=one.time_s, code=one.code, sentence=one.sentence)
            for one in row.events.all()
        ),
        dropped=None if drop is None else _dropped(drop),
    )


def _dropped(row: models.StreamDrop) -> DroppedStream:
    return DroppedStream(
        by=row.by,
        at=row.at,
        reason=row.reason,
        blocks=row.blocks,
        readings=row.readings,
        sha256=row.sha256,
        picture=tuple((float(time), float(least), float(greatest)) for time, least, greatest in row.picture),
    )
