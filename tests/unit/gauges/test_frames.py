"""Decoders: what is a reading, what is rubbish, and how it is named."""

import math
import re

import pytest

from lapwright.gauges.frames import Frame, Rubbish
from lapwright.gauges.frames.ascii_line import AsciiLines
from lapwright.gauges.frames.json_line import JsonLines
from lapwright.gauges.frames.keyed import KeyedValues
from lapwright.gauges.frames.lines import LONGEST
from lapwright.gauges.frames.numbers import LengthFormat
from lapwright.gauges.frames.stream_rows import StreamRows
from lapwright.units import find_unit

UM = LengthFormat(unit=find_unit("um", "length"))
MM = LengthFormat(unit=find_unit("mm", "length"))
ANY = LengthFormat()


def only(frames):
    """The one frame of a list."""
    (frame,) = frames
    return frame


@pytest.mark.parametrize(
    ("line", "form", "length"),
    [
        (b"12.5\n", UM, 12.5e-6),
        (b"+0012.5 um\r\n", UM, 12.5e-6),
        (b"- 3.25\r", MM, -3.25e-3),
        (b"0.5 mil\n", ANY, 12.7e-6),  # 1 mil = 25.4 µm, exact
        ("7 µm\n".encode(), ANY, 7e-6),
        ("7 µm\n".encode("latin-1"), ANY, 7e-6),
        (b"1,5\n", LengthFormat(unit=find_unit("mm", "length"), comma=True), 1.5e-3),
        (b"1e2\n", UM, 100e-6),
        (b".5\n", UM, 0.5e-6),
        (b"4\n", LengthFormat(unit=find_unit("um", "length"), sign=-1), -4e-6),
    ],
)
def test_a_line_is_a_length_in_metres(line, form, length):
    """Sign, decimal mark and unit as the gauge writes them."""
    assert only(AsciiLines(form).feed(line)).length == pytest.approx(length, rel=1e-12)


@pytest.mark.parametrize(
    ("line", "form", "reason"),
    [
        (b"1,5\n", UM, "decimal point"),
        (b"1.5\n", LengthFormat(unit=find_unit("um", "length"), comma=True), "decimal comma"),
        (b"1.2.3\n", UM, "decimal point"),
        (b"12.5\n", ANY, "names no unit"),
        (b"12.5 kg\n", ANY, "no unit of length"),
        (b"0.5 in\n", UM, "the frame is in in, configured is µm"),
        (b"ERR 4\n", UM, "pattern"),
        (b"nan\n", UM, "pattern"),
        (b"1e999\n", UM, "finite"),
        (b"30\n", LengthFormat(unit=find_unit("mm", "length"), low=0.0, high=0.025), "outside the range"),
        (b"\xff\xfe\x00\n", UM, "pattern"),
    ],
)
def test_what_cannot_be_meant_is_rubbish_with_a_reason(line, form, reason):
    """Nothing is guessed: a gauge that was switched to inches falls silent instead of lying."""
    frame = only(AsciiLines(form).feed(line))
    assert isinstance(frame, Rubbish)
    assert reason in frame.reason


def test_a_pattern_finds_value_unit_channel_and_count():
    """Whatever a gauge writes around its number."""
    pattern = re.compile(r"#(?P<sequence>\d+) CH(?P<channel>\d) (?P<value>\S+)(?P<unit>mm|um);")
    frame = only(AsciiLines(ANY, pattern=pattern).feed(b"#0017 CH2 +0.4127mm;\n"))

    assert (frame.sequence, frame.channel, frame.unit) == (17, "2", "mm")
    assert frame.length == pytest.approx(412.7e-6)


def test_a_frame_without_its_beginning_is_left_out():
    """The tail of 412.7 is a number, too."""
    broken, good = AsciiLines(UM, joined=True).feed(b"2.7\r\n412.8\r\n")
    assert isinstance(broken, Rubbish)
    assert good.length == pytest.approx(412.8e-6)


def test_a_frame_without_its_end_is_told_at_the_end():
    """A cut cable leaves half a line, which is no reading."""
    decoder = AsciiLines(UM)
    assert decoder.feed(b"412.") == []
    assert only(decoder.finish()) == Rubbish(reason="cut off", text="412.")
    assert decoder.finish() == []


