"""A list of wafers pasted from a spreadsheet: names, and where the columns are headed, thickness and spare.

Without a heading the first cell of each row is a name and nothing else is read; a length beside it is refused, because
nothing says what it is. With one, a thickness carries its unit in the cell ("0.5 mm") or in the heading
("thickness_um", "thickness, µm"); a number without either is refused. Headings may be in any language of the pages.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from lapwright.errors import BadInput, Fault, UnitError
from lapwright.model.request import GivenWafer
from lapwright.units import find_unit, from_unit, number, parse

NAMES = ("wafer", "wafer_id", "wafer id", "wafers", "name", "piece", "id", "stück")
SPARES = ("spare", "spares", "reserve", "reserven")
YES = ("yes", "y", "x", "1", "true", "spare", "ja")
NO = ("no", "n", "0", "false", "nein", "-", "–", "")
_THICKNESS = re.compile(r"(?:thickness|dicke)(?:[\s_,;]*[\[(]?\s*([^\])\s]+)\s*[\])]?)?", re.IGNORECASE)
_BARE = re.compile(r"[+-]?[\d.,]+")


def read_wafer_list(text: str) -> tuple[GivenWafer, ...]:
    r"""The wafers of a pasted list. Raises `BadInput` with every fault, each with its row.

    >>> read_wafer_list("wafer\tthickness_um\tspare\nB1\t502\t\nB2\t0.5 mm\tyes")[1].spare
    True
    """
    rows = [(place, _cells(line)) for place, line in enumerate(text.splitlines(), start=1) if line.strip()]
    if not rows:
        return ()
    columns = _columns(rows[0][1])
    if columns is None:
        _no_length(rows)
        return tuple(GivenWafer(name=cells[0]) for _place, cells in rows if cells[0])
    faults = list(_heading_faults(columns, rows[0][0]))
    found = [_wafer(place, cells, columns, faults) for place, cells in rows[1:]]
    if faults:
        raise BadInput(faults, subject="The list of wafers")
    return tuple(found)


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Columns:
    """Which column is what, and the unit that the heading gives a thickness."""

    name: int
    thickness: int | None
    spare: int | None
    unit: str


def _cells(line: str) -> list[str]:
    """The cells of a row: by tabs, else by semicolons; a comma may be a decimal sign."""
    return [cell.strip() for cell in line.split("\t" if "\t" in line else ";")]


def _columns(heading: list[str]) -> _Columns | None:
    """The columns that a row heads, None when it is no heading."""
    lower = [cell.lower() for cell in heading]
    thick = next((place for place, cell in enumerate(lower) if _THICKNESS.fullmatch(cell)), None)
    spare = next((place for place, cell in enumerate(lower) if cell in SPARES), None)
    name = next((place for place, cell in enumerate(lower) if cell in NAMES), None)
    if thick is None and spare is None and name is None:
        return None
    first = next((place for place in range(len(lower)) if place not in (thick, spare)), 0)
    unit = "" if thick is None else (_THICKNESS.fullmatch(heading[thick]) or [None, None])[1] or ""
    return _Columns(first if name is None else name, thick, spare, unit)


def _no_length(rows: list[tuple[int, list[str]]]) -> None:
    faults = [
        Fault(
            sentence=f"{cell!r} stands beside a name and no heading says what it is. Put a first row above the list:"
            " wafer, thickness, spare.",
            row=place, field="thickness",
        )
        for place, cells in rows
        for cell in cells[1:]
        if _is_length(cell)
    ]  # fmt: skip
    if faults:
        raise BadInput(faults, subject="The list of wafers")


def _is_length(cell: str) -> bool:
    try:
        return parse(cell, "length") > 0.0
    except UnitError:
        return False


def _heading_faults(columns: _Columns, place: int) -> Iterator[Fault]:
    if columns.unit:
        try:
            find_unit(columns.unit, "length")
        except UnitError as error:
            yield Fault(sentence=error.sentence, row=place, field="thickness")


def _wafer(place: int, cells: list[str], columns: _Columns, faults: list[Fault]) -> GivenWafer:
    name = _cell(cells, columns.name)
    if not name:
        faults.append(Fault(sentence="This row names no wafer. Give it a name, or take the row out.", row=place))
    return GivenWafer(
        name=name,
        thickness=_thickness(_cell(cells, columns.thickness), columns.unit, place, faults),
        spare=None if columns.spare is None else _spare(_cell(cells, columns.spare), place, faults),
    )


def _cell(cells: list[str], place: int | None) -> str:
    return "" if place is None or place >= len(cells) else cells[place]


def _thickness(text: str, unit: str, place: int, faults: list[Fault]) -> float | None:
    if not text:
        return None
    if _BARE.fullmatch(text) and not unit:
        sentence = f"The thickness {text!r} has no unit. Write it into the cell, or into the heading (thickness_um)."
        faults.append(Fault(sentence=sentence, row=place, field="thickness"))
        return None
    try:
        found = from_unit(number(text), find_unit(unit, "length")) if _BARE.fullmatch(text) else parse(text, "length")
    except UnitError as error:
        faults.append(Fault(sentence=error.sentence, row=place, field="thickness"))
        return None
    if found <= 0.0:
        sentence = f"The thickness {text!r} is not above zero. Look at the list."
        faults.append(Fault(sentence=sentence, row=place, field="thickness"))
    return found


def _spare(text: str, place: int, faults: list[Fault]) -> bool:
    if text.lower() in YES:
        return True
    if text.lower() not in NO:
        sentence = f"Found {text!r}, expected yes or no for a spare. An empty cell is no."
        faults.append(Fault(sentence=sentence, row=place, field="spare"))
    return False
