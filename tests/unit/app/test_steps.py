"""The steps of a wafer: no dead ends, no ways back past the plate."""

import pytest

from lapwright.app import orders, steps
from lapwright.errors import BadInput, Conflict
from lapwright.model.job import WaferState
from lapwright.testing.lot import flat

WAFER = "AP-1-01"
STATES = WaferState.__args__


def test_every_state_has_its_row_and_its_words():
    """No state is forgotten."""
    assert set(steps.STEPS) == set(STATES) == set(steps.WORDS)


def test_every_state_is_reached_from_the_first():
    """All but set aside and rejected, which are reached from everywhere."""
    seen, ahead = set(), ["received"]
    while ahead:
        state = ahead.pop()
        if state not in seen:
            seen.add(state)
            ahead += steps.STEPS[state]
    assert set(STATES) - seen == {"set_aside", "rejected"}


def test_after_debonding_there_is_no_way_back_to_the_plate():
    """What may follow debonding never is work again."""
    seen, ahead = set(), ["debonded"]
    while ahead:
        state = ahead.pop()
        if state not in seen:
            seen.add(state)
            ahead += steps.STEPS[state]
    assert seen == {"debonded", "read_free", "judged", "certified"}


def test_a_wafer_set_aside_goes_on_where_it_stood(lot):
    """It keeps its place, and nothing is done to it meanwhile."""
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    orders.set_aside(WAFER, **lot.why("customer was asked"))
    with pytest.raises(Conflict, match="set aside"):
        lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    assert orders.take_up(WAFER, **lot.why("customer answered")).state == "measured_in"


def test_a_wafer_is_rejected_with_a_reason_and_for_good(lot):
    """Without a reason not, and never taken up again."""
    with pytest.raises(BadInput, match="reason"):
        orders.reject_wafer(WAFER, **lot.why(" "))
    orders.reject_wafer(WAFER, **lot.why("broke at the edge"))
    with pytest.raises(Conflict):
        orders.take_up(WAFER, **lot.why())
    assert orders.show_wafer(WAFER).events[-1].signature.reason == "broke at the edge"


def test_a_stale_move_says_what_changed(lot):
    """Somebody else set it aside meanwhile."""
    version = orders.show_wafer(WAFER).wafer.version
    orders.set_aside(WAFER, **lot.why())
    with pytest.raises(Conflict, match="received → set_aside"):
        orders.reject_wafer(WAFER, version=version, **lot.why("broke"))
