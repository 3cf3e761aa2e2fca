"""Writes readings files that `readings_csv` reads back to the same sets."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from typing import TextIO

from lapwright.errors import OutOfValidRange
from lapwright.formats.number_text import exact_text
from lapwright.model.readings import ThicknessSet
from lapwright.units import Unit, find_unit


def write_readings(
    stream: TextIO, sets: Iterable[ThicknessSet], *, unit: str = "µm", separator: str = ",", decimal: str = "."
) -> None:
    """Write sets as a readings file: places in mm, thickness and zero readings in `unit`, temperature in °C.

    Columns that no set fills are left out. A site that was not measured has an empty thickness cell. Raises
    `UnitError` for a unit that is no length, `OutOfValidRange` for a decimal comma in a file separated by commas.
    """
    if separator == decimal:
        raise OutOfValidRange("number of uses of the comma", 2, "1: separate by semicolons or use decimal points")
    written = tuple(sets)
    lengths = find_unit(unit, "length")
    extra = _extra_columns(written, lengths)
    rows = csv.writer(stream, delimiter=separator, lineterminator="\n")
    rows.writerow(["wafer", "site", "x_mm", "y_mm", f"thickness_{lengths.field}", "repeat", *extra])
    for one in written:
        rows.writerows(_rows(one, lengths, extra=tuple(extra.values()), decimal=decimal))


# ----------------------------------------------------------------------------------------------------------------------

_MM = find_unit("mm", "length")
_CELSIUS = find_unit("°C", "temperature")


def _extra_columns(sets: tuple[ThicknessSet, ...], unit: Unit) -> dict[str, tuple[str, Unit | None]]:
    """Title of each further column, with the name of what it holds and its unit."""
    wanted: dict[str, tuple[str, Unit | None]] = {
        "gauge": ("gauge", None),
        "operator": ("operator", None),
        "hold": ("hold", None),
        "soaked": ("soaked", None),
        "temperature_c": ("temperature", _CELSIUS),
        f"zero_before_{unit.field}": ("zero_before", unit),
        f"zero_after_{unit.field}": ("zero_after", unit),
    }
    return {
        title: what for title, what in wanted.items() if any(_extra_value(one, what[0]) is not None for one in sets)
    }


def _extra_value(one: ThicknessSet, name: str) -> str | float | None:
    if name == "soaked" and one.conditions.soaked is not None:
        return "yes" if one.conditions.soaked else "no"
    value: str | float | None = getattr(one if name in ("gauge", "operator") else one.conditions, name)
    return value


def _rows(
    one: ThicknessSet, unit: Unit, *, extra: tuple[tuple[str, Unit | None], ...], decimal: str
) -> Iterator[list[str]]:
    tail = [_extra_text(_extra_value(one, name), held, decimal) for name, held in extra]
    places = [
        [exact_text(x, _MM, decimal=decimal), exact_text(y, _MM, decimal=decimal)]
        for x, y in zip(one.x.tolist(), one.y.tolist(), strict=True)
    ]
    read = [0] * len(one.labels)
    for site, thickness in zip(one.site.tolist(), one.thickness.tolist(), strict=True):
        read[site] += 1
        value = exact_text(thickness, unit, decimal=decimal)
        yield [one.piece, one.labels[site], *places[site], value, str(read[site]), *tail]


def _extra_text(value: str | float | None, unit: Unit | None, decimal: str) -> str:
    if isinstance(value, float) and unit is not None:
        return exact_text(value, unit, decimal=decimal)
    return "" if value is None else str(value)
