"""A readings file recorded whole, or not at all."""

from dataclasses import replace

import pytest

from lapwright.app import importing, orders, readings
from lapwright.errors import BadInput, Conflict, FileFormatError
from lapwright.model.request import ImportRequest
from lapwright.testing.lot import ORDER, Lot, write_incoming_file

REQUEST = ImportRequest(subject="wafer", moment="incoming", gauge_id="G1")
HEADER = "wafer,site,x_mm,y_mm,thickness_um\n"


@pytest.fixture
def two(records):  # noqa: ARG001  the database it writes to
    """An order of two wafers, nothing read yet."""
    lot = Lot()
    lot.furnish()
    lot.receive(replace(ORDER, quantity=2))
    return lot


def sets_now():
    """How many sets the order has."""
    return sum(len(wafer.sets) for wafer in orders.show_order("AP-1").wafers)


def test_every_piece_becomes_a_closed_set_and_moves_on(two, tmp_path):
    """Texts as in the file, the file named, both wafers read in."""
    file = tmp_path / "in.csv"
    write_incoming_file(file, wafers=2, sites=9)
    recorded = importing.import_readings(file, REQUEST, **two.why())
    assert [(one.piece, one.state, one.source, len(one.readings)) for one in recorded] == [
        ("AP-1-01", "closed", "in.csv", 9),
        ("AP-1-02", "closed", "in.csv", 9),
    ]
    assert recorded[0].readings[0].reading.text == "500.0"
    assert [one.wafer.state for one in orders.show_order("AP-1").wafers] == ["measured_in"] * 2
    assert readings.set_result(recorded[0].set_id).mean == pytest.approx(500e-6)


def test_a_piece_that_is_unknown_leaves_nothing_of_the_file(two, tmp_path):
    """All three faults are named at once; the good wafer is not recorded either."""
    file = tmp_path / "in.csv"
    rows = [f"AP-1-01,{site},{site},0,500.0" for site in range(3)]
    rows += ["AP-9-01,1,0,0,500.0", "AP-9-02,1,0,0,500.0", "AP-1-02,1,90,0,500.0"]
    file.write_text(HEADER + "\n".join(rows) + "\n", encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        importing.import_readings(file, REQUEST, **two.why())
    assert [fault.sentence.split(":")[0] for fault in caught.value.faults] == ["AP-9-01", "AP-9-02", "AP-1-02"]
    assert "Sites off the piece: 1" in caught.value.faults[2].sentence
    assert sets_now() == 0


def test_the_same_file_twice_is_refused_until_its_sets_are_void(two, tmp_path):
    """Known by its content, whatever it is called."""
    file, other = tmp_path / "in.csv", tmp_path / "other.csv"
    write_incoming_file(file, wafers=2, sites=9)
    other.write_bytes(file.read_bytes())
    first = importing.import_readings(file, REQUEST, **two.why())
    with pytest.raises(Conflict, match="imported already"):
        importing.import_readings(other, REQUEST, **two.why())
    for one in first:
        readings.void_set(one.set_id, **two.why("wrong gauge"))
    assert len(importing.import_readings(other, REQUEST, **two.why())) == 2


def test_pieces_of_another_order_are_refused(two, tmp_path):
    """When the order is named, every piece must be one of its own."""
    orders.receive_order(replace(ORDER, order_id="AP-2"), **two.why())
    file = tmp_path / "in.csv"
    write_incoming_file(file, wafers=2, sites=9)
    with pytest.raises(BadInput, match="another order"):
        importing.import_readings(file, replace(REQUEST, order_id="AP-2"), **two.why())


@pytest.mark.parametrize("content", ["", HEADER, "nonsense", "\x00\x01"])
def test_a_file_that_holds_no_readings_is_refused(two, tmp_path, content):
    """Empty, header only, or no table at all."""
    file = tmp_path / "in.csv"
    file.write_text(content, encoding="utf-8")
    with pytest.raises((FileFormatError, BadInput)):
        importing.import_readings(file, REQUEST, **two.why())


def test_a_file_that_is_not_there_is_refused(two, tmp_path):
    """With its name."""
    with pytest.raises(FileFormatError, match="nowhere"):
        importing.import_readings(tmp_path / "nowhere.csv", REQUEST, **two.why())
