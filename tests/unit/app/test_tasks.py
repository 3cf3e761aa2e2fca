"""What waits for a hand: told anew after every write, and plates as well as wafers."""

import pytest

from lapwright.app import orders, plates, readings, tasks
from lapwright.model.plates import Plate

WAFER = "AP-1-01"


def verbs(lot):
    """What waits now."""
    return [one.verb for one in tasks.waiting_tasks(now=lot.now)]


def test_each_write_changes_what_waits_at_once(lot):
    """Received, a set begun, the set closed: three different things to do, each as soon as it is so."""
    assert "read it in" in verbs(lot)
    assert verbs(lot) == verbs(lot)
    opened = readings.open_set(lot.request(WAFER, "wafer", "incoming", repeats=1), **lot.why())
    assert "finish reading the sites" in verbs(lot)
    readings.void_set(opened.set_id, **lot.why("dropped"))
    assert "read it in" in verbs(lot)


def test_a_correction_changes_the_result_at_once(lot):
    """The result of an open set follows each reading; that of a closed one stays and is the very same value."""
    opened = readings.open_set(lot.request(WAFER, "wafer", "incoming", repeats=1), **lot.why())
    readings.record_zero(opened.set_id, "0", when="before", **lot.why())
    for text in ("500", "500", "500", "500"):
        readings.record_reading(opened.set_id, text, **lot.why())
    before = readings.set_result(opened.set_id).mean
    last = readings.show_set(opened.set_id).readings[-1].reading.reading_id
    readings.correct_reading(opened.set_id, last, "504", confirmed=True, **lot.why())
    assert readings.set_result(opened.set_id).mean - before == pytest.approx(1e-6, rel=1e-6)
    readings.record_zero(opened.set_id, "0", when="after", **lot.why())
    readings.close_set(opened.set_id, **lot.why())
    assert readings.show_set(opened.set_id) is readings.show_set(opened.set_id)


def test_a_plate_never_read_waits_to_be_checked(lot):
    """With its reason, and its page."""
    plate = Plate(
        plate_id="L2-glass", name="glass, 300 mm", inner_radius=0.04, outer_radius=0.15, ring_outer_radius=0.065,
        least_offset=0.085, most_offset=0.112, offset=0.105, dome_limit=8e-6, check_every=8 * 3600.0,
    )  # fmt: skip
    assert not [verb for verb in verbs(lot) if "check its shape" in verb]
    plates.register_plate(plate, **lot.why())
    (due,) = (one for one in tasks.waiting_tasks(now=lot.now) if one.page == "plates")
    assert due.verb == "plate L2-glass: check its shape"
    assert "never read" in due.why


def test_words_leave_what_waits_as_it_was_found_and_all_else_does_not(lot, monkeypatch):
    """A note computes nothing anew; a wafer set aside does."""
    before = tasks.waiting_tasks(now=lot.now)
    found_anew = []

    def counted(order_ids):
        found_anew.append(order_ids)
        return []

    monkeypatch.setattr(tasks, "_made", counted)
    orders.add_note("AP-1", "kept in box 3", **lot.why())
    assert (tasks.waiting_tasks(now=lot.now), found_anew) == (before, [])
    monkeypatch.undo()
    orders.set_aside("AP-1-01", **lot.why())
    assert {one.wafer_id for one in before} - {one.wafer_id for one in tasks.waiting_tasks(now=lot.now)} == {"AP-1-01"}
