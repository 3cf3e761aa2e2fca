"""Readings files: what is read, and every fault named with its place."""

import math

import numpy as np
import pytest

from lapwright.errors import BadInput, FileFormatError
from lapwright.formats.delimited import LINES_PER_BLOCK
from lapwright.formats.faults import MOST_LISTED
from lapwright.formats.readings_csv import parse_readings, read_readings

HEADER = "wafer,site,x_mm,y_mm,thickness_um"


def _parse(text, **options):
    return parse_readings(text.splitlines(keepends=True), name="r.csv", **options)


def _faults(text):
    with pytest.raises(BadInput) as caught:
        _parse(text)
    return caught.value.faults


def test_wafers_come_in_file_order_with_their_sites_in_the_order_met():
    """Rows of two wafers may be mixed; each set keeps the order in which its sites were read."""
    first, second = _parse(f"{HEADER}\nB,s2,0,10,500.5\nA,s1,0,0,499\nB,s1,0,0,501\nB,s2,0,10,500.7\n").sets()
    assert [first.piece, second.piece] == ["B", "A"]
    assert first.labels == ("s2", "s1")
    assert first.y.tolist() == [0.01, 0.0]
    assert first.site.tolist() == [0, 1, 0]
    assert first.thickness.tolist() == [500.5e-6, 501e-6, 500.7e-6]


@pytest.mark.parametrize(
    ("field", "number", "metres"),
    [("mm", "0.5", 0.5e-3), ("mil", "20", 508e-6), ("nm", "500000", 500e-6), ("in", "0.02", 508e-6)],
)
def test_the_unit_is_read_from_the_header(field, number, metres):
    """1 mil is 25.4 µm and 1 in is 25.4 mm, exact by definition (NIST SP 811)."""
    (only,) = _parse(f"wafer,site,x_mm,y_mm,thickness_{field}\nA,1,0,0,{number}\n").sets()
    assert only.thickness[0] == pytest.approx(metres, rel=1e-15)


def test_places_may_be_in_inches():
    """Each column has its own unit."""
    (only,) = _parse("wafer,site,x_in,y_in,thickness_um\nA,1,1,2,500\n").sets()
    assert (only.x[0], only.y[0]) == (0.0254, 0.0508)


@pytest.mark.parametrize("separator", [";", "\t"])
def test_decimal_commas_are_read_where_the_separator_leaves_them_free(separator):
    """500,25 is five hundred and a quarter in a file separated by semicolons or tabs."""
    rows = [HEADER.split(","), ["A", "1", "-10,5", "0", "500,25"]]
    (only,) = _parse("\n".join(separator.join(row) for row in rows)).sets()
    assert only.x[0] == -10.5e-3
    assert only.thickness[0] == 500.25e-6


def test_a_byte_order_mark_is_no_part_of_the_header(tmp_path):
    """Spreadsheets put one in front of UTF-8."""
    path = tmp_path / "r.csv"
    path.write_bytes(b"\xef\xbb\xbf" + f"{HEADER}\r\nA,1,0,0,500\r\n".encode())
    assert read_readings(path).wafers == ("A",)
    assert _parse(f"\ufeff{HEADER}\nA,1,0,0,500\n").wafers == ("A",)


def test_an_empty_thickness_is_a_site_not_measured():
    """NaN means that and nothing else."""
    (only,) = _parse(f"{HEADER}\nA,1,0,0,500\nA,2,10,0,\n").sets()
    assert only.labels == ("1", "2")
    assert math.isnan(only.thickness[1])


