"""The header of a readings file: which column is what, in which unit.

The unit is read from the name (`thickness_um`, `x_mm`, `zero_before_mil`) and from nowhere else.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass

from lapwright.errors import UnitError
from lapwright.formats.faults import FaultList
from lapwright.units import Unit, field_unit

#: Columns without a unit. The first two must be there.
PLAIN = ("wafer", "site", "gauge", "operator", "time", "repeat", "hold", "soaked")
#: Columns whose name ends in a unit, with their dimension. The first three must be there.
MEASURED = {
    "x": "length",
    "y": "length",
    "thickness": "length",
    "temperature": "temperature",
    "zero_before": "length",
    "zero_after": "length",
}
REQUIRED = ("wafer", "site", "x", "y", "thickness")
EXAMPLE = "wafer,site,x_mm,y_mm,thickness_um"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: where it stands, how the file calls it, and its unit."""

    index: int
    name: str
    title: str
    unit: Unit | None = None

    @property
    def is_number(self) -> bool:
        """Whether every row has a number here (zero readings stand once in a wafer's rows)."""
        return self.name in ("x", "y", "thickness", "temperature", "repeat")

    @property
    def symbol(self) -> str | None:
        """The unit as it is printed, None for a column without one."""
        return self.unit.symbol if self.unit else None

    @property
    def printed_unit(self) -> str:
        """The unit with the space before it, to follow a number."""
        return f" {self.unit.symbol}" if self.unit else ""


def columns(header: list[str], faults: FaultList) -> dict[str, Column]:
    """Columns by their name without unit; what is wrong with the header goes to `faults`."""
    found: dict[str, Column] = {}
    for index, title in enumerate(header):
        name, unit = _meaning(title.lower(), faults)
        if name is None:
            continue
        if name in found:
            _report_twice(found[name], title, faults)
            continue
        found[name] = Column(index=index, name=name, title=title, unit=unit)
    for name in REQUIRED:
        if name not in found:
            _report_missing(name, header, faults)
    return found


# ----------------------------------------------------------------------------------------------------------------------


def _meaning(title: str, faults: FaultList) -> tuple[str | None, Unit | None]:
    if title in PLAIN:
        return title, None
    name = next((name for name in MEASURED if title.startswith(name + "_")), None)
    if name is None and title in MEASURED:
        name = title
    if name is None:
        _report_unknown(title, faults)
        return None, None
    dimension = MEASURED[name]
    try:
        unit = field_unit(title, dimension)
    except UnitError:
        unit = None
    if unit is None or title != f"{name}_{unit.field}":
        faults.add(
            f"The column {title!r} does not end in a unit of {dimension}; name it like {_example(name)!r}.",
            code="header.no_unit",
            row=1,
            field=title,
        )
    return name, unit


def _example(name: str) -> str:
    endings = {"x": "mm", "y": "mm", "temperature": "c"}
    return f"{name}_{endings.get(name, 'um')}" if name in MEASURED else name


def _report_unknown(title: str, faults: FaultList) -> None:
    known = [*PLAIN, *(_example(name) for name in MEASURED)]
    near = difflib.get_close_matches(title, known, 1, cutoff=0.5)
    if not title:
        sentence = "The header has a column without a name; give every column a name, or delete the column."
    elif near:
        sentence = f"The column {title!r} is not known; did you mean {near[0]!r}? Rename it, or delete the column."
    else:
        sentence = f"The column {title!r} is not known; expected some of {', '.join(known)}. Rename or delete it."
    faults.add(sentence, code="header.unknown", row=1, field=title)


def _report_twice(first: Column, title: str, faults: FaultList) -> None:
    if title.lower() == first.title.lower():
        sentence = f"The column {title!r} stands twice in the header; keep one."
        code = "header.twice"
    else:
        sentence = (
            f"The columns {first.title!r} and {title!r} give one quantity in two units; "
            "a file has one unit for each quantity. Keep one of them."
        )
        code = "header.mixed_units"
    faults.add(sentence, code=code, row=1, field=title)


def _report_missing(name: str, header: list[str], faults: FaultList) -> None:
    wanted = _example(name)
    near = difflib.get_close_matches(wanted, [title.lower() for title in header], 1, cutoff=0.6)
    hint = f" Is {near[0]!r} meant for it?" if near else ""
    faults.add(
        f"The column {wanted!r} is missing; the header must hold {EXAMPLE}.{hint}",
        code="header.missing",
        row=1,
        field=wanted,
    )
