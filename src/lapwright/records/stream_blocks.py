"""Readings of a stream as bytes and back, without loss.

A block is a header, then two arrays, each shuffled byte by byte and packed by zlib at level 1. Times are whole
microseconds from the first one. Lengths are counts of a decimal step where every length is exactly such a count, else
the floats as they are. The checksum covers header and arrays.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import RecordError
from lapwright.model.live import StreamEvent

Array = NDArray[np.float64]

_HEADER = struct.Struct("<4sBIqdI")  # mark, kind, count, first time [µs], step [m], packed bytes of the times
_CHECK = struct.Struct("<I")
_MARK = b"LWS1"
_COUNTS, _FLOATS = 1, 2
#: Steps tried, in units per metre: a millimetre to a picometre.
_PER_METRE = tuple(10.0**power for power in range(3, 13))
_LARGEST = 2**31 - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Portion:
    """What came in for one stream since the last commit."""

    stream_id: int
    times: Array
    lengths: Array
    events: Sequence[StreamEvent] = field(default=())


def packed(times: Array, lengths: Array) -> bytes:
    """Readings as a block.

    Parameters are times [s], whole microseconds, and lengths [m], of one number. Raises `RecordError` for a stretch of
    more than 35 minutes or times that are no whole microseconds.
    """
    micro = np.round(np.asarray(times) * 1e6).astype(np.int64)
    first = int(micro[0]) if micro.size else 0
    offsets = micro - first
    if offsets.size and (abs(offsets).max() > _LARGEST or not np.array_equal(micro / 1e6, times)):
        raise RecordError("Readings of more than 35 minutes, or with times finer than 1 µs, do not fit one block.")
    kind, step, body = _counted(np.asarray(lengths, dtype=np.float64))
    head = _shuffled(offsets.astype("<i4"))
    header = _HEADER.pack(_MARK, kind, micro.size, first, step, len(head))
    content = header + head + body
    return content + _CHECK.pack(zlib.crc32(content))


def unpacked(block: bytes) -> tuple[Array, Array]:
    """Times [s] and lengths [m] of a block. Raises `RecordError` when the checksum does not hold."""
    content = bytes(block[: -_CHECK.size])
    if len(content) < _HEADER.size or zlib.crc32(content) != _CHECK.unpack(block[-_CHECK.size :])[0]:
        raise RecordError("A block of readings is damaged: its checksum does not hold. Restore the last backup.")
    mark, kind, count, first, step, size = _HEADER.unpack(content[: _HEADER.size])
    if mark != _MARK or kind not in (_COUNTS, _FLOATS):
        raise RecordError("A block of readings is of an unknown kind. Update the program.")
    head, body = content[_HEADER.size : _HEADER.size + size], content[_HEADER.size + size :]
    times = (first + _straight(head, count, "<i4").astype(np.int64)) / 1e6
    if kind == _COUNTS:
        return times, _straight(body, count, "<i4") / step
    return times, _straight(body, count, "<f8").astype(np.float64)


# ----------------------------------------------------------------------------------------------------------------------


def _counted(lengths: Array) -> tuple[int, float, bytes]:
    largest = float(abs(lengths).max()) if lengths.size else 0.0
    for per_metre in _PER_METRE:
        if not largest <= _LARGEST / per_metre:
            break
        counts = np.round(lengths * per_metre)
        if np.array_equal(counts / per_metre, lengths):
            return _COUNTS, per_metre, _shuffled(counts.astype("<i4"))
    return _FLOATS, 0.0, _shuffled(lengths.astype("<f8"))


def _shuffled(values: NDArray[np.generic]) -> bytes:
    columns = values.view(np.uint8).reshape(values.size, values.itemsize)
    return zlib.compress(np.ascontiguousarray(columns.T).tobytes(), 1)


def _straight(data: bytes, count: int, kind: str) -> NDArray[np.generic]:
    size = np.dtype(kind).itemsize
    columns = np.frombuffer(zlib.decompress(data), dtype=np.uint8).reshape(size, count)
    return np.ascontiguousarray(columns.T).view(kind).reshape(count)
