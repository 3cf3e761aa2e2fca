"""Options of an address that say what the frames look like, and the decoder they ask for."""

from __future__ import annotations

import re

from lapwright.errors import BadInput, Fault
from lapwright.gauges.address import Option, Options, one_of
from lapwright.gauges.frames.ascii_line import GROUPS, AsciiLines
from lapwright.gauges.frames.frame import Decoder
from lapwright.gauges.frames.json_line import JsonLines
from lapwright.gauges.frames.numbers import LengthFormat
from lapwright.units import Unit, find_unit, parse

_TERMINATORS = {"any": None, "CR": b"\r", "LF": b"\n", "CRLF": b"\r\n"}


def read_unit(text: str) -> Unit | None:
    """A unit of length; nothing for an empty text."""
    return find_unit(text, "length") if text else None


def read_range(text: str) -> tuple[float, float] | None:
    """Two lengths with their units, as ``-1mm..25mm``; nothing for an empty text."""
    if not text:
        return None
    low, dots, high = text.partition("..")
    if not dots:
        raise ValueError("expected two lengths, like '-1mm..25mm'.")
    found = parse(low, "length"), parse(high, "length")
    if found[0] >= found[1]:
        raise ValueError("the first length must be the smaller one.")
    return found


def read_pattern(text: str) -> re.Pattern[str] | None:
    """A regular pattern with a group `value`; nothing for an empty text."""
    if not text:
        return None
    try:
        pattern = re.compile(text)
    except re.error as error:
        raise ValueError(f"not a regular pattern ({error}).") from error
    unknown = set(pattern.groupindex) - set(GROUPS)
    if "value" not in pattern.groupindex or unknown:
        raise ValueError(f"expected the named group 'value', and no others but {', '.join(GROUPS[1:])}.")
    return pattern


def read_terminator(text: str) -> bytes | None:
    """The end of a line: CR, LF, CRLF, any of them, or characters as they are."""
    if text in _TERMINATORS:
        return _TERMINATORS[text]
    if not text or len(text) > 4:
        raise ValueError("expected CR, LF, CRLF, any, or one to four characters.")
    return text.encode("utf-8")


#: How a length is written, whatever carries it.
LENGTH_OPTIONS = (
    Option(name="unit", read=read_unit, help="unit of the numbers; not needed where each frame names its own"),
    Option(name="sign", read=one_of("+", "-"), default="+", help="'-' turns the sign of the gauge round"),
    Option(name="range", read=read_range, help="what the gauge can show, as -1mm..25mm; outside is a bad frame"),
)

#: What a frame of text looks like.
FRAME_OPTIONS = (
    *LENGTH_OPTIONS,
    Option(name="frame", read=one_of("line", "json"), default="line", help="line of text, or JSON object"),
    Option(name="decimal", read=one_of("point", "comma"), default="point", help="decimal mark of the gauge"),
    Option(
        name="pattern", read=read_pattern, help="regular pattern of a whole line: groups value, unit, channel, sequence"
    ),
    Option(name="terminator", read=read_terminator, default="any", help="end of a line: CR, LF, CRLF, any"),
    Option(name="field", read=str, help="name of the JSON field with the length, when it is not length_<unit>"),
)


def length_format(options: Options) -> LengthFormat:
    """How a length is written, by the options."""
    limits = options["range"] or (float("-inf"), float("inf"))
    return LengthFormat(
        unit=options["unit"],
        sign=-1 if options["sign"] == "-" else 1,
        comma=options.get("decimal") == "comma",
        low=limits[0],
        high=limits[1],
    )


def check_frame_options(options: Options) -> None:
    """Raise `BadInput` when the options leave the unit open."""
    pattern = options["pattern"]
    if options["frame"] == "line" and pattern is not None and "unit" not in pattern.groupindex:
        need_unit(options)


def need_unit(options: Options) -> None:
    """Raise `BadInput` when no unit is configured and none can come with the frames."""
    if options["unit"] is None:
        raise BadInput(
            [Fault(sentence="The frames carry no unit and none is configured; add unit=um or the like.", field="unit")]
        )


def text_decoder(options: Options, *, joined: bool = False) -> Decoder:
    """A new decoder for one connection, by the options."""
    if options["frame"] == "json":
        return JsonLines(length_format(options), field=options["field"], joined=joined)
    return AsciiLines(
        length_format(options), pattern=options["pattern"], terminator=options["terminator"], joined=joined
    )