@pytest.mark.parametrize("terminator", [None, b"\r", b"\r\n", b";"])
def test_a_line_without_an_end_does_not_fill_the_memory(terminator):
    """A megabyte of digits is one bad frame, and the next line is read."""
    decoder = AsciiLines(UM, terminator=terminator)
    for _ in range(1000):
        assert decoder.feed(b"1" * 1000) == []
        assert len(decoder._lines._rest) <= LONGEST
    broken, good = decoder.feed((terminator or b"\n") + b"5" + (terminator or b"\n"))
    assert isinstance(broken, Rubbish)
    assert good.length == pytest.approx(5e-6)


def test_a_json_object_names_unit_time_count_and_channel():
    """The field ends in its unit; further fields are left alone."""
    text = b'{"length_mm": 0.4127, "time_s": 12.25, "sequence": 61, "channel": "2", "battery": "low"}\n'
    assert only(JsonLines(ANY).feed(text)) == Frame(
        length=pytest.approx(412.7e-6),
        text=text.decode().strip(),
        unit="mm",
        channel="2",
        sequence=61,
        device_time=12.25,
    )


def test_a_json_field_of_any_name_takes_the_unit_configured():
    """A sender that cannot be changed."""
    assert only(JsonLines(MM, field="v").feed(b'{"v": 2}\n')).length == pytest.approx(2e-3)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        (b"{", "no JSON"),
        (b"[1]", "no JSON object"),
        (b'{"length_um": "12"}', "length_um is no number"),
        (b'{"length_um": true}', "length_um is no number"),
        (b'{"length_um": NaN}', "length_um is no number"),
        (b'{"length_um": 1' + b"0" * 400 + b"}", "no number"),
        (b'{"length_kg": 1}', "length_kg"),
        (b'{"length_um": 1, "length_mm": 1}', "found 2"),
        (b'{"length_um": 1, "sequence": 1.5}', "sequence"),
        (b'{"length_um": 1, "time_s": "now"}', "time_s"),
        (b"[" * 400, "no JSON"),
    ],
)
def test_json_that_is_no_reading_is_rubbish(text, reason):
    """Each with its reason, never an exception."""
    frame = only(JsonLines(ANY).feed(text + b"\n"))
    assert isinstance(frame, Rubbish)
    assert reason in frame.reason


def test_typed_values_end_with_enter_or_tab():
    """A backspace takes back; a comma is a point; Enter alone is nothing."""
    frames = KeyedValues(UM).feed(b"412,8\x7f7\r\n\r0.5\t")
    assert [frame.length for frame in frames] == pytest.approx([412.7e-6, 0.5e-6])


def test_endless_typing_does_not_fill_the_memory():
    """A book on the keyboard."""
    decoder = KeyedValues(UM)
    decoder.feed(b"1" * 100_000)
    assert len(decoder._typed) <= LONGEST + 1
    assert isinstance(only(decoder.feed(b"\r")), Rubbish)


def test_stream_rows_take_time_length_channel_and_count():
    """Units from the heading; semicolons with decimal commas."""
    rows = StreamRows("channel;time_min;sequence;length_mm\n", ANY, name="run.csv")
    frame = rows.row("2;0,5;7;0,4127\n", 2)

    assert (frame.channel, frame.device_time, frame.sequence) == ("2", 30.0, 7)
    assert frame.length == pytest.approx(412.7e-6)
    assert rows.row("# a remark\n", 3) is None


@pytest.mark.parametrize("line", ["x,1\n", ",1\n", "1\n", "1,\n", "1,nan\n", "1,inf\n", "inf,1\n"])
def test_a_row_without_time_or_length_is_rubbish_with_its_number(line):
    """Nothing is filled in."""
    frame = StreamRows("time_s,length_um", ANY, name="run.csv").row(line, 17)
    assert isinstance(frame, Rubbish)
    assert "row 17" in frame.reason


def test_the_length_of_a_frame_is_finite():
    """Not measured is no frame at all."""
    frames = [*AsciiLines(UM).feed(b"1\n1e400\n-1e400\n"), *JsonLines(ANY).feed(b'{"length_um": 1e400}\n')]
    assert all(math.isfinite(frame.length) for frame in frames if isinstance(frame, Frame))
    assert sum(isinstance(frame, Frame) for frame in frames) == 1
