"""Values typed, by hand or by a gauge that acts as a keyboard: digits, then Enter or Tab.

A backspace takes the last character back. The plain line of `ascii_line` is what may be typed; a decimal comma is
taken like a point, since the keyboard layout decides which one a gauge's key gives.
"""

from __future__ import annotations

from lapwright.gauges.frames.ascii_line import AsciiLines
from lapwright.gauges.frames.frame import FrameResult
from lapwright.gauges.frames.lines import LONGEST
from lapwright.gauges.frames.numbers import LengthFormat

_ENDS = b"\r\n\t"
_BACK = b"\x7f\x08"


class KeyedValues:
    """Decoder of typed values."""

    def __init__(self, form: LengthFormat) -> None:
        self._line = AsciiLines(form)
        self._typed = bytearray()

    def feed(self, data: bytes) -> list[FrameResult]:
        """Values whose Enter is there."""
        found: list[FrameResult] = []
        for key in data:
            if key in _BACK:
                del self._typed[-1:]
            elif key not in _ENDS:
                if len(self._typed) <= LONGEST:
                    self._typed.append(key)
            elif self._typed:
                typed, self._typed = bytes(self._typed), bytearray()
                found.append(self._line.line(typed.replace(b",", b".") if len(typed) <= LONGEST else None))
        return found

    def finish(self) -> list[FrameResult]:
        """What was typed without an Enter is nothing."""
        self._typed.clear()
        return []
