"""Tables for studies and charts: all faults at once, nothing filled in."""

import pytest

from lapwright.errors import BadInput, FileFormatError
from lapwright.formats.table_csv import codes_of, heading_unit, read_columns


def _file(tmp_path, text, encoding="utf-8"):
    path = tmp_path / "t.csv"
    path.write_text(text, encoding=encoding)
    return path


@pytest.mark.parametrize(
    "text",
    [
        "# a remark\n# another\nwho,v\na,1.5\n\nb,2.5\n",
        "who;v\na;1,5\nb;2,5\n",
        "\ufeffwho\tv\na\t1.5\nb\t2.5\n",
        'x,"who",v\n,a,1.5\n,b,2.5\n',
    ],
    ids=["remarks", "decimal comma", "byte order mark", "unused column empty"],
)
def test_columns_are_read(tmp_path, text):
    """Remarks, separators, decimal comma, columns that nobody asked for."""
    found = read_columns(_file(tmp_path, text), numbers=("v",), names=("who",))
    assert (found.numbers["v"].tolist(), found.names["who"]) == ([1.5, 2.5], ("a", "b"))


def test_rows_are_those_of_the_file(tmp_path):
    """Remarks and blank lines count."""
    found = read_columns(_file(tmp_path, "# r\nv\n1\n\n2\n"), numbers=("v",))
    assert found.rows.tolist() == [3, 5]


def test_all_faults_at_once(tmp_path):
    """An empty cell, a word, an infinity, a short row, an empty name: five faults with rows."""
    path = _file(tmp_path, "who,v\na,1\n,2\nb,\nc,two\nd,inf\ne\n")
    with pytest.raises(BadInput) as caught:
        read_columns(path, numbers=("v",), names=("who",))
    assert [(fault.code, fault.row) for fault in caught.value.faults] == [
        ("table.empty_cell", 3),
        ("table.empty_cell", 4),
        ("table.not_a_number", 5),
        ("table.not_a_number", 6),
        ("table.ragged", 7),
    ]


def test_a_column_that_is_not_there_gets_the_nearest(tmp_path):
    """Both missing columns in one go; a heading that stands twice is named."""
    with pytest.raises(BadInput) as caught:
        read_columns(_file(tmp_path, "part,part,value\n1,1,2\n"), numbers=("valu",), names=("part",))
    sentences = " ".join(fault.sentence for fault in caught.value.faults)
    assert "did you mean 'value'" in sentences
    assert "stands twice" in sentences


@pytest.mark.parametrize("text", ["", "# only a remark\n"])
def test_an_empty_file_is_no_table(tmp_path, text):
    """Refused as a file."""
    with pytest.raises(FileFormatError):
        read_columns(_file(tmp_path, text), numbers=("v",))


def test_a_header_alone_has_no_rows(tmp_path):
    """Told as such."""
    with pytest.raises(BadInput, match="no rows"):
        read_columns(_file(tmp_path, "v\n"), numbers=("v",))


def test_units_and_codes():
    """A heading's unit is the end of it; names count in order of appearance."""
    assert heading_unit("thickness_um").symbol == "µm"
    assert heading_unit("value") is None
    assert codes_of(("b", "a", "b", "c")).tolist() == [0, 1, 0, 2]
