"""Lines of text with a number in them, found by a regular pattern.

The pattern must match the whole line. Its named groups: `value` (needed), `unit`, `channel`, `sequence`. Without a
pattern of its own a line is a number, a unit if it likes, and space around them.
"""

from __future__ import annotations

import re

from lapwright.gauges.frames.frame import Frame, FrameResult, Rubbish, shown
from lapwright.gauges.frames.lines import LONGEST, LineCutter
from lapwright.gauges.frames.numbers import LengthFormat, plain_text

PLAIN = re.compile(r"(?P<value>[+-]? *[\d.,]+(?:[eE][+-]?\d+)?) *(?P<unit>[^\d\s.,;+-]*)")
GROUPS = ("value", "unit", "channel", "sequence")


class AsciiLines:
    """Decoder of text lines.

    Parameters
    ----------
    form : how a length is written
    pattern : regular pattern with named groups; None for a plain number
    terminator : what ends a line; None for CR, LF or both
    joined : the first line may lack its beginning and is left out
    """

    def __init__(
        self,
        form: LengthFormat,
        *,
        pattern: re.Pattern[str] | None = None,
        terminator: bytes | None = None,
        joined: bool = False,
    ) -> None:
        self._form, self._pattern = form, pattern or PLAIN
        self._lines = LineCutter(terminator, joined=joined)

    def feed(self, data: bytes) -> list[FrameResult]:
        """Frames of the lines that are complete now."""
        return [self.line(line) for line in self._lines.cut(data)]

    def finish(self) -> list[FrameResult]:
        """The cut-off line, if there is one."""
        rest = self._lines.finish()
        return [] if rest is None else [Rubbish(reason="cut off", text=shown(plain_text(rest)))]

    def line(self, data: bytes | None) -> FrameResult:
        """The frame in one line, given without its end; None for a line known to be broken."""
        if data is None:
            return Rubbish(reason=f"a line without its beginning, or longer than {LONGEST} bytes", text="")
        text = plain_text(data)
        match = self._pattern.fullmatch(text.strip())
        if match is None:
            return Rubbish(reason="no reading by the pattern", text=shown(text))
        found = match.groupdict(default="")
        try:
            length, unit = self._form.length(self._form.number(found["value"]), found.get("unit", ""))
        except ValueError as error:
            return Rubbish(reason=str(error), text=shown(text), channel=found.get("channel", ""))
        count = found.get("sequence", "")
        return Frame(
            length=length,
            text=text,
            unit=unit,
            channel=found.get("channel", ""),
            sequence=int(count) if count.isdecimal() else None,
        )
