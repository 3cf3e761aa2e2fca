"""Text that can be kept: no character that XML 1.0 (W3C, fifth edition, section 2.2, `Char`) leaves out."""

import pytest

from lapwright.app import orders
from lapwright.errors import BadInput
from lapwright.records.plain_text import need_plain_text


@pytest.mark.parametrize("sign", ["\x00", "\x07", "\x0b", "\x1b", "\x1d", "\x7f", "\ud800", "\ufffe", "\uffff"])
def test_what_no_file_may_hold_is_refused(sign):
    """Alone, within a text, and within what a column of JSON holds; told with its number and what stands before it."""
    told = []
    for value in (sign, f"lot 7{sign}", {"a": [1.0, {"b": f"lot 7{sign}"}]}):
        with pytest.raises(BadInput) as refused:
            need_plain_text([("reason", value)])
        told.append(refused.value.sentence)
        assert refused.value.faults[0].field == "reason"
    assert all(f"U+{ord(sign):04X}" in sentence for sentence in told)
    assert "after 'lot 7'" in told[1]


def test_what_people_write_is_kept():
    """Tabs, new lines, accents, right to left, pictures of faces, a true minus: all of it is text."""
    need_plain_text(
        [("note", "a\tb\r\nc é שלום 😀 −5 µm\u00a0x\u2028"), ("number", 1.0), ("none", None), ("bytes", b"\0")]
    )


def test_nothing_is_recorded_of_such_a_text(lot):
    """The whole note is refused."""
    with pytest.raises(BadInput, match=r"U\+0000 after 'clean'"):
        orders.add_note("AP-1", "clean\x00ed", **lot.why())
    assert orders.order_notes("AP-1") == ()
