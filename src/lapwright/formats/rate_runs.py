"""Finished runs in a CSV table: what each was worked with and the rate it showed, all faults at once.

Every column with a unit carries it in its heading; the rate is given itself, or as removal and time.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import chain
from pathlib import Path

from lapwright.errors import LapwrightError, UnitError
from lapwright.formats.delimited import BYTE_ORDER_MARK, cells_of, header_and_blocks, open_text
from lapwright.formats.faults import FaultList
from lapwright.process.learning import PastRun, RunConditions
from lapwright.units import field_value, number

#: Columns that must be there, those that may be, and the dimension of those that carry a unit.
NEEDED = ("material", "abrasive", "plate")
NAMES = ("run", "station", "plate_piece", "abrasive_lot", "started")
MEASURED = {
    "pressure": "pressure",
    "speed": "speed",
    "removal": "length",
    "time": "time",
    "pad_age": "time",
    "slurry_age": "time",
}
RATES = {"rate_um_per_min": 1e-6 / 60.0, "rate_nm_per_min": 1e-9 / 60.0, "rate_um_per_h": 1e-6 / 3600.0}
UNCERTAINTY = "rate_uncertainty_percent"


@dataclass(frozen=True, slots=True, kw_only=True)
class RunTable:
    """Runs in the order of a file, with the row each stands in."""

    name: str
    runs: tuple[PastRun, ...]
    rows: tuple[int, ...]


def read_runs(path: Path) -> RunTable:
    """The runs of a file, in its order, which must be the order they were worked in.

    Raises `FileFormatError` for a file that cannot be read, `BadInput` with every fault.
    """
    faults = FaultList(path.name)
    with open_text(path) as lines:
        source = iter(lines)
        remarks, first = 0, next(source, "")
        while first.removeprefix(BYTE_ORDER_MARK).lstrip().startswith("#"):
            remarks, first = remarks + 1, next(source, "")
        header, separator, blocks = header_and_blocks(chain([first], source), path.name)
        columns = _columns(header, faults)
        faults.settle()
        found: list[tuple[int, PastRun]] = []
        latest: datetime | None = None
        for block in blocks:
            for row, line in enumerate(block.lines, start=block.start + remarks):
                if not line.strip():
                    continue
                cells = cells_of(line, separator, row=row, name=path.name)
                if len(cells) != len(header):
                    sentence = f"Row {row} has {len(cells)} cells; the header has {len(header)}."
                    faults.add(sentence, code="table.ragged", row=row)
                    continue
                record = dict(zip(header, cells, strict=True))
                latest = _in_order(record, row, latest, faults)
                run = _run(record, columns, row, faults)
                if run is not None:
                    found.append((row, run))
    if not found and not faults.total:
        faults.add(f"{path.name} has a header and no rows below it.", code="table.no_rows")
    faults.settle()
    return RunTable(name=path.name, runs=tuple(run for _, run in found), rows=tuple(row for row, _ in found))


# ----------------------------------------------------------------------------------------------------------------------


def _columns(header: list[str], faults: FaultList) -> dict[str, str]:
    """Quantity -> heading, for the columns that carry a unit; every heading must be known."""
    found: dict[str, str] = {}
    known = [*NEEDED, *NAMES, *RATES, UNCERTAINTY, "pressure_kpa", "speed_m_per_s", "removal_um", "time_min"]
    for heading in header:
        quantity = _quantity(heading)
        if header.count(heading) > 1 or quantity in found:
            faults.add(f"The heading {heading!r} stands twice, or another says the same.", code="table.no_column",
                       field=heading)  # fmt: skip
        elif quantity is not None:
            found[quantity] = heading
        elif heading not in known:
            near = difflib.get_close_matches(heading, [*known, "pad_age_h", "slurry_age_h"], 1)
            hint = (
                f"; did you mean {near[0]!r}?" if near else f"; known are {', '.join(known)}, pad_age_h, slurry_age_h."
            )
            faults.add(f"The heading {heading!r} is not known{hint}", code="table.no_column", field=heading)
    missing = [name for name in NEEDED if name not in header]
    missing += [f"{name}_{unit}" for name, unit in (("pressure", "kpa"), ("speed", "m_per_s")) if name not in found]
    if "rate" not in found and not {"removal", "time"} <= set(found):
        missing.append("rate_um_per_min (or removal_um and time_min)")
    for name in missing:
        faults.add(f"There is no column {name}.", code="table.no_column", field=name.split(" ")[0])
    return found


def _quantity(heading: str) -> str | None:
    if heading in RATES:
        return "rate"
    if heading == UNCERTAINTY:
        return "rate_uncertainty"
    for quantity, dimension in MEASURED.items():
        if heading.startswith(f"{quantity}_"):
            try:
                field_value(heading, 1.0, dimension)
            except UnitError:
                continue
            return quantity
    return None


def _in_order(record: Mapping[str, str], row: int, latest: datetime | None, faults: FaultList) -> datetime | None:
    text = record.get("started", "")
    if not text:
        return latest
    try:
        started = datetime.fromisoformat(text)
        early = latest is not None and started < latest
    except (ValueError, TypeError):
        sentence = f"Row {row}, started: {text!r} is no time; write 2026-03-02T14:05, all with a zone or none."
        faults.add(sentence, code="rates.time", row=row, field="started")
        return latest
    if early:
        sentence = (
            f"Row {row}, started: {text} lies before the row above it. Put the runs in the order they were worked."
        )
        faults.add(sentence, code="rates.order", row=row, field="started")
        return latest
    return started


def _run(record: Mapping[str, str], columns: Mapping[str, str], row: int, faults: FaultList) -> PastRun | None:
    before = faults.total
    for name in NEEDED:
        if not record[name]:
            faults.add(f"Row {row}, {name}: the cell is empty.", code="table.empty_cell", row=row, field=name)
    values = {name: _value(record, heading, name, row, faults) for name, heading in columns.items()}
    for name in ("pressure", "speed"):
        if values[name] is None and faults.total == before:
            _tell_empty(columns[name], row, faults)
    rate = values.get("rate")
    if rate is None and values.get("removal") is not None and values.get("time"):
        rate = (values["removal"] or 0.0) / (values["time"] or math.nan)
    if rate is None and faults.total == before:
        sentence = f"Row {row} has neither a rate nor removal and time. Leave the row out when nothing was measured."
        faults.add(sentence, code="table.empty_cell", row=row)
    if faults.total > before:
        return None
    try:
        return PastRun(
            name=record.get("run") or f"row {row}",
            conditions=_conditions(record, values),
            removal_rate=rate or 0.0,
            rate_uncertainty=(values.get("rate_uncertainty") or 0.0),
        )
    except LapwrightError as error:
        faults.add(f"Row {row}: {error}", code="rates.value", row=row)
        return None


def _conditions(record: Mapping[str, str], values: Mapping[str, float | None]) -> RunConditions:
    return RunConditions(
        material=record["material"],
        abrasive=record["abrasive"],
        plate=record["plate"],
        pressure=values["pressure"] or 0.0,
        speed=values["speed"] or 0.0,
        station=record.get("station") or None,
        plate_piece=record.get("plate_piece") or None,
        abrasive_lot=record.get("abrasive_lot") or None,
        pad_age=values.get("pad_age"),
        slurry_age=values.get("slurry_age"),
    )


def _value(record: Mapping[str, str], heading: str, name: str, row: int, faults: FaultList) -> float | None:
    """A number in SI; None for an empty cell."""
    text = record[heading]
    if not text:
        return None
    try:
        value = number(text)
    except UnitError:
        value = math.nan
    if not math.isfinite(value):
        sentence = f"Row {row}, {heading}: {text!r} is no number."
        faults.add(sentence, code="table.not_a_number", row=row, field=heading)
        return None
    if name == "rate":
        return value * RATES[heading]
    if name == "rate_uncertainty":
        return value / 100.0
    return field_value(heading, value, MEASURED[name])


def _tell_empty(heading: str, row: int, faults: FaultList) -> None:
    faults.add(f"Row {row}, {heading}: the cell is empty.", code="table.empty_cell", row=row, field=heading)
