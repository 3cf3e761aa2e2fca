"""Rows of a recorded stream: ``time_s,length_um`` and what may stand beside them.

The heading names the columns: one of time and one of length, each ending in its unit; `channel` and `sequence` if
there are any; further columns are left alone. The separator is a comma, a semicolon or a tab; with the latter two a
decimal comma is taken. Lines that begin with # are remarks. A row without a length says that nothing was read.
"""

from __future__ import annotations

import math

from lapwright.errors import FileFormatError, UnitError
from lapwright.gauges.frames.frame import Frame, FrameResult, Rubbish, shown
from lapwright.gauges.frames.numbers import LengthFormat
from lapwright.units import Unit, field_unit, from_unit


class StreamRows:
    """Decoder of the lines of a stream file, the heading first.

    Parameters
    ----------
    heading : first line that is no remark
    form : sign and range of the gauge; the unit comes from the heading
    name : the file, for sentences

    Raises
    ------
    FileFormatError
        A heading without one column of time and one of length.
    """

    def __init__(self, heading: str, form: LengthFormat, *, name: str) -> None:
        self._separator = next((mark for mark in ";\t" if mark in heading), ",")
        self._name, self._form = name, form
        columns = [cell.strip() for cell in heading.lstrip("\ufeff").strip().split(self._separator)]
        self._time, self._time_unit = self._column(columns, "time")
        self._length, self._length_unit = self._column(columns, "length")
        self._channel = columns.index("channel") if "channel" in columns else None
        self._sequence = columns.index("sequence") if "sequence" in columns else None

    def row(self, line: str, number: int) -> FrameResult | None:
        """The frame in one line; None for a remark or an empty line."""
        if not line.strip() or line.startswith("#"):
            return None
        cells = line.strip("\r\n").split(self._separator)
        try:
            time = from_unit(self._number(cells[self._time]), self._time_unit)
        except (ValueError, IndexError):
            return Rubbish(reason=f"row {number} has no time", text=shown(line))
        channel = self._cell(cells, self._channel)
        try:
            value = self._number(cells[self._length])
            length, unit = self._form.length(value, self._length_unit.symbol)
        except (ValueError, IndexError) as error:
            reason = f"row {number} has no length: {error}"
            return Rubbish(reason=reason, text=shown(line), channel=channel, device_time=time)
        count = self._cell(cells, self._sequence)
        return Frame(
            length=length,
            text=cells[self._length],
            unit=unit,
            channel=channel,
            sequence=int(count) if count.isdecimal() else None,
            device_time=time,
        )

    def _column(self, columns: list[str], quantity: str) -> tuple[int, Unit]:
        found = [name for name in columns if name.startswith(quantity + "_")]
        if len(found) != 1:
            raise FileFormatError(
                f"{self._name} has {len(found)} columns that begin with '{quantity}_'; "
                "expected a heading like 'time_s,length_um'."
            )
        try:
            return columns.index(found[0]), field_unit(found[0], quantity)
        except UnitError as error:
            raise FileFormatError(f"{self._name}: {error}") from error

    def _number(self, cell: str) -> float:
        text = cell.strip()
        if not text:
            raise ValueError("the cell is empty")
        value = float(text.replace(",", ".") if self._separator != "," else text)
        if not math.isfinite(value):
            raise ValueError(f"{text!r} is no number")
        return value

    @staticmethod
    def _cell(cells: list[str], column: int | None) -> str:
        return cells[column].strip() if column is not None and column < len(cells) else ""