def test_optional_columns_become_conditions():
    """State of holding, soaking, temperature and zero readings belong to the set."""
    (read,) = _parse(
        f"{HEADER},gauge,operator,time,hold,soaked,temperature_c,zero_before_um,zero_after_um\n"
        "A,1,0,0,500,G1,mw,2025-03-04T09:30:00+01:00,free,yes,21,0.1,\n"
        "A,2,9,0,501,G1,mw,2025-03-04T09:31:00+01:00,free,yes,22,,0.3\n"
    )
    got = read.readings
    assert (got.gauge, got.operator) == ("G1", "mw")
    assert (got.conditions.hold, got.conditions.soaked) == ("free", True)
    assert got.conditions.temperature == pytest.approx(294.65)
    assert got.conditions.zero_before == pytest.approx(0.1e-6)
    assert got.conditions.zero_after == pytest.approx(0.3e-6)
    assert (read.first_time.minute, read.last_time.minute) == (30, 31)


def test_texts_rows_and_repeats_are_kept_for_the_record():
    """A record wants the cell as it was entered, its row, and the count of the repeat."""
    (read,) = _parse(f"{HEADER}\nA,1,0,0,500.10\n\nA,1,0,0,500.2\n", keep_texts=True)
    assert read.texts == ("500.10", "500.2")
    assert read.rows.tolist() == [2, 4]
    assert read.repeats.tolist() == [1, 2]
    assert read.unit == "µm"


def test_the_quick_way_and_the_exact_way_give_the_same_sets():
    """Keeping the texts takes the exact way; the numbers must not depend on it."""
    text = HEADER + "\n" + "".join(f"W{n % 3},s{n % 5},{n % 5}.5,-1e0,{500 + n / 7}\n" for n in range(60))
    for quick, exact in zip(_parse(text), _parse(text, keep_texts=True), strict=True):
        assert quick.readings.labels == exact.readings.labels
        assert np.array_equal(quick.readings.thickness, exact.readings.thickness)
        assert np.array_equal(quick.readings.site, exact.readings.site)


@pytest.mark.parametrize("text", ["", "\n\n", HEADER, f"{HEADER}\n\n,,,,\n"])
def test_a_file_without_readings_is_no_readings_file(text):
    """Empty, and header only."""
    with pytest.raises(FileFormatError, match=r"empty|no rows"):
        _parse(text)


def test_a_missing_file_and_bytes_that_are_not_utf8_are_told(tmp_path):
    """Both name the file and what to do."""
    with pytest.raises(FileFormatError, match="no file"):
        read_readings(tmp_path / "none.csv")
    path = tmp_path / "r.csv"
    path.write_bytes(HEADER.encode("utf-16"))
    with pytest.raises(FileFormatError, match=r"UTF-16.*save it as UTF-8"):
        read_readings(path)
    with pytest.raises(FileFormatError, match="cannot be read"):
        read_readings(tmp_path)


def test_a_wrong_header_names_the_nearest_column_and_all_that_is_missing():
    """All faults of the header at once."""
    faults = _faults("wafr,site,x_mm,y,thickness\nA,1,0,0,500\n")
    assert {fault.code for fault in faults} == {"header.unknown", "header.no_unit", "header.missing"}
    assert any("did you mean 'wafer'" in fault.sentence for fault in faults)
    assert any("'thickness_um'" in fault.sentence for fault in faults)


def test_one_quantity_in_two_units_is_refused():
    """Mixed units in the header."""
    (fault,) = _faults(f"{HEADER},thickness_mil\nA,1,0,0,500,20\n")
    assert (fault.code, fault.field) == ("header.mixed_units", "thickness_mil")


@pytest.mark.parametrize(
    ("cell", "code"),
    [
        ("nan", "cell.not_a_number"), ("abc", "cell.not_a_number"), ("inf", "cell.not_a_number"), ("1e999", "cell.not_a_number"),
        ("0x1F", "cell.not_a_number"), ("1_000", "cell.not_a_number"), ("５００", "cell.not_a_number"), ("1 000", "cell.not_a_number"),
        ("0.5 mm", "cell.mixed_units"), ("20mil", "cell.mixed_units"), ("-3", "cell.out_of_range"), ("0", "cell.out_of_range"),
        ('"500,1"', "cell.decimal_sign"), ("1.234.5", "cell.not_a_number"),
    ],
)  # fmt: skip
def test_a_cell_that_is_no_thickness_is_named_with_row_column_and_unit(cell, code):
    """Text, NaN, a unit of its own, a wrong decimal sign, zero and negative values."""
    (fault,) = _faults(f"{HEADER}\nA,1,0,0,500\nA,2,1,0,{cell}\n")
    assert (fault.row, fault.field, fault.unit, fault.code) == (3, "thickness_um", "µm", code)


