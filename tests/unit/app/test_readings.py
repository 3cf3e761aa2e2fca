"""Taking sets of readings: what is asked, stored, corrected and refused."""

import numpy as np
import pytest

from lapwright.app import readings
from lapwright.errors import Conflict, NotFound, SetVoid, UnitError
from lapwright.testing.lot import CARRIER_THICKNESS, ORDER, flat

WAFER = "AP-1-01"


def open_set(lot, *, repeats=1):
    """A set of the wafer, just opened."""
    return readings.open_set(lot.request(WAFER, "wafer", "incoming", repeats=repeats), **lot.why())


def type_in(lot, opened, texts):
    """Readings typed one after the other."""
    return [readings.record_reading(opened.set_id, text, **lot.why()) for text in texts]


def test_a_reading_keeps_its_text_and_its_unit(lot):
    """What was typed stays as typed; the SI value stands beside it."""
    opened = open_set(lot)
    stored = readings.record_reading(opened.set_id, " 0,5002 mm ", **lot.why()).stored
    assert (stored.reading.text, stored.reading.unit, stored.reading.thickness) == ("0,5002 mm", "mm", 0.5002e-3)


def test_a_bare_number_is_in_the_unit_of_the_set(lot):
    """The set says micrometres, so 500.2 is 500.2 µm."""
    opened = open_set(lot)
    stored = readings.record_reading(opened.set_id, "500.2", **lot.why()).stored
    assert (stored.reading.unit, stored.reading.thickness) == ("µm", 500.2e-6)


@pytest.mark.parametrize("text", ["", "abc", "500.2 kg", "5oo.2", "500,2,1", "NaN", "inf"])
def test_text_that_is_no_length_is_refused(lot, text):
    """Nothing is guessed and nothing is stored."""
    opened = open_set(lot)
    with pytest.raises(UnitError):
        readings.record_reading(opened.set_id, text, **lot.why())
    assert readings.show_set(opened.set_id).readings == ()


def test_a_dash_says_that_a_site_cannot_be_read(lot):
    """NaN means not measured, and only a deliberate dash makes one."""
    opened = open_set(lot)
    stored = readings.record_reading(opened.set_id, "-", **lot.why()).stored
    assert np.isnan(stored.reading.thickness)


def test_a_reading_on_a_set_that_grew_since_it_was_seen_is_refused(lot):
    """Two hands on one set: the second one looked before the first one's reading was there, and is told so."""
    seen = open_set(lot)
    first = readings.record_reading(seen.set_id, "500.2", seen=seen, **lot.why())
    with pytest.raises(Conflict, match="held 0 readings when you looked, and holds 1 now"):
        readings.record_reading(seen.set_id, "500.3", seen=seen, **lot.why())
    after = readings.record_reading(seen.set_id, "500.3", seen=first.after, **lot.why()).after
    assert [one.reading.text for one in after.readings] == ["500.2", "500.3"]


def test_an_open_set_followed_step_by_step_is_the_set_read_anew(lot):
    """Only what came since is read again; a reading that was corrected meanwhile says so all the same."""
    from lapwright.records import kept

    opened = open_set(lot)
    first, second = type_in(lot, opened, ["500.2", "500.3"])
    readings.correct_reading(opened.set_id, first.stored.reading.reading_id, "500.1", **lot.why())
    followed = readings.show_set(opened.set_id).readings
    kept.forget()
    assert followed == readings.show_set(opened.set_id).readings
    assert [one.replaced_by for one in followed] == [followed[2].reading.reading_id, None, None]
    assert second.after.readings[0].replaced_by is None


def test_sites_are_asked_for_in_order_and_all_once_before_again(lot):
    """Zero, nine sites, the nine again, zero, close."""
    opened = open_set(lot, repeats=2)
    labels = opened.pattern.labels
    expected = [readings.set_progress(opened).expected]
    answer = readings.record_zero(opened.set_id, "0.0", when="before", **lot.why())
    seen = []
    while answer.progress.expected == "site":
        seen.append((answer.progress.site, answer.progress.repeat))
        answer = readings.record_reading(opened.set_id, "500.0", **lot.why())
    expected.append(answer.progress.expected)
    answer = readings.record_zero(opened.set_id, "0.1", when="after", **lot.why())
    expected.append(answer.progress.expected)
    assert [(label, repeat) for repeat in (1, 2) for label in labels] == seen
    assert expected == ["zero_before", "zero_after", "close"]
    assert (answer.progress.taken, answer.progress.wanted) == (18, 18)


def test_a_reading_far_from_the_plane_of_the_others_is_questioned(lot):
    """12 sigma and more: a question, nothing stored; the same again, confirmed, is kept with the question."""
    opened = open_set(lot)
    type_in(lot, opened, ["500.0", "500.1", "499.9", "500.0", "500.1", "500.0"])
    asked = readings.record_reading(opened.set_id, "507.0", **lot.why())
    assert asked.stored is None
    assert "σ, from the plane of the other 6 readings" in asked.question
    kept = readings.record_reading(opened.set_id, "507.0", confirmed=True, **lot.why())
    assert asked.question == kept.stored.question


def test_a_wedge_is_not_questioned(lot):
    """Readings that follow a steep plane belong together."""
    opened = open_set(lot)
    answers = [readings.record_reading(opened.set_id, f"{500 + 800 * x:.2f}", **lot.why()) for x in opened.pattern.x]
    assert [answer.question for answer in answers] == [None] * 9


def test_a_reading_in_the_wrong_unit_is_questioned_with_the_slip_named(lot):
    """0.5 typed into a set in micrometres is most likely millimetres."""
    opened = open_set(lot)
    asked = readings.record_reading(opened.set_id, "0.5", **lot.why())
    assert "millimetres typed as micrometres" in asked.question


