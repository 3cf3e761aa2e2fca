"""Profiles and maps as separated text: notes above the header, units in the header, numbers below.

A note is a line that begins with `#` and may say `name: value`. The header names each column with its unit
(`x_mm,z_nm`). An empty cell, or `nan`, is a height that was not measured.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import FileFormatError, UnitError
from lapwright.formats.delimited import SEPARATORS, cells_of
from lapwright.formats.faults import FaultList
from lapwright.formats.file_bytes import MOST_POINTS
from lapwright.units import Unit, field_unit, from_unit, to_unit

_NOTE = re.compile(r"^#\s*([A-Za-z_]\w*)\s*[:=]\s*(.*?)\s*$")


@dataclass(frozen=True, slots=True, kw_only=True)
class TextTable:
    """A text file taken apart: its notes, the header's cells, and the lines below with the row of the first."""

    name: str
    notes: dict[str, str]
    remarks: str
    header: list[str]
    separator: str
    lines: list[str]
    first_row: int


def text_table(content: bytes, *, name: str) -> TextTable:
    """Notes, header and lines of a text file; `FileFormatError` for one that is no text or has no header."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise FileFormatError(
            f"{name} is neither text in UTF-8 nor a surface file that is known; expected X3P, SDF, or a text file with "
            "a header like x_mm,z_nm. Convert it first."
        ) from fault
    if "\x00" in text:
        raise FileFormatError(f"{name} holds zero bytes and is no text file. Save or send it again.")
    notes: dict[str, str] = {}
    remarks: list[str] = []
    lines = text.split("\n")
    for index, line in enumerate(lines):
        if line.startswith("#"):
            remarks.append(line)
            found = _NOTE.match(line.rstrip("\r"))
            if found:
                notes[found[1].lower()] = found[2]
        elif line.strip():
            separator = next((mark for mark in SEPARATORS if mark in line), ",")
            header = cells_of(line.rstrip("\r"), separator, row=index + 1, name=name)
            return TextTable(
                name=name, notes=notes, remarks="\n".join(remarks), header=[cell.lower() for cell in header],
                separator=separator, lines=lines[index + 1 :], first_row=index + 2,
            )  # fmt: skip
    raise FileFormatError(f"{name} is empty but for notes; expected a header like x_mm,z_nm and a row for each point.")


def column_unit(title: str, name: str) -> Unit:
    """The unit of length at the end of a column's or note's name; `FileFormatError` without one."""
    try:
        return field_unit(title, "length")
    except UnitError as fault:
        raise FileFormatError(
            f"{name}: {title!r} does not end in a unit of length; name it like x_mm or z_nm. Mend the header."
        ) from fault


def noted_length(table: TextTable, start: str) -> float | None:
    """A length in the notes whose name begins so and ends in a unit [m]; None when there is none."""
    for title, text in table.notes.items():
        if title.startswith(start + "_"):
            unit = column_unit(title, table.name)
            try:
                return from_unit(float(text.replace(",", ".")), unit)
            except ValueError as fault:
                raise FileFormatError(
                    f"{table.name}: the note {title} is {text[:40]!r}; a number is expected. Mend it."
                ) from fault
    return None


def number_columns(table: TextTable, wanted: tuple[int, ...]) -> NDArray[np.float64]:
    """The numbers of some columns, as written, one row for each line; the last of them may have empty cells (NaN).

    Raises `BadInput` with all faulty cells, `FileFormatError` for no or too many rows.
    """
    quick = _clean_columns(table, wanted)
    if quick is not None:
        need_noted_count(table, "points", len(quick))
        return quick
    faults = FaultList(table.name)
    rows: list[tuple[float, ...]] = []
    for row, line in enumerate(table.lines, start=table.first_row):
        if not line.strip() or line.startswith("#"):
            continue
        cells = line.rstrip("\r").split(table.separator)
        if len(cells) != len(table.header):
            faults.add(
                f"Row {row} has {len(cells)} cells; {len(table.header)} are expected. Mend the row.",
                code="row.length",
                row=row,
            )
            continue
        found = tuple(_number(cells[column], may_be_empty=column == wanted[-1]) for column in wanted)
        if None in found:
            _report(faults, table, cells, wanted, row)
        else:
            rows.append(found)  # type: ignore[arg-type]  # None was looked for just above
    faults.settle()
    need_noted_count(table, "points", len(rows))
    if not rows:
        raise FileFormatError(f"{table.name} has a header and no rows; expected a row for each point.")
    if len(rows) > MOST_POINTS:
        raise FileFormatError(f"{table.name} holds {len(rows)} points; at most {MOST_POINTS} are read.")
    return np.array(rows)


def need_noted_count(table: TextTable, note: str, count: int) -> None:
    """Refuse a file that notes how many rows or points it holds and holds another number: it was cut or joined."""
    told = table.notes.get(note)
    if told is not None and told != str(count):
        raise FileFormatError(
            f"{table.name} holds {count} {note} and notes {told[:40]!r}; it was cut short or changed. "
            "Send it again, or delete the note."
        )


def scaled(numbers: NDArray[np.float64], unit: Unit) -> NDArray[np.float64]:
    """Numbers in a unit as SI."""
    convert: Callable[..., NDArray[np.float64]] = from_unit  # type: ignore[assignment]  # the same sum, on an array
    return convert(numbers, unit)


def exact_texts(values: NDArray[np.float64], unit: Unit) -> list[str]:
    """Numbers in a unit as text that reads back to the same SI values wherever there is such a number; "" for NaN."""
    nearest = np.asarray(to_unit(values, unit))  # type: ignore[arg-type]  # the same sum, on an array
    best = nearest
    for candidate in (np.nextafter(nearest, -np.inf), np.nextafter(nearest, np.inf), nearest, np.round(nearest, 9)):
        best = np.where(scaled(candidate, unit) == values, candidate, best)
    return ["" if one != one else repr(one).removesuffix(".0") for one in best.ravel().tolist()]  # noqa: PLR0124  NaN


# ----------------------------------------------------------------------------------------------------------------------


def _clean_columns(table: TextTable, wanted: tuple[int, ...]) -> NDArray[np.float64] | None:
    """The columns of a file in which every cell is a plain number, quickly; None for any other."""
    if not any(line.strip() for line in table.lines[:1]):
        return None
    try:
        found = np.loadtxt(table.lines, delimiter=table.separator, comments=None, ndmin=2)
    except ValueError:
        return None
    if found.shape[1] != len(table.header) or len(found) > MOST_POINTS:
        return None
    chosen = found[:, list(wanted)]
    if np.isinf(chosen).any() or np.isnan(chosen[:, :-1]).any():
        return None
    return np.asarray(chosen, dtype=np.float64)


def _number(cell: str, *, may_be_empty: bool) -> float | None:
    """A finite number with point or comma; NaN for an empty cell where that may be; None for a fault."""
    try:
        value = float(cell)
    except ValueError:
        text = cell.strip().strip('"')
        if not text:
            return math.nan if may_be_empty else None
        try:
            value = float(text.replace(",", "."))
        except ValueError:
            return None
    if math.isfinite(value) or (may_be_empty and value != value):  # noqa: PLR0124  NaN
        return value
    return None


def _report(faults: FaultList, table: TextTable, cells: list[str], wanted: tuple[int, ...], row: int) -> None:
    for column in wanted:
        if _number(cells[column], may_be_empty=column == wanted[-1]) is None:
            title, text = table.header[column], cells[column].strip()
            said = f"is {text[:40]!r}; a finite number is expected" if text else "is empty"
            code = "cell.not_a_number" if text else "cell.empty"
            faults.add(f"Row {row}: {title} {said}. Mend the cell.", code=code, row=row, field=title)
