"""Files that an instrument writes into a folder: what is added to them is heard line by line.

The folder is looked at several times a second. What lies there at the start is old and left alone, unless
``existing=read``. A line without an end counts once its file has not grown for a second. A file that became shorter
was overwritten: it is read anew from its start, and that is told as a bad frame.
"""

from __future__ import annotations

import asyncio
import os
from dataclasses import dataclass, replace
from fnmatch import fnmatch
from pathlib import Path

from lapwright.errors import BadInput, Fault, NotConnected
from lapwright.gauges.address import Option, Options, number_between, one_of
from lapwright.gauges.frames import Decoder, FrameResult, Rubbish
from lapwright.gauges.frames.options import FRAME_OPTIONS, check_frame_options, text_decoder
from lapwright.gauges.roles import Link, Sink

CHUNK = 65536  # bytes of one file at a time
SETTLED = 1.0  # s without growth after which a file is taken as complete

OPTIONS = (
    *FRAME_OPTIONS,
    Option(name="files", read=str, default="*", help="which names count, with * and ?"),
    Option(name="existing", read=one_of("skip", "read"), default="skip", help="what lies there at the start"),
    Option(name="look_ms", read=number_between(10, 60_000, "ms"), default="100", help="time between two looks [ms]"),
)


def connect(place: str, options: Options) -> Link:
    """The link to a folder."""
    if not place:
        raise BadInput([Fault(sentence="A folder source needs its folder, like 'folder:/data/gauge?unit=um'.")])
    check_frame_options(options)
    return FolderLink(Path(place), options)


@dataclass(slots=True)
class _File:
    """How far a file is read, and when it last grew."""

    decoder: Decoder
    read: int
    grown: float
    pending: bool = False


class FolderLink:
    """One folder. What was read stays known when the folder is gone and comes back."""

    has_own_time = False

    def __init__(self, path: Path, options: Options) -> None:
        self._path, self._options = path, options
        self._files: dict[str, _File] | None = None

    async def run(self, sink: Sink) -> None:
        """Look again and again until the folder is gone."""
        while True:
            now = sink.now()
            try:
                frames = await asyncio.to_thread(self.look, now)
            except OSError as error:
                raise NotConnected(f"Folder {self._path} cannot be read ({error.strerror}). Check its name.") from error
            sink.connected()
            if frames:
                sink.frames(frames, sink.now())
            await sink.room()
            await asyncio.sleep(self._options["look_ms"] / 1000.0)

    def look(self, now: float) -> list[FrameResult]:
        """Frames that came since the last look."""
        first, self._files = self._files is None, self._files or {}
        with os.scandir(self._path) as entries:
            sizes = {
                entry.name: entry.stat().st_size
                for entry in entries
                if entry.is_file() and fnmatch(entry.name, self._options["files"])
            }
        for gone in self._files.keys() - sizes.keys():
            del self._files[gone]
        frames: list[FrameResult] = []
        for name in sorted(sizes):
            if name not in self._files:
                begin = sizes[name] if first and self._options["existing"] == "skip" else 0
                self._files[name] = _File(text_decoder(self._options), begin, now)
            frames += self._grown(name, self._files[name], sizes[name], now)
        return frames

    def _grown(self, name: str, file: _File, size: int, now: float) -> list[FrameResult]:
        frames: list[FrameResult] = []
        if size < file.read:
            frames.append(Rubbish(reason=f"{name} became shorter and is read anew", text=""))
            file.decoder, file.read = text_decoder(self._options), 0
        if size > file.read:
            with (self._path / name).open("rb") as stream:
                stream.seek(file.read)
                data = stream.read(CHUNK)
            file.read, file.grown, file.pending = file.read + len(data), now, True
            frames += file.decoder.feed(data)
        elif file.pending and now - file.grown > SETTLED:
            file.pending = False
            frames += file.decoder.feed(self._options["terminator"] or b"\n")
        return [replace(frame, text=frame.text or name) if isinstance(frame, Rubbish) else frame for frame in frames]