def test_a_second_decimal_sign_in_a_file_is_a_fault():
    """1.234 beside 500,1 might be a thousand: it is not guessed."""
    (fault,) = _faults("wafer;site;x_mm;y_mm;thickness_um\nA;1;0;0;500,1\nA;2;1;0;1.234\n")
    assert (fault.row, fault.code) == (3, "cell.decimal_sign")


def test_all_faults_of_all_rows_come_at_once_in_the_order_of_rows():
    """One reading of the file is enough to mend it."""
    faults = _faults(f"{HEADER}\nA,1,0,0,x\nA,2,?,0,500\n,3,1,1,500\nA,4,1\nA,1,5,0,500\n")
    assert [fault.row for fault in faults] == [2, 3, 4, 5, 6]
    assert [fault.code for fault in faults] == [
        "cell.not_a_number", "cell.not_a_number", "cell.empty", "row.length", "site.contradiction",
    ]  # fmt: skip


def test_a_long_list_of_faults_is_cut_and_the_rest_counted():
    """Nothing is dropped without a word."""
    with pytest.raises(BadInput) as caught:
        _parse(HEADER + "\n" + "".join(f"A,{n},{n},0,bad\n" for n in range(2500)))
    assert len(caught.value.faults) == MOST_LISTED + 1
    assert "2400 further faults" in caught.value.faults[-1].sentence
    assert "2500 faults" in caught.value.sentence


def test_a_site_at_two_places_and_a_repeat_given_twice_are_faults():
    """Both name the earlier row."""
    (place,) = _faults(f"{HEADER}\nA,1,0,0,500\nA,1,0,2,500\nB,1,7,7,500\n")
    assert (place.row, place.field, place.code) == (3, "y_mm", "site.contradiction")
    (twice,) = _faults(f"{HEADER},repeat\nA,1,0,0,500,1\nA,1,0,0,501,2\nA,1,0,0,502,1\n")
    assert (twice.row, twice.code) == (4, "repeat.twice")
    assert "row 2" in twice.sentence


def test_two_gauges_in_one_set_are_a_fault_and_so_are_words_out_of_choice():
    """A set is taken in one go by one gauge."""
    (gauge,) = _faults(f"{HEADER},gauge\nA,1,0,0,500,G1\nA,2,1,0,500,G2\n")
    assert (gauge.row, gauge.code) == (3, "wafer.contradiction")
    faults = _faults(f"{HEADER},hold,time,repeat,zero_before_um\nA,1,0,0,500,loose,noon,1.5,x\n")
    assert {fault.code for fault in faults} == {
        "cell.not_a_choice",
        "cell.not_a_time",
        "cell.out_of_range",
        "cell.not_a_number",
    }


def test_quotes_may_hold_the_separator_but_must_close():
    """A quoted cell ends on its own line."""
    assert _parse(f'{HEADER}\n"A,1",1,0,0,500\n').wafers == ("A,1",)
    with pytest.raises(FileFormatError, match="row 2"):
        _parse(f'{HEADER}\n"A,1,0,0,500\n')


def test_faults_far_down_a_long_file_keep_their_row_numbers():
    """Rows are read in blocks; the count goes on over their borders."""
    rows = [f"A,{n},{n},0,500.5\n" for n in range(2 * LINES_PER_BLOCK + 10)]
    rows[2 * LINES_PER_BLOCK + 5] = "A,bad,1,0,five\n"
    (fault,) = _faults(HEADER + "\n" + "".join(rows))
    assert fault.row == 2 * LINES_PER_BLOCK + 7
