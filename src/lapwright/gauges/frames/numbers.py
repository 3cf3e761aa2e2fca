"""A length out of the text of a frame: sign, decimal mark, unit, range."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from lapwright.errors import UnitError
from lapwright.units import Unit, find_unit, from_unit

_POINT = re.compile(r"[+-]? *(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_COMMA = re.compile(r"[+-]? *(?:\d+,?\d*|,\d+)(?:[eE][+-]?\d+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class LengthFormat:
    """How a length is written: unit (None: each frame names its own), sign of the gauge, decimal comma, range [m]."""

    unit: Unit | None = None
    sign: int = 1
    comma: bool = False
    low: float = -math.inf
    high: float = math.inf

    def number(self, text: str) -> float:
        """A number as this gauge writes it. Raises `ValueError` with the reason."""
        if (_COMMA if self.comma else _POINT).fullmatch(text) is None:
            raise ValueError(f"{text!r} is no number with a decimal {'comma' if self.comma else 'point'}")
        return float(text.replace(",", ".").replace(" ", ""))

    def length(self, number: float, unit_text: str) -> tuple[float, str]:
        """Length [m] and unit of a number as sent. Raises `ValueError` with the reason."""
        unit = self._unit(unit_text)
        value = from_unit(self.sign * number, unit)
        if not math.isfinite(value):
            raise ValueError("the number is not finite")
        if not self.low <= value <= self.high:
            raise ValueError(f"{number:g} {unit.symbol} is outside the range of the gauge")
        return value, unit.symbol

    def _unit(self, text: str) -> Unit:
        if not text:
            if self.unit is None:
                raise ValueError("the frame names no unit, and none is configured")
            return self.unit
        try:
            unit = find_unit(text, "length")
        except UnitError as error:
            raise ValueError(f"{text!r} is no unit of length") from error
        if self.unit is not None and unit.symbol != self.unit.symbol:
            raise ValueError(f"the frame is in {unit.symbol}, configured is {self.unit.symbol}")
        return unit


def plain_text(data: bytes) -> str:
    """Bytes as text: UTF-8, or Latin-1 where that does not fit (old gauges send µ so)."""
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")
