"""What is fuzzed: every parser of bytes from outside, with samples that it reads.

A parser may refuse with an error of ours; anything else that leaves it is a crash.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from lapwright.errors import LapwrightError
from lapwright.formats.budget_toml import read_budget
from lapwright.formats.evidence_archive import archive_bytes, read_archive
from lapwright.formats.heat_csv import read_heat_trace
from lapwright.formats.images import picture_from_bytes
from lapwright.formats.map_csv import map_grid_text, map_list_text
from lapwright.formats.order_toml import read_order
from lapwright.formats.outlines import outline_from_text, read_corners
from lapwright.formats.piece_codes import read_code
from lapwright.formats.pieces_csv import read_pieces
from lapwright.formats.plate_points import read_points
from lapwright.formats.profile_csv import profile_text
from lapwright.formats.qif_read import inspection_from_bytes
from lapwright.formats.rate_runs import read_runs
from lapwright.formats.readings_csv import read_readings
from lapwright.formats.sdf import sdf_bytes
from lapwright.formats.surfaces import surface_from_bytes
from lapwright.formats.table_csv import read_columns
from lapwright.formats.wafer_list import read_wafer_list
from lapwright.formats.x3p import x3p_bytes, x3p_surface
from lapwright.formats.x3p_archive import archive_of, md5_of
from lapwright.gauges.frames.ascii_line import AsciiLines
from lapwright.gauges.frames.json_line import JsonLines
from lapwright.gauges.frames.keyed import KeyedValues
from lapwright.gauges.frames.numbers import LengthFormat
from lapwright.gauges.frames.stream_rows import StreamRows
from lapwright.gauges.stop.messages import read_message
from lapwright.metrology.expression import model_from_text
from lapwright.model.surface import HeightMap, HeightProfile
from lapwright.testing import fuzz_samples as samples
from lapwright.units import find_unit, parse

AT = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)
_UM = LengthFormat(unit=find_unit("um", "length"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A parser of bytes and samples that it reads."""

    name: str
    parse: Callable[[bytes], Any]
    samples: tuple[bytes, ...]

    def crash_of(self, data: bytes) -> Exception | None:
        """What left the parser that must not; None when it read or refused the bytes."""
        try:
            self.parse(data)
        except LapwrightError:
            return None
        except Exception as error:  # noqa: BLE001  this is what is looked for
            return error
        return None


# ----------------------------------------------------------------------------------------------------------------------

_place: list[tempfile.TemporaryDirectory[str]] = []


def _filed(read: Callable[[Path], Any], suffix: str) -> Callable[[bytes], Any]:
    """A reader of files as one of bytes, by a file that is written over each time."""

    def parse_bytes(data: bytes) -> Any:
        if not _place:
            memory = Path("/dev/shm")  # noqa: S108  a disk in memory where there is one
            _place.append(tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None))
        path = Path(_place[0].name) / f"fuzzed{suffix}"
        path.write_bytes(data)
        return read(path)

    return parse_bytes


def _text(read: Callable[[str], Any]) -> Callable[[bytes], Any]:
    return lambda data: read(data.decode("utf-8", errors="replace"))


def _readings(path: Path) -> Any:
    for keep in (False, True):
        sets = read_readings(path, keep_texts=keep).sets()
    return sets


def _decoded(data: bytes) -> None:
    """The same bytes to every decoder of frames; the first byte says how they are cut."""
    cut = 1 + (data[0] if data else 0) % 17
    for make in (lambda: AsciiLines(_UM), lambda: JsonLines(LengthFormat()), lambda: KeyedValues(_UM)):
        decoder: Any = make()
        for first in range(1, len(data), cut):
            decoder.feed(data[first : first + cut])
        decoder.finish()
    read_message(data)


def _stream(text: str) -> None:
    heading, *lines = text.splitlines() or [""]
    rows = StreamRows(heading, LengthFormat(), name="fuzzed")
    for number, line in enumerate(lines, start=2):
        rows.row(line, number)


def _pasted(text: str) -> None:
    from lapwright.app import set_values
    from lapwright.app.pasted_readings import pasted_rows

    for row in pasted_rows(text, ("C", "A1", "A2")):
        try:
            set_values.length_of(row.text, "µm")
        except LapwrightError:
            continue


def _words(text: str) -> None:
    """Every parser of one field, each on the same text."""
    for read in (
        lambda: parse(text, "length"),
        lambda: outline_from_text(text),
        lambda: read_code(text),
        lambda: model_from_text(text, names=("x", "y")),
    ):
        try:
            read()
        except LapwrightError:
            continue


