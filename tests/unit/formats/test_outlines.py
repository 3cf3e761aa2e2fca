"""Outlines from the command line and from files of corners."""

import pytest

from lapwright.errors import BadInput, FileFormatError, OutOfValidRange, UnitError, WrongQuestion
from lapwright.formats.outlines import outline_from_text, read_corners, round_outline
from lapwright.model.wafer import Polygon, Rectangle, Round


@pytest.mark.parametrize("text", ["25x10mm", "25 x 10 mm", "25×10mm", "2.5X1cm", "25*10mm", "25,0x10,0mm"])
def test_two_sides_with_a_unit_are_a_rectangle(text):
    """Any unit of length that is known; a centimetre is not among them."""
    if "cm" in text:
        with pytest.raises(UnitError, match="expected one of"):
            outline_from_text(text)
    else:
        assert outline_from_text(text) == Rectangle(width=25e-3, height=10e-3)


def test_sides_without_a_unit_are_refused():
    """A bare number is never a length."""
    with pytest.raises(UnitError, match="25x25mm"):
        outline_from_text("25x25")


def test_what_is_neither_sides_nor_a_file_is_refused():
    """The sentence shows both forms."""
    with pytest.raises(WrongQuestion, match="neither"):
        outline_from_text("no-such-file.csv")


def test_a_file_of_corners_is_a_polygon(tmp_path):
    """One corner per row, units in the header, faults all at once."""
    path = tmp_path / "corners.csv"
    path.write_text("x_mm;y_mm\n0;0\n10,5;0\n\n0;8\n", encoding="utf-8")
    assert outline_from_text(str(path)) == Polygon(corners=((0.0, 0.0), (10.5e-3, 0.0), (0.0, 8e-3)))
    path.write_text("x_mm,y_mm\n0,a\n1\n2,2\n", encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        read_corners(path)
    assert [fault.row for fault in caught.value.faults] == [2, 3]
    path.write_text("a,b\n0,0\n", encoding="utf-8")
    with pytest.raises(FileFormatError, match="x_mm and y_mm"):
        read_corners(path)
    path.write_text("x_mm,y_mm\n0,0\n1,1\n", encoding="utf-8")
    with pytest.raises(OutOfValidRange, match="at least 3"):
        read_corners(path)


def test_a_disc_has_a_flat_or_a_notch_or_neither():
    """Not both."""
    assert round_outline(0.1) == Round(diameter=0.1)
    assert round_outline(0.1, notch=True).mark == "notch"
    assert round_outline(0.1, flat_length=0.0325) == Round(diameter=0.1, mark="flat", flat_length=0.0325)
    with pytest.raises(WrongQuestion, match="one of the two"):
        round_outline(0.1, flat_length=0.0325, notch=True)
