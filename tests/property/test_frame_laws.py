"""Laws of the decoders, whatever a gauge sends and however the network cuts it."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.gauges.frames import Frame, Rubbish
from lapwright.gauges.frames.ascii_line import AsciiLines
from lapwright.gauges.frames.json_line import JsonLines
from lapwright.gauges.frames.keyed import KeyedValues
from lapwright.gauges.frames.numbers import LengthFormat
from lapwright.gauges.frames.stream_rows import StreamRows
from lapwright.gauges.stop.messages import FarSide, read_message
from lapwright.units import find_unit

UM = LengthFormat(unit=find_unit("um", "length"))
DECODERS = {
    "line": lambda: AsciiLines(UM),
    "CRLF": lambda: AsciiLines(UM, terminator=b"\r\n"),
    "joined": lambda: AsciiLines(UM, joined=True),
    "json": lambda: JsonLines(LengthFormat()),
    "keyed": lambda: KeyedValues(UM),
}
NEARLY = st.text('0123456789+-., eE\r\n\tumµ{}[]":_lengthsquc\x7f').map(lambda text: text.encode("utf-8"))
BYTES = st.lists(st.binary(max_size=700) | NEARLY, max_size=8)


@pytest.mark.parametrize("name", DECODERS)
@given(chunks=BYTES)
def test_no_bytes_raise_and_every_frame_is_finite(name, chunks):
    """Rubbish is a value; a length is a finite number."""
    decoder = DECODERS[name]()
    frames = [frame for chunk in chunks for frame in decoder.feed(chunk)] + decoder.finish()
    for frame in frames:
        assert isinstance(frame, Frame | Rubbish)
        assert isinstance(frame, Rubbish) or math.isfinite(frame.length)
        assert isinstance(frame, Frame) or (frame.reason and frame.text.isprintable())


@pytest.mark.parametrize("name", DECODERS)
@given(data=NEARLY, cuts=st.lists(st.integers(0, 200)))
def test_how_the_bytes_are_cut_changes_nothing(name, data, cuts):
    """One chunk, or many: the same frames."""
    places = sorted({min(cut, len(data)) for cut in cuts} | {0, len(data)})
    whole, parts = DECODERS[name](), DECODERS[name]()
    expected = whole.feed(data) + whole.finish()
    pairs = pairwise(places)
    assert [frame for a, b in pairs for frame in parts.feed(data[a:b])] + parts.finish() == expected


@given(value=st.floats(-1e6, 1e6), unit=st.sampled_from(["um", "mm", "nm", "in", "mil", "m"]))
def test_what_a_gauge_writes_is_what_is_read(value, unit):
    """Round trip through text in every unit, to the digits written."""
    (frame,) = AsciiLines(LengthFormat()).feed(f"{value:.6f} {unit}\n".encode())
    assert frame.length == pytest.approx(
        float(f"{value:.6f}") * find_unit(unit, "length").factor / find_unit(unit, "length").per
    )


@given(line=st.text(max_size=100))
def test_no_row_of_a_file_raises(line):
    """A row is a frame, rubbish, or nothing."""
    frame = StreamRows("time_s,length_um", LengthFormat(), name="f").row(line, 2)
    assert frame is None or isinstance(frame, Rubbish) or math.isfinite(frame.length)


@given(messages=st.lists(st.tuples(st.integers(0, 20), st.floats(0.0, 10.0))))
def test_a_machine_runs_only_on_a_fresh_higher_number(messages):
    """Whatever order and age: it runs only within the limit after a number higher than all before, and never after 0."""
    machine, highest, until, stopped, at = FarSide(limit=2.0), 0, -math.inf, False, 0.0
    for sequence, pause in messages:
        at += pause
        stopped = stopped or sequence == 0 or (highest > 0 and at > until)
        if sequence > highest:
            highest, until = sequence, at + 2.0
        machine.hear(sequence, at)
        assert machine.may_run(at) == (highest > 0 and not stopped)


@given(data=st.binary(max_size=60))
def test_no_bytes_on_the_permit_line_raise(data):
    """Anything that is not a message is no permission."""
    message = read_message(data)
    assert message is None or message.sequence >= 0
