"""Outlines from the command line: `25x25mm`, a diameter with its flat or notch, or a file of corners."""

from __future__ import annotations

import re
from pathlib import Path

from lapwright.errors import FileFormatError, UnitError, WrongQuestion
from lapwright.formats.delimited import cells_of, header_and_blocks, open_text
from lapwright.formats.faults import FaultList
from lapwright.model.wafer import Mark, Outline, Polygon, Rectangle, Round
from lapwright.units import field_unit, find_unit, from_unit, number

_SIDES = re.compile(r"\s*([\d.,]+)\s*[x×X*]\s*([\d.,]+)\s*([^\d\s.,]+)\s*")


def outline_from_text(text: str) -> Outline:
    """A rectangle from `25x25mm`, or a polygon from the name of a file of corners.

    Raises `WrongQuestion` when the text is neither, `FileFormatError` and `BadInput` for a file with faults.
    """
    sides = _SIDES.fullmatch(text)
    if sides:
        unit = find_unit(sides[3], "length")
        return Rectangle(width=from_unit(number(sides[1]), unit), height=from_unit(number(sides[2]), unit))
    if re.fullmatch(r"\s*[\d.,]+\s*[x×X*]\s*[\d.,]+\s*", text):
        raise UnitError(f"The outline {text!r} has no unit; write it like 25x25mm.", text=text)
    path = Path(text)
    if not _is_there(path):
        raise WrongQuestion(f"The outline {text!r} is neither two sides like 25x25mm nor a file of corners.")
    return read_corners(path)


def round_outline(diameter: float, *, flat_length: float | None = None, notch: bool = False) -> Round:
    """A disc [m] with a flat of a length [m], a notch, or neither; both at once is refused."""
    if flat_length is not None and notch:
        raise WrongQuestion("A wafer has a flat or a notch; give one of the two.")
    mark: Mark = "notch" if notch else "none" if flat_length is None else "flat"
    return Round(diameter=diameter, mark=mark, flat_length=flat_length or 0.0)


def _is_there(path: Path) -> bool:
    try:
        return path.exists()
    except OSError:  # longer than a name may be
        return False


def read_corners(path: Path) -> Polygon:
    """A polygon from a file with the header `x_mm,y_mm` (any unit of length) and one corner per row, in order."""
    faults = FaultList(path.name)
    with open_text(path) as lines:
        header, separator, blocks = header_and_blocks(lines, path.name)
        if [title.lower().partition("_")[0] for title in header] != ["x", "y"]:
            raise FileFormatError(f"{path.name} has the header {', '.join(header)}; expected x_mm and y_mm.")
        units = [field_unit(title.lower(), "length") for title in header]
        corners: list[tuple[float, float]] = []
        for block in blocks:
            for row, line in enumerate(block.lines, start=block.start):
                cells = cells_of(line, separator, row=row, name=path.name)
                if not any(cells):
                    continue
                try:
                    x, y = (from_unit(number(cell), unit) for cell, unit in zip(cells, units, strict=True))
                except (UnitError, ValueError):
                    faults.add(f"Row {row} is {line.strip()!r}; expected two numbers.", code="row.corner", row=row)
                else:
                    corners.append((x, y))
    faults.settle()
    return Polygon(corners=tuple(corners))
