"""Readings files: one row per reading, wafers in any order, units in the header.

`read_readings` gives one `ThicknessSet` per wafer, in the order in which the wafers appear, or raises `BadInput` with
every fault of the file. An empty thickness cell is a site that was not measured. The form is told in
docs/reference/readings-file.md. Lines are read in blocks; what stays in memory are arrays of numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import FileFormatError
from lapwright.formats.delimited import header_and_blocks, open_text
from lapwright.formats.faults import FaultList
from lapwright.formats.readings_checks import check_places, check_repeats
from lapwright.formats.readings_header import columns
from lapwright.formats.readings_rows import Rows, RowsReader
from lapwright.model.readings import Conditions, ThicknessSet

__all__ = ["ReadSet", "ReadingsFile", "parse_readings", "read_readings"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadSet:
    """One wafer's readings, and what a record wants to know of the file they came from.

    `unit` is the symbol of the thickness column; `rows` are row numbers in the file (the header is row 1); `repeats`
    counts the readings of each site from 1; `texts` are the thickness cells as entered, empty unless they were asked
    for; `first_time` and `last_time` are the first and last entry of the column `time`.
    """

    readings: ThicknessSet
    unit: str
    rows: NDArray[np.int64]
    repeats: NDArray[np.int64]
    texts: tuple[str, ...] = ()
    first_time: datetime | None = None
    last_time: datetime | None = None


class ReadingsFile:
    """A readings file that has passed every check; its sets are made as they are asked for."""

    def __init__(self, rows: Rows, *, name: str) -> None:
        self.name = name
        self.wafers: tuple[str, ...] = rows.wafers
        self.n_rows = len(rows.number)
        self.unit = rows.units["thickness"].symbol
        self._rows = rows
        self._si = {name: _si(rows, name) for name in ("x", "y", "thickness", "temperature") if name in rows.values}

    def __len__(self) -> int:
        return len(self.wafers)

    def __iter__(self) -> Iterator[ReadSet]:
        return map(self._read_set, range(len(self.wafers)))

    def sets(self) -> tuple[ThicknessSet, ...]:
        """The readings of every wafer, in file order."""
        return tuple(self._readings(index) for index in range(len(self.wafers)))

    # ------------------------------------------------------------------------------------------------------------------

    def _readings(self, index: int) -> ThicknessSet:
        rows, once = self._rows, self._rows.once[index]
        chosen = slice(rows.bounds[index], rows.bounds[index + 1])
        sites = slice(rows.site_bounds[index], rows.site_bounds[index + 1])
        first = rows.site_row[sites]
        return ThicknessSet(
            piece=rows.wafers[index],
            labels=tuple([rows.labels[label] for label in rows.site_label[sites].tolist()]),
            x=self._si["x"][first],
            y=self._si["y"][first],
            site=rows.site[chosen],
            thickness=self._si["thickness"][chosen],
            conditions=self._conditions(index, chosen),
            gauge=once.gauge,
            operator=once.operator,
        )

    def _conditions(self, index: int, chosen: slice) -> Conditions:
        once = self._rows.once[index]
        temperature = None
        if "temperature" in self._si:
            given = self._si["temperature"][chosen]
            given = given[~np.isnan(given)]
            temperature = float(given.mean()) if given.size else None
        return Conditions(
            hold=once.hold,
            soaked=once.soaked,
            temperature=temperature,
            zero_before=once.zero_before,
            zero_after=once.zero_after,
        )

    def _read_set(self, index: int) -> ReadSet:
        rows, once = self._rows, self._rows.once[index]
        chosen = slice(rows.bounds[index], rows.bounds[index + 1])
        repeat = rows.values.get("repeat")
        return ReadSet(
            readings=self._readings(index),
            unit=self.unit,
            rows=rows.number[chosen],
            repeats=repeat[chosen].astype(np.int64) if repeat is not None else _counted(rows.site[chosen]),
            texts=tuple(rows.texts[chosen]),
            first_time=once.first_time,
            last_time=once.last_time,
        )


def read_readings(path: Path, *, keep_texts: bool = False) -> ReadingsFile:
    """Read and check a readings file.

    Raises `FileFormatError` for a file that cannot be read as separated UTF-8 text or has no rows, and `BadInput` with
    all faults of its header, or else of its rows.
    """
    with open_text(path) as lines:
        return parse_readings(lines, name=path.name, keep_texts=keep_texts)


def parse_readings(lines: Iterable[str], *, name: str, keep_texts: bool = False) -> ReadingsFile:
    """Read and check readings given as lines of text; `name` is how faults call them."""
    header, separator, blocks = header_and_blocks(lines, name)
    faults = FaultList(name)
    found = columns(header, faults)
    faults.settle()
    reader = RowsReader(found, width=len(header), separator=separator, faults=faults, keep_texts=keep_texts)
    for block in blocks:
        reader.take(block)
    if not reader.n_rows:
        faults.settle()
        raise FileFormatError(f"{name} holds a header and no rows; expected one row per reading below it.")
    rows = reader.finish()
    check_places(rows, found, faults)
    check_repeats(rows, faults)
    faults.settle()
    return ReadingsFile(rows, name=name)


# ----------------------------------------------------------------------------------------------------------------------


def _si(rows: Rows, name: str) -> NDArray[np.float64]:
    unit = rows.units[name]
    values: NDArray[np.float64] = rows.values[name] * unit.factor / unit.per + unit.offset
    return values


def _counted(site: NDArray[np.int64]) -> NDArray[np.int64]:
    """First, second, … reading of each site, in the order taken."""
    order = np.argsort(site, kind="stable")
    starts = np.searchsorted(site[order], site[order])
    repeats = np.empty(len(site), dtype=np.int64)
    repeats[order] = np.arange(len(site)) - starts + 1
    return repeats