def _x3p_inside(data: bytes) -> Any:
    """An archive whose checksums are right around a description and heights of any kind."""
    document, _, heights = data.partition(b"\0--\0")
    parts = {"main.xml": document, "bindata/data.bin": heights}
    parts["md5checksum.hex"] = f"{md5_of(document)} *main.xml\n".encode()
    return x3p_surface(archive_of(parts), name="fuzzed.x3p")


def _x3p_sample(surface: HeightMap | HeightProfile) -> bytes:
    import io
    import zipfile

    with zipfile.ZipFile(io.BytesIO(x3p_bytes(surface, at=AT))) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    heights = next((content for name, content in parts.items() if name.endswith(".bin")), b"")
    return parts["main.xml"] + b"\0--\0" + heights


def _pictures() -> tuple[bytes, ...]:
    import io

    import tifffile
    from PIL import Image

    grey = (np.arange(35, dtype=np.uint8) * 7).reshape(5, 7)
    found = []
    for kind, mode in (("PNG", "L"), ("PNG", "RGB"), ("JPEG", "RGB"), ("BMP", "L"), ("GIF", "L"), ("TIFF", "L")):
        stream = io.BytesIO()
        Image.fromarray(grey).convert(mode).save(stream, kind)
        found.append(stream.getvalue())
    stream = io.BytesIO()
    tifffile.imwrite(stream, grey.astype(np.uint16) * 200, compression="zlib")
    return (*found, stream.getvalue())


def _inspection() -> bytes:
    from lapwright.formats.qif_write import qif_bytes
    from lapwright.testing.inspections import invented_inspection

    return qif_bytes(invented_inspection())


def targets() -> dict[str, Target]:
    """All targets by name."""
    grid = HeightMap(height=np.linspace(0.0, 1e-6, 12).reshape(3, 4), pixel_size=(1e-3, 2e-3))
    line = HeightProfile(height=np.linspace(0.0, 1e-7, 9), spacing=1e-6)
    listed = (
        Target(name="readings", parse=_filed(_readings, ".csv"), samples=samples.READINGS),
        Target(name="order", parse=_filed(read_order, ".toml"), samples=samples.ORDERS),
        Target(name="budget", parse=_filed(read_budget, ".toml"), samples=samples.BUDGETS),
        Target(name="x3p", parse=lambda data: x3p_surface(data, name="f.x3p"), samples=(x3p_bytes(grid, at=AT),)),
        Target(name="x3p-inside", parse=_x3p_inside, samples=(_x3p_sample(grid), _x3p_sample(line))),
        Target(
            name="surface",
            parse=lambda data: surface_from_bytes(data, name="fuzzed"),
            samples=(
                sdf_bytes(grid, at=AT),
                sdf_bytes(line, at=AT),
                sdf_bytes(grid, at=AT, coding="text"),
                *(text.encode() for text in (map_grid_text(grid), map_list_text(grid), profile_text(line))),
            ),
        ),
        Target(name="image", parse=lambda data: picture_from_bytes(data, name="fuzzed"), samples=_pictures()),
        Target(name="frames", parse=_decoded, samples=samples.FRAMES),
        Target(name="stream", parse=_text(_stream), samples=samples.STREAMS),
        Target(name="runs", parse=_filed(read_runs, ".csv"), samples=samples.RUNS),
        Target(name="heat", parse=_filed(read_heat_trace, ".csv"), samples=samples.HEATS),
        Target(name="pieces", parse=_filed(read_pieces, ".csv"), samples=samples.PIECES),
        Target(
            name="table",
            parse=_filed(lambda path: read_columns(path, numbers=["x_mm", "a"], names=["who"]), ".csv"),
            samples=samples.TABLES,
        ),
        Target(name="qif", parse=lambda data: inspection_from_bytes(data, name="fuzzed.qif"), samples=(_inspection(),)),
        Target(
            name="evidence",
            parse=_filed(read_archive, ".zip"),
            samples=(archive_bytes({"made": "now"}, {"a.txt": b"aaaa", "b/c.json": b"{}"}),),
        ),
        Target(name="pasted", parse=_text(_pasted), samples=samples.PASTED),
        Target(name="points", parse=_text(read_points), samples=samples.POINTS),
        Target(name="wafers", parse=_text(read_wafer_list), samples=samples.WAFERS),
        Target(name="corners", parse=_filed(read_corners, ".csv"), samples=samples.CORNERS),
        Target(name="words", parse=_text(_words), samples=samples.WORDS),
    )
    return {target.name: target for target in listed}
