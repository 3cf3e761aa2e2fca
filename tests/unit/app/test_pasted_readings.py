"""Readings that come together: recorded all or none, doubtful ones only when sent once more."""

import pytest

from lapwright.app import pasted_readings, readings
from lapwright.errors import BadInput, Conflict

NINE = "C\t500.1\nA1\t500.4\nA2\t500.6\nA3\t500.5\nA4\t500.2\nA5\t499.9\nA6\t499.7\nA7\t499.6\nA8\t499.8"


@pytest.fixture
def opened(lot):
    """An open set of nine sites, read once, with zeros; its bench."""
    return lot, readings.open_set(lot.request("AP-1-01", "wafer", "incoming", repeats=1), **lot.why()).set_id


def test_a_column_with_zeros_fills_the_set(opened):
    """Zero, nine sites and zero in one paste; the mean is that of the nine by hand, 4500.8 / 9 less the zero of 0.1."""
    lot, set_id = opened
    text = "site;thickness\nzero;0,1\n" + NINE.replace("\t", ";").replace(".", ",") + "\nzero;0,1\n"
    answer = pasted_readings.record_pasted(set_id, text, **lot.why())
    assert (answer.recorded, answer.progress.expected) == (11, "close")
    readings.close_set(set_id, **lot.why())
    assert readings.set_result(set_id).mean * 1e6 == pytest.approx(4500.8 / 9 - 0.1, abs=1e-9)


def test_values_alone_go_to_the_next_sites(opened):
    """A bare column continues where the set stands; what was entered is kept as it was entered."""
    lot, set_id = opened
    readings.record_zero(set_id, "0", when="before", **lot.why())
    readings.record_reading(set_id, "500.1", **lot.why())
    answer = pasted_readings.record_pasted(set_id, "500.4\r\n0.5006 mm\r\n", **lot.why())
    taken = [(one.reading.site, one.reading.text) for one in readings.show_set(set_id).readings[1:]]
    assert taken == [("C", "500.1"), ("A1", "500.4"), ("A2", "0.5006 mm")]
    assert answer.progress.site == "A3"


def test_all_faults_are_told_and_nothing_is_recorded(opened):
    """A site that is not there, a word, and the missing zero: three sentences, and the set stays empty."""
    lot, set_id = opened
    with pytest.raises(BadInput) as refused:
        pasted_readings.record_pasted(set_id, "C\t500.1\nB7\t500.2\nA2\tabout 500", **lot.why())
    assert [fault.row for fault in refused.value.faults] == [2, 3, 1]
    assert readings.show_set(set_id).readings == ()


def test_a_doubtful_row_holds_everything_back_until_sent_again(opened):
    """508 among 500: asked about with its row, nothing recorded; sent once more all are kept, one with its question."""
    lot, set_id = opened
    text = "zero\t0\n" + NINE.replace("499.6", "508.0")
    first = pasted_readings.record_pasted(set_id, text, **lot.why())
    assert first.recorded == 0
    assert [(one.row.number, one.row.site) for one in first.doubtful] == [(9, "A7")]
    assert readings.show_set(set_id).readings == ()
    again = pasted_readings.record_pasted(set_id, text, confirmed=True, **lot.why())
    assert again.recorded == 10
    kept = [one.reading.site for one in readings.show_set(set_id).readings if one.question is not None]
    assert kept == ["A7"]


def test_more_values_than_sites_are_refused_whole(opened):
    """The tenth bare value has no site to go to."""
    lot, set_id = opened
    text = "zero\t0\n" + "\n".join(line.split("\t")[1] for line in NINE.split("\n")) + "\n500.0"
    with pytest.raises(Conflict, match="All sites"):
        pasted_readings.record_pasted(set_id, text, **lot.why())
    assert readings.show_set(set_id).readings == ()
