"""Writing feeds, requests to the recorder and its answers, and the streams of runs."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass

from django.db.models import QuerySet, Sum

from lapwright.errors import Conflict
from lapwright.model.live import Asked, Feed, LiveAnswer, RequestKind, StreamOutcome
from lapwright.model.readings import Signature
from lapwright.records import models, queries, stream_queries
from lapwright.records.chain import note_dropped
from lapwright.records.chain_form import digest_of
from lapwright.records.chain_rows import Covered, covered_rows
from lapwright.records.coding import to_plain
from lapwright.records.faults import one_transaction
from lapwright.records.stream_blocks import Array, Portion, packed, unpacked
from lapwright.records.writer.base import add, change

BLOCK_TIME = 10.0  # s
BLOCK_COUNT = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class NewStream:
    """A stream that begins. SI."""

    run_id: int
    feed: Feed | None
    target: float | None
    time: float | None
    zero: float
    rate: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NewEnd:
    """How a stream ended. SI."""

    outcome: StreamOutcome
    after: float | None = None
    code: str = ""
    sentence: str = ""
    removed: float | None = None
    uncertainty: float | None = None
    margin: float | None = None
    shown: float | None = None


def put_feed(feed: Feed, signature: Signature, *, version: int | None = None) -> None:
    """The gauge of a station, new or changed."""
    with one_transaction():
        station = queries.find(models.Station.objects.all(), "station_id", feed.station_id)
        row = models.Feed.objects.select_for_update().filter(station=station).first()
        if row is None:
            add(models.Feed, signature, station=station, definition=to_plain(feed))
            return
        change(row, signature, version=version, definition=to_plain(feed))


def add_request(station_id: str, kind: RequestKind, asked: Asked, signature: Signature) -> LiveAnswer:
    """A request to the recorder."""
    with one_transaction():
        station = queries.find(models.Station.objects.all(), "station_id", station_id)
        row = add(models.LiveRequest, signature, station=station, kind=kind, asked=to_plain(asked) or {})
        return stream_queries.answer_of(row.pk)


def answer_request(
    request_id: int, signature: Signature, *, accepted: bool, code: str, sentence: str, run_id: int | None
) -> None:
    """What the recorder did about a request."""
    add(
        models.LiveAnswer,
        signature,
        request_id=request_id,
        accepted=accepted,
        code=code,
        sentence=sentence,
        run_id=run_id,
    )


def begin_stream(new: NewStream, signature: Signature) -> int:
    """The stream of a run begins."""
    row = add(
        models.Stream,
        signature,
        run_id=new.run_id,
        feed=to_plain(new.feed),
        target_m=new.target,
        time_s=new.time,
        zero_m=new.zero,
        rate_m_per_s=new.rate,
    )
    return int(row.pk)


def add_portions(portions: Sequence[Portion]) -> None:
    """Readings and events of several streams in one transaction; full stretches become blocks."""
    with one_transaction():
        for portion in portions:
            if len(portion.times):
                _add_readings(portion)
            models.StreamEvent.objects.bulk_create(
                models.StreamEvent(
                    stream_id=portion.stream_id,
                    kind=event.kind,
                    time_s=event.time,
                    code=event.code,
                    sentence=event.sentence,
                )
                for event in portion.events
            )


def drop_readings(
    stream_ids: Sequence[int], pictures: Sequence[Sequence[Sequence[float]]], signature: Signature
) -> None:
    """Let the raw readings of streams go; each block is told in the chain as it was, and what went is recorded.

    Raises `Conflict` for a block that is not what the chain tells: an alteration would be covered up.
    """
    with closing(covered_rows()) as told:
        for stream_id, picture in zip(stream_ids, pictures, strict=True):
            with one_transaction():
                _drop_blocks(stream_id, picture, told, signature)


def end_stream(stream_id: int, end: NewEnd, signature: Signature) -> None:
    """A stream ends; what is left becomes its last block."""
    with one_transaction():
        if stream_queries.stream(stream_id).outcome is not None:
            raise Conflict(f"The stream {stream_id} has ended already.")
        _close_block(stream_id)
        add(
            models.StreamEnd,
            signature,
            stream_id=stream_id,
            outcome=end.outcome,
            after_s=end.after,
            code=end.code,
            sentence=end.sentence,
            removed_m=end.removed,
            uncertainty_m=end.uncertainty,
            margin_m=end.margin,
            shown_m=end.shown,
        )


# ----------------------------------------------------------------------------------------------------------------------


def _drop_blocks(stream_id: int, picture: Sequence[Sequence[float]], told: Covered, signature: Signature) -> None:
    blocks = list(models.StreamBlock.objects.filter(stream_id=stream_id).order_by("number"))
    found = hashlib.sha256()
    for block in blocks:
        known = told.row("streamblock", block.pk)
        if known is None or known[0] != digest_of(block):
            raise Conflict(
                f"Block {block.number} of the stream {stream_id} is not what the audit chain tells of it, so it stays."
                " Run: lapwright verify"
            )
        found.update(bytes(block.data))
    add(
        models.StreamDrop,
        signature,
        stream_id=stream_id,
        blocks=len(blocks),
        readings=sum(block.count for block in blocks),
        sha256=found.hexdigest(),
        picture=[list(one) for one in picture],
    )
    note_dropped(blocks)
    QuerySet(models.StreamBlock).filter(stream_id=stream_id)._raw_delete("default")  # noqa: SLF001  past the refusal


def _add_readings(portion: Portion) -> None:
    """Readings as tails, and the tails as a block as soon as they are enough for one."""
    for first, beyond in _stretches(portion.times):
        times, lengths = portion.times[first:beyond], portion.lengths[first:beyond]
        tails = models.StreamTail.objects.filter(stream_id=portion.stream_id)
        begun = tails.first()
        if begun is not None and times[-1] - unpacked(bytes(begun.data))[0][0] >= BLOCK_TIME:
            _close_block(portion.stream_id)
        number = models.StreamBlock.objects.filter(stream_id=portion.stream_id).count()
        models.StreamTail.objects.create(
            stream_id=portion.stream_id, number=number, count=len(times), data=packed(times, lengths)
        )
        if (tails.aggregate(all=Sum("count"))["all"] or 0) >= BLOCK_COUNT:
            _close_block(portion.stream_id)


def _stretches(times: Array) -> Iterator[tuple[int, int]]:
    """Places at which readings are cut, so that none is longer than a block in number or in time."""
    first = 0
    for place in range(1, len(times) + 1):
        if place == len(times) or place - first >= BLOCK_COUNT or times[place] - times[first] >= BLOCK_TIME:
            yield first, place
            first = place


def _close_block(stream_id: int) -> None:
    """The readings committed since the last block, as a block."""
    import numpy as np

    tails = models.StreamTail.objects.filter(stream_id=stream_id)
    pieces = [unpacked(bytes(data)) for data in tails.values_list("data", flat=True)]
    if not pieces:
        return
    times = np.concatenate([piece[0] for piece in pieces])
    lengths = np.concatenate([piece[1] for piece in pieces])
    models.StreamBlock.objects.create(
        stream_id=stream_id,
        number=models.StreamBlock.objects.filter(stream_id=stream_id).count(),
        count=len(times),
        data=packed(times, lengths),
    )
    tails.delete()
