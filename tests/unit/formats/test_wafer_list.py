"""A list of wafers pasted from a spreadsheet: names alone, or headed columns with thickness and spare.

That a spreadsheet's cells come apart by tabs in the clipboard is common practice, no source; 1 mil is 25.4 µm exactly
(NIST SP 811, B.8).
"""

import pytest

from lapwright.errors import BadInput
from lapwright.formats.wafer_list import read_wafer_list


def faults_of(text):
    """What is refused, with the rows."""
    with pytest.raises(BadInput) as caught:
        read_wafer_list(text)
    return [(one.row, one.field) for one in caught.value.faults]


def test_names_alone_are_taken_in_their_order():
    """Blank rows are passed over; further cells without a heading are not read."""
    assert [one.name for one in read_wafer_list("B1\t500\n\n B2 \nB3")] == ["B1", "B2", "B3"]
    assert read_wafer_list("B1\t500")[0].thickness is None
    assert read_wafer_list(" \n") == ()


@pytest.mark.parametrize(
    ("heading", "cell", "metres"),
    [
        ("thickness_um", "502.3", 502.3e-6),
        ("thickness (µm)", "502,3", 502.3e-6),
        ("Thickness [mm]", "0.5023", 502.3e-6),
        ("thickness", "0.5023 mm", 502.3e-6),
        ("thickness_um", "20 mil", 508e-6),
    ],
)
def test_a_thickness_has_its_unit_in_the_cell_or_in_the_heading(heading, cell, metres):
    """The cell's own unit goes before that of the heading."""
    found = read_wafer_list(f"wafer\t{heading}\nB1\t{cell}")
    assert found[0].thickness == pytest.approx(metres, rel=1e-12)


def test_a_list_headed_in_german_is_the_same_list():
    """As a spreadsheet of that language gives it: semicolons and decimal commas."""
    german = read_wafer_list("Wafer;Dicke, µm;Reserve\nW-1;500,5;nein\nW-2;499,25;ja")
    assert german == read_wafer_list("wafer\tthickness_um\tspare\nW-1\t500.5\tno\nW-2\t499.25\tyes")
    assert [one.thickness for one in german] == pytest.approx([500.5e-6, 499.25e-6])


def test_a_length_that_no_heading_explains_is_refused_rather_than_dropped():
    """Each row of them is named."""
    assert faults_of("W-1\t500,5 µm\nW-2\nW-3\t0.5 mm") == [(1, "thickness"), (3, "thickness")]


def test_spares_are_marked_by_their_column_wherever_they_stand():
    """Yes and no in the usual ways; an empty cell is no; columns in any order."""
    found = read_wafer_list("spare;name\nyes;S1\n;B1\nno;B2\nx;S2")
    assert [(one.name, one.spare) for one in found] == [("S1", True), ("B1", False), ("B2", False), ("S2", True)]


def test_all_faults_come_together_with_their_rows():
    """A number without unit, a word for a spare, a row without a name, an unknown unit, nought."""
    assert faults_of("wafer\tthickness\tspare\nB1\t500\tmaybe\n\t0.5 mm\t") == [
        (2, "thickness"), (2, "spare"), (3, None),
    ]  # fmt: skip
    assert faults_of("wafer\tthickness_furlong\nB1\t1 mm") == [(1, "thickness")]
    assert faults_of("wafer\tthickness_um\nB1\t0\nB2\tthin") == [(2, "thickness"), (3, "thickness")]
