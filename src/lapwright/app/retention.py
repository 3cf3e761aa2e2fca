"""Use cases: how long the raw readings of runs are kept.

What a run did stays for ever: its estimate, its end, its events, what was read before and after, and a thinned picture.
Only the readings of the gauge, many a second, may go: after the time that the setting `keep_streams_days` gives, when
the wafer is done with, and at a person's word. The audit chain tells of each block that went, and a row says how many
they were and what their SHA-256 was, so that a copy found in a backup can be proved to be them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from lapwright.errors import SettingError
from lapwright.model.live import RecordedStream
from lapwright.model.readings import Signature
from lapwright.settings import Settings

PICTURE_WIDTH = 600  # stretches of the picture that stays


@dataclass(frozen=True, slots=True, kw_only=True)
class Droppable:
    """Streams whose raw readings may go, and the bytes of all raw readings on record."""

    streams: tuple[RecordedStream, ...]
    raw_bytes: int


def droppable(settings: Settings, *, at: datetime) -> Droppable:
    """What may go by the setting. Raises `SettingError` when raw readings are kept for ever."""
    from lapwright.records import stream_queries

    if settings.keep_streams_days <= 0:
        raise SettingError(
            "Raw readings are kept for ever. Set keep_streams_days to the days after which they may go, at least."
        )
    before = at - timedelta(days=settings.keep_streams_days)
    return Droppable(streams=stream_queries.droppable_streams(before), raw_bytes=stream_queries.raw_bytes())


def drop_raw_readings(settings: Settings, *, by: str, reason: str, at: datetime) -> tuple[RecordedStream, ...]:
    """Let the raw readings go that may; the streams as they are now, each saying what went.

    Raises `Conflict` for a block that is not what the audit chain tells of it.
    """
    from lapwright.app import live
    from lapwright.records import stream_queries, writer

    going = droppable(settings, at=at).streams
    pictures = [live.run_picture(one.run_id, width=PICTURE_WIDTH) for one in going]
    writer.drop_readings([one.stream_id for one in going], pictures, Signature(by=by, at=at, reason=reason))
    return tuple(stream_queries.stream(one.stream_id) for one in going)
