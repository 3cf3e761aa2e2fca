"""Named columns of a CSV table with a header, for studies and charts: numbers and names, all faults at once.

Lines that begin with ``#`` above the header are remarks. Which columns mean what is told by whoever asks; a column may
carry its unit at the end of its heading (``thickness_um``). An empty cell is a fault: what was not measured has no row.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import UnitError
from lapwright.formats.delimited import BYTE_ORDER_MARK, cells_of, header_and_blocks, open_text
from lapwright.formats.faults import FaultList
from lapwright.units import Unit, field_unit, number


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """Columns asked for, by heading, and the file row of each value."""

    name: str
    numbers: dict[str, NDArray[np.float64]]
    names: dict[str, tuple[str, ...]]
    rows: NDArray[np.intp]


def read_columns(path: Path, *, numbers: Sequence[str], names: Sequence[str] = ()) -> Columns:
    """Columns of a table by heading; `numbers` hold numbers, `names` any text that is not empty.

    Raises `FileFormatError` for a file that cannot be read, `BadInput` with every fault.
    """
    faults = FaultList(path.name)
    with open_text(path) as lines:
        source = iter(lines)
        remarks = 0
        first = next(source, "")
        while first.removeprefix(BYTE_ORDER_MARK).lstrip().startswith("#"):
            remarks += 1
            first = next(source, "")
        header, separator, blocks = header_and_blocks(chain([first], source), path.name)
        wanted = _places(header, [*numbers, *names], faults)
        faults.settle()
        found: dict[str, list[str]] = {title: [] for title in wanted}
        rows: list[int] = []
        for block in blocks:
            for row, line in enumerate(block.lines, start=block.start + remarks):
                if line.strip():
                    cells = cells_of(line, separator, row=row, name=path.name)
                    _take(cells, len(header), row, wanted, found, rows, faults)
    return _columns(path.name, found, rows, numbers, names, faults)


def heading_unit(heading: str, dimension: str = "length") -> Unit | None:
    """The unit at the end of a heading, None without one."""
    try:
        return field_unit(heading, dimension)
    except UnitError:
        return None


def codes_of(names: Sequence[str]) -> NDArray[np.intp]:
    """Names as whole numbers from 0, in the order in which they first appear."""
    known: dict[str, int] = {}
    return np.array([known.setdefault(name, len(known)) for name in names], dtype=np.intp)


# ----------------------------------------------------------------------------------------------------------------------


def _places(header: Sequence[str], wanted: Sequence[str], faults: FaultList) -> dict[str, int]:
    places = {}
    for title in dict.fromkeys(wanted):
        if header.count(title) == 1:
            places[title] = header.index(title)
            continue
        near = difflib.get_close_matches(title, header, 1)
        if title in header:
            sentence = f"The heading {title!r} stands twice; rename one of the two columns."
        elif near:
            sentence = f"There is no column {title!r}; did you mean {near[0]!r}?"
        else:
            sentence = f"There is no column {title!r}; the columns are {', '.join(map(repr, header))}."
        faults.add(sentence, code="table.no_column", field=title)
    return places


def _take(
    cells: list[str], width: int, row: int, wanted: dict[str, int], found: dict[str, list[str]], rows: list[int],
    faults: FaultList,
) -> None:  # fmt: skip
    if len(cells) != width:
        faults.add(f"Row {row} has {len(cells)} cells; the header has {width}.", code="table.ragged", row=row)
        return
    rows.append(row)
    for title, place in wanted.items():
        found[title].append(cells[place])


def _columns(
    name: str, found: dict[str, list[str]], rows: list[int], numbers: Sequence[str], names: Sequence[str],
    faults: FaultList,
) -> Columns:  # fmt: skip
    values = {title: _numbers(title, found[title], rows, faults) for title in numbers}
    for title in names:
        for row, cell in zip(rows, found[title], strict=True):
            if not cell:
                _report_empty(title, row, faults)
    if not rows and not faults.total:
        faults.add(f"{name} has a header and no rows below it.", code="table.no_rows")
    faults.settle()
    return Columns(
        name=name,
        numbers=values,
        names={title: tuple(found[title]) for title in names},
        rows=np.array(rows, dtype=np.intp),
    )


def _numbers(title: str, cells: Sequence[str], rows: Sequence[int], faults: FaultList) -> NDArray[np.float64]:
    try:
        values = np.array(cells, dtype=np.float64)
    except ValueError:
        values = np.array([_number(cell) for cell in cells], dtype=np.float64)
    for place in np.flatnonzero(~np.isfinite(values)).tolist():
        if not cells[place]:
            _report_empty(title, rows[place], faults)
        else:
            sentence = f"Row {rows[place]}, {title}: {cells[place]!r} is no number."
            faults.add(sentence, code="table.not_a_number", row=rows[place], field=title)
    return values


def _number(cell: str) -> float:
    try:
        return number(cell)
    except UnitError:
        return math.nan


def _report_empty(title: str, row: int, faults: FaultList) -> None:
    sentence = f"Row {row}, {title}: the cell is empty. Leave the row out when nothing was measured."
    faults.add(sentence, code="table.empty_cell", row=row, field=title)
