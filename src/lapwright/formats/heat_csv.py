"""Heating traces from CSV: `time_s`, `temperature_c` of the stack, and `set_c` of the plate where it was logged."""

from __future__ import annotations

from itertools import chain
from pathlib import Path

from lapwright.formats.delimited import BYTE_ORDER_MARK, header_and_blocks, open_text
from lapwright.formats.table_csv import read_columns
from lapwright.process.bonding_trace import HeatTrace

ZERO_CELSIUS = 273.15


def read_heat_trace(path: Path) -> HeatTrace:
    """A heating trace; times from its first row. Raises `FileFormatError`, or `BadInput` with every fault."""
    numbers = ["time_s", "temperature_c"]
    has_setting = "set_c" in _headings(path)
    found = read_columns(path, numbers=[*numbers, "set_c"] if has_setting else numbers).numbers
    times = found["time_s"] - found["time_s"][0]
    return HeatTrace(
        times=tuple(times.tolist()),
        temperatures=tuple((found["temperature_c"] + ZERO_CELSIUS).tolist()),
        settings=tuple((found["set_c"] + ZERO_CELSIUS).tolist()) if has_setting else None,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _headings(path: Path) -> list[str]:
    with open_text(path) as lines:
        source = iter(lines)
        first = next(source, "")
        while first.removeprefix(BYTE_ORDER_MARK).lstrip().startswith("#"):
            first = next(source, "")
        return list(header_and_blocks(chain([first], source), path.name)[0])
