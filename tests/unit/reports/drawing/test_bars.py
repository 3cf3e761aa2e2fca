"""Bars of Code 39: the structure that the standard gives the symbology its name for."""

import re

import pytest

from lapwright.errors import BadInput
from lapwright.formats.piece_codes import LETTERS
from lapwright.reports.drawing.bars import ELEMENTS, NARROW, QUIET, WIDE, code_bars


def test_three_of_nine_elements_are_wide_and_no_two_characters_are_alike():
    """ISO/IEC 16388: nine elements, three wide; two wide bars and one wide space but for the four $ / + %."""
    assert set(ELEMENTS) == {*LETTERS, "*"}
    assert len(set(ELEMENTS.values())) == 44
    for letter, elements in ELEMENTS.items():
        assert (len(elements), elements.count("w")) == (9, 3)
        assert elements[0::2].count("w") == (0 if letter in "$/+%" else 2)


def test_the_drawn_bars_read_back_as_the_text():
    """Widths and gaps of the drawn bars give the characters again, star first and last, with quiet zones."""
    svg = code_bars("WM/AP-1", title="a wafer")
    bars = [(float(x), float(width)) for x, width in re.findall(r"M([\d.]+) 0h([\d.]+)v", svg)]
    unit = min(width for _x, width in bars)
    of_elements = {elements: letter for letter, elements in ELEMENTS.items()}
    middle = (NARROW + WIDE) / 2.0 * unit
    text = ""
    for start in range(0, len(bars), 5):
        five = bars[start : start + 5]
        gaps = [five[n + 1][0] - five[n][0] - five[n][1] for n in range(4)]
        sizes = [size for n in range(5) for size in ([five[n][1], gaps[n]] if n < 4 else [five[n][1]])]
        text += of_elements["".join("w" if size > middle else "n" for size in sizes)]
    assert text == "*WM/AP-1*"
    assert bars[0][0] == pytest.approx(QUIET * unit, rel=1e-2)


@pytest.mark.parametrize("text", ["", "a", "Ä", "A*B"])
def test_letters_outside_the_code_are_refused(text):
    """Capitals, digits and seven signs; the star is not for texts."""
    with pytest.raises(BadInput):
        code_bars(text, title="x")