def test_a_correction_is_a_new_reading_that_points_at_the_old(lot):
    """The old one stays; the result uses the new one in its place."""
    opened = open_set(lot)
    first = readings.record_reading(opened.set_id, "500.9", **lot.why()).stored
    readings.record_reading(opened.set_id, "500.0", **lot.why())
    answer = readings.correct_reading(opened.set_id, first.reading.reading_id, "500.1", **lot.why("mistyped"))
    recorded = readings.show_set(opened.set_id)
    assert first.reading.reading_id == answer.stored.reading.corrects
    assert recorded.readings[0].reading.text == "500.9"
    assert answer.stored.reading.reading_id == recorded.readings[0].replaced_by
    assert pytest.approx(readings.thickness_set(recorded).thickness.tolist()) == [500.1e-6, 500.0e-6]
    assert answer.progress.taken == 2


def test_a_reading_is_corrected_only_once(lot):
    """A second correction must point at the first one."""
    opened = open_set(lot)
    first = readings.record_reading(opened.set_id, "500.9", **lot.why()).stored.reading.reading_id
    second = readings.correct_reading(opened.set_id, first, "500.1", **lot.why()).stored.reading.reading_id
    with pytest.raises(Conflict, match=r"corrected already, by local, to 500\.1"):
        readings.correct_reading(opened.set_id, first, "500.2", **lot.why())
    assert second == readings.correct_reading(opened.set_id, second, "500.3", **lot.why()).stored.reading.corrects


def test_a_set_does_not_close_without_the_last_zero(lot):
    """When the first zero was read, the last one must be, too."""
    opened = open_set(lot)
    readings.record_zero(opened.set_id, "0.0", when="before", **lot.why())
    type_in(lot, opened, ["500.0"] * 9)
    with pytest.raises(Conflict, match="not after them"):
        readings.close_set(opened.set_id, **lot.why())
    readings.record_zero(opened.set_id, "0.2", when="after", **lot.why())
    closed = readings.close_set(opened.set_id, **lot.why())
    assert (closed.conditions.zero_before, pytest.approx(closed.conditions.zero_after)) == (0.0, 0.2e-6)


def test_an_empty_set_does_not_close(lot):
    """There is nothing in it."""
    opened = open_set(lot)
    with pytest.raises(Conflict, match="holds no reading"):
        readings.close_set(opened.set_id, **lot.why())


def test_nothing_is_added_to_a_closed_set(lot):
    """Neither a reading nor a correction."""
    closed = lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    with pytest.raises(Conflict, match="closed"):
        readings.record_reading(closed.set_id, "500.0", **lot.why())
    first = closed.readings[1].reading.reading_id
    with pytest.raises(Conflict, match="closed"):
        readings.correct_reading(closed.set_id, first, "500.0", **lot.why())


def test_a_zero_that_moved_too_far_makes_the_set_void(lot):
    """2.1 µm moved, 0.5 µm allowed: the result is refused, not corrected."""
    opened = open_set(lot)
    readings.record_zero(opened.set_id, "0.0", when="before", **lot.why())
    type_in(lot, opened, ["500.0"] * 9)
    readings.record_zero(opened.set_id, "2.1", when="after", **lot.why())
    closed = readings.close_set(opened.set_id, **lot.why())
    with pytest.raises(SetVoid):
        readings.set_result(closed.set_id)


def test_a_void_set_gives_no_result_and_says_why(lot):
    """The reason stands in the sentence."""
    closed = lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    readings.void_set(closed.set_id, **lot.why("the stand was dirty"))
    with pytest.raises(SetVoid, match="the stand was dirty"):
        readings.set_result(closed.set_id)


def test_one_piece_has_one_open_set_of_a_moment(lot):
    """The second one names the first."""
    opened = open_set(lot)
    with pytest.raises(Conflict, match=f"number {opened.set_id}"):
        open_set(lot)


def test_a_set_that_does_not_fit_where_the_wafer_stands_is_refused(lot):
    """A wafer that was never bonded has no stack."""
    with pytest.raises(Conflict, match="received, not yet read"):
        readings.open_set(lot.request(WAFER, "stack", "stack"), **lot.why())


def test_an_unknown_piece_is_not_found_and_the_nearest_is_named(lot):
    """A slip of the pen finds its neighbour."""
    with pytest.raises(NotFound, match=f"nearest is '{ORDER.order_id}-01'"):
        readings.open_set(lot.request("AP-1-10", "wafer", "incoming"), **lot.why())


def test_the_wafer_alone_typed_into_a_set_of_the_stack_is_questioned(lot):
    """The commonest slip at the gauge (common practice, no source): the stack is read, the wafer's own value typed."""
    from lapwright.app import bonding
    from lapwright.model.request import BondRequest

    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read("AP-1-01", "wafer", "incoming", flat(500e-6))
    bonding.record_bond(BondRequest(wafer_id="AP-1-01", carrier_id="C1", adhesive="mounting-wax"), **lot.why())
    opened = readings.open_set(lot.request("AP-1-01", "stack", "stack"), **lot.why())
    readings.record_zero(opened.set_id, "0.0", when="before", **lot.why())
    asked = readings.record_reading(opened.set_id, "500.2", **lot.why())
    assert asked.stored is None
    assert f"should be about {(CARRIER_THICKNESS + 500e-6) * 1e6:.1f} µm" in asked.question
    whole = f"{(CARRIER_THICKNESS + 505e-6) * 1e6:.1f}"
    assert readings.record_reading(opened.set_id, whole, **lot.why()).question is None
