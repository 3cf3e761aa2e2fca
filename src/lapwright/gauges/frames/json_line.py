"""JSON objects, one a line: ``{"length_um": 412.7, "time_s": 12.25, "sequence": 61, "channel": "2"}``.

The length is the field that ends in a unit of length (`length_um`, `length_mm` …), or a field of any name with the
unit configured. `time_s` is the sender's time, `sequence` its count, `channel` the gauge that spoke; all three may be
missing, further fields are left alone.
"""

from __future__ import annotations

import json
import math
from typing import Any

from lapwright.errors import UnitError
from lapwright.gauges.frames.frame import Frame, FrameResult, Rubbish, shown
from lapwright.gauges.frames.lines import LONGEST, LineCutter
from lapwright.gauges.frames.numbers import LengthFormat, plain_text
from lapwright.units import field_unit


class JsonLines:
    """Decoder of JSON lines.

    Parameters
    ----------
    form : how a length is written; its unit goes with `field`
    field : name of the field with the length; empty for the one that begins with `length_`
    joined : the first line may lack its beginning and is left out
    """

    def __init__(self, form: LengthFormat, *, field: str = "", joined: bool = False) -> None:
        self._form, self._field = form, field
        self._lines = LineCutter(joined=joined)

    def feed(self, data: bytes) -> list[FrameResult]:
        """Frames of the lines that are complete now."""
        return [self.line(line) for line in self._lines.cut(data)]

    def finish(self) -> list[FrameResult]:
        """The cut-off line, if there is one."""
        rest = self._lines.finish()
        return [] if rest is None else [Rubbish(reason="cut off", text=shown(plain_text(rest)))]

    def line(self, data: bytes | None) -> FrameResult:
        """The frame in one line; None for a line known to be broken."""
        if data is None:
            return Rubbish(reason=f"a line without its beginning, or longer than {LONGEST} bytes", text="")
        text = plain_text(data)
        try:
            told = json.loads(text)
        except (ValueError, RecursionError):
            return Rubbish(reason="no JSON", text=shown(text))
        if not isinstance(told, dict):
            return Rubbish(reason="no JSON object", text=shown(text))
        try:
            return self._frame(told, text)
        except (ValueError, UnitError) as error:
            return Rubbish(reason=str(error), text=shown(text))

    def _frame(self, told: dict[str, Any], text: str) -> Frame:
        name = self._field or self._only_length(told)
        number = _finite(told.get(name), name)
        unit_text = "" if self._field and self._form.unit is not None else field_unit(name, "length").symbol
        length, unit = self._form.length(number, unit_text)
        sequence, time = told.get("sequence"), told.get("time_s")
        if sequence is not None and (isinstance(sequence, bool) or not isinstance(sequence, int)):
            raise ValueError("sequence is no whole number")
        return Frame(
            length=length,
            text=text,
            unit=unit,
            channel=str(told.get("channel", ""))[:64],
            sequence=sequence,
            device_time=None if time is None else _finite(time, "time_s"),
        )

    @staticmethod
    def _only_length(told: dict[str, Any]) -> str:
        names = [name for name in told if name.startswith("length_")]
        if len(names) != 1:
            raise ValueError(f"expected one field that begins with 'length_', found {len(names)}")
        return names[0]


def _finite(value: object, name: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < math.inf:
        raise ValueError(f"{name} is no number")
    try:
        return float(value)
    except OverflowError as error:
        raise ValueError(f"{name} is no number that can be meant") from error
