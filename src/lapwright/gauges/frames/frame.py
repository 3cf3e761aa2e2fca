"""What a decoder gives: a frame with a length, or rubbish with a reason."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

SHOWN = 80  # characters of a bad frame that are kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """One reading as sent, without a time of ours: length [m], text, unit, and what else the sender told.

    `device_time` [s] is the sender's own; `sequence` its count.
    """

    length: float
    text: str
    unit: str
    channel: str = ""
    sequence: int | None = None
    device_time: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rubbish:
    """A frame that is no reading: why, and its beginning."""

    reason: str
    text: str
    channel: str = ""
    device_time: float | None = None


FrameResult = Frame | Rubbish


class Decoder(Protocol):
    """Turns bytes, cut anywhere, into frames. One decoder for each connection."""

    def feed(self, data: bytes) -> list[FrameResult]:
        """Frames that are complete now."""

    def finish(self) -> list[FrameResult]:
        """What is left at the end of the connection: nothing, or the cut-off frame as rubbish."""


def shown(text: str) -> str:
    """The beginning of a bad frame, with control characters made visible."""
    return text[:SHOWN].encode("unicode_escape").decode("ascii") if not text.isprintable() else text[:SHOWN]
