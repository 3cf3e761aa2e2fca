"""A recorded stream played again, as fast as it was, faster, or as fast as it can be read.

The time in the file is the clock: stamps, gaps and order come from it, however fast it is played. The reader is
waited for, so that nothing is lost.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import TextIO

from lapwright.errors import BadInput, Fault, FileFormatError, GaugeError
from lapwright.gauges.address import Option, Options, number_between
from lapwright.gauges.frames import FrameResult, Rubbish
from lapwright.gauges.frames.lines import LONGEST
from lapwright.gauges.frames.numbers import LengthFormat
from lapwright.gauges.frames.options import LENGTH_OPTIONS, length_format
from lapwright.gauges.frames.stream_rows import StreamRows
from lapwright.gauges.roles import Link, Sink

BATCH = 512  # rows read at a time
FASTEST = float("inf")
AHEAD = 0.002  # s, less than this is not waited for


def read_speed(text: str) -> float:
    """Times as fast as it was; ``max`` for no waiting at all."""
    return FASTEST if text == "max" else number_between(0.001, 1e6, "or 'max'")(text)


OPTIONS = (
    Option(name="speed", read=read_speed, default="max", help="times as fast as it was; max: no waiting"),
    *(option for option in LENGTH_OPTIONS if option.name != "unit"),
)


def connect(place: str, options: Options) -> Link:
    """The link to a file."""
    if not place:
        raise BadInput([Fault(sentence="A replay needs its file; write it like 'replay:run.csv'.")])
    return ReplayLink(Path(place), options)


class ReplayLink:
    """One file, played once."""

    has_own_time = True

    def __init__(self, path: Path, options: Options) -> None:
        self._path, self._speed = path, options["speed"]
        self._form = length_format({**options, "unit": None})

    async def run(self, sink: Sink) -> None:
        """Play the file to its end."""
        try:
            with self._path.open(encoding="utf-8-sig", errors="replace") as file:
                sink.connected()
                await self._play(file, sink)
        except OSError as error:
            raise GaugeError(f"{self._path} cannot be read ({error.strerror}). Check its name.") from error

    async def _play(self, file: TextIO, sink: Sink) -> None:
        frames = _frames(file, self._path.name, self._form)
        begun: float | None = None
        while batch := await asyncio.to_thread(lambda: list(islice(frames, BATCH))):
            if self._speed == FASTEST:
                while batch:
                    room = await sink.room()
                    sink.frames(batch[:room])
                    batch = batch[room:]
                continue
            for frame in batch:
                await sink.room()
                if frame.device_time is not None:
                    begun = sink.now() - frame.device_time / self._speed if begun is None else begun
                    ahead = begun + frame.device_time / self._speed - sink.now()
                    if ahead > AHEAD:
                        await asyncio.sleep(ahead)
                sink.frames([frame])


# ----------------------------------------------------------------------------------------------------------------------


def _frames(file: TextIO, name: str, form: LengthFormat) -> Iterator[FrameResult]:
    """The frames of a stream file."""
    rows: StreamRows | None = None
    for number, line in enumerate(_lines(file), start=1):
        if line is None:
            yield Rubbish(reason=f"row {number} is longer than {LONGEST} characters", text="")
        elif rows is None:
            if line.strip() and not line.startswith("#"):
                rows = StreamRows(line, form, name=name)
        else:
            frame = rows.row(line, number)
            if frame is not None:
                yield frame
    if rows is None:
        raise FileFormatError(f"{name} holds no heading; expected one like 'time_s,length_um'.")


def _lines(file: TextIO) -> Iterator[str | None]:
    """The lines of a file; None for one that is too long to be a row."""
    while line := file.readline(LONGEST):
        if line.endswith("\n") or len(line) < LONGEST:
            yield line
            continue
        while line and not line.endswith("\n"):
            line = file.readline(LONGEST)
        yield None
