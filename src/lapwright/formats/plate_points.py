"""Heights of a plate as text in and out: three columns in, every point with its parabola out."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable
from typing import Any

from lapwright.errors import BadInput, Fault, LapwrightError
from lapwright.formats.edge_values import mm, um
from lapwright.units import number

_COLUMNS = ("x_mm", "y_mm", "laying", "reading_um", "height_um", "parabola_um", "left_um")
MOST_POINTS = 5000


def read_points(text: str) -> tuple[tuple[float, float, str], ...]:
    """Rows (x in mm, y in mm, height as typed) of text in three columns; all faults at once.

    Columns lie apart by tabs, semicolons or blanks, or by commas where the row has nothing else; a row that begins with
    ``#`` is a remark, and a first row of words is a heading. Raises `BadInput`.
    """
    rows: list[tuple[float, float, str]] = []
    faults: list[Fault] = []
    for place, line in enumerate(text.splitlines(), start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        cells = _cells(line)
        if not rows and not faults and not any(character.isdigit() for character in cells[-1]):
            continue  # a heading
        try:
            if len(cells) != 3:
                raise BadInput([Fault(sentence=f"found {len(cells)} columns, expected x mm, y mm, height")])
            rows.append((number(cells[0]), number(cells[1]), cells[2]))
        except LapwrightError as error:
            faults.append(Fault(sentence=f"Row {place}: {error.sentence}", row=place, field="points"))
    if len(rows) > MOST_POINTS:
        faults.append(Fault(sentence=f"{len(rows)} points are more than {MOST_POINTS}; thin them.", field="points"))
    if faults:
        raise BadInput(faults[:100], subject="The map", total=len(faults))
    return tuple(rows)


def points_csv(points: Iterable[Any], *, remarks: Iterable[str]) -> str:
    """A table of points with remarks above its heading; lengths in the unit of their column."""
    out = io.StringIO(newline="")
    for remark in remarks:
        out.write(f"# {' '.join(remark.split())}\r\n")
    table = csv.writer(out)
    table.writerow(_COLUMNS)
    for one in points:
        table.writerow(list(point_dict(one).values()))
    return out.getvalue()


def point_dict(one: Any) -> dict[str, Any]:
    """A point with units in its names."""
    return {
        "x_mm": mm(one.x),
        "y_mm": mm(one.y),
        "laying": one.laying,
        "reading_um": um(one.reading),
        "height_um": um(one.height),
        "parabola_um": um(one.fitted),
        "left_um": um(one.left),
    }


# ----------------------------------------------------------------------------------------------------------------------


def _cells(line: str) -> list[str]:
    for separator in ("\t", ";"):
        if separator in line:
            return [cell.strip() for cell in line.split(separator)]
    if re.search(r"\S\s+\S", line):
        return line.split()
    return [cell.strip() for cell in line.split(",")]
