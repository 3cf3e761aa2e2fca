"""Bonding a wafer: judged by three sets, decided by a person, undone."""

import math

import pytest

from lapwright.app import bonding, orders, runs
from lapwright.errors import BadInput, Conflict
from lapwright.model.request import BondRequest, ZeroRequest
from lapwright.testing.lot import CARRIER_THICKNESS, flat

WAFER = "AP-1-01"


@pytest.fixture
def read_in(lot):
    """Carrier and wafer read in, nothing bonded."""
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    return lot


def test_a_bond_is_judged_by_its_three_maps(read_in):
    """4 µm of adhesive, even: keep, and the wafer is predicted flat within the noise."""
    bond = read_in.bond(WAFER, flat(500e-6))
    assert bond.numbers.mean == pytest.approx(4e-6, abs=0.1e-6)
    assert (bond.verdict.advice, bond.decision) == ("keep", "keep")
    assert orders.show_wafer(WAFER).wafer.state == "ready"


def test_a_wedge_in_the_bond_advises_to_bond_again(read_in):
    """6 µm thick at +x: the wafer would come out 6 µm thinner there."""
    bond = read_in.bond(WAFER, flat(500e-6), wedge=6e-6)
    assert bond.verdict.advice == "rebond"
    assert bond.numbers.wedge.amount == pytest.approx(6e-6, abs=0.2e-6)
    assert math.cos(bond.numbers.wedge.azimuth) == pytest.approx(1.0, abs=0.01)
    assert math.cos(bond.numbers.predicted_wedge.azimuth) == pytest.approx(-1.0, abs=0.01)
    assert orders.show_wafer(WAFER).wafer.state == "rebond"


def test_what_is_missing_for_a_verdict_is_named(lot):
    """Neither the carrier nor the stack has been read."""
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    bond = bonding.record_bond(BondRequest(wafer_id=WAFER, carrier_id="C1", adhesive="wax"), **lot.why())
    with pytest.raises(Conflict, match="the carrier alone nor of the stack since this bonding"):
        bonding.judge_bond(bond.bond_id, **lot.why())


def test_the_advice_is_overruled_only_with_a_reason(read_in):
    """The reason stays with the decision."""
    request = BondRequest(wafer_id=WAFER, carrier_id="C1", adhesive="wax")
    bond = bonding.record_bond(request, **read_in.why())
    read_in.read(WAFER, "stack", "stack", lambda x, _y: CARRIER_THICKNESS + 504e-6 + 1e-4 * x)
    bonding.judge_bond(bond.bond_id, **read_in.why())
    with pytest.raises(BadInput, match="Say why it is not followed"):
        bonding.decide_bond(bond.bond_id, "keep", **read_in.why(""))
    kept = bonding.decide_bond(bond.bond_id, "keep", **read_in.why("only a trial piece"))
    assert (kept.verdict.advice, kept.decision, kept.decided.reason) == ("rebond", "keep", "only a trial piece")


def test_nothing_is_decided_before_it_is_judged(read_in):
    """A decision needs the numbers."""
    bond = bonding.record_bond(BondRequest(wafer_id=WAFER, carrier_id="C1", adhesive="wax"), **read_in.why())
    with pytest.raises(Conflict, match="not been judged"):
        bonding.decide_bond(bond.bond_id, "keep", **read_in.why())


def test_bonding_again_frees_the_carrier_and_voids_the_stack(read_in):
    """Off, on again: the second bond is judged by a stack read after it."""
    first = read_in.bond(WAFER, flat(500e-6), wedge=6e-6)
    bonding.record_debond(first.bond_id, "heat and slide", **read_in.why())
    assert orders.show_wafer(WAFER).wafer.state == "measured_in"
    second = bonding.record_bond(BondRequest(wafer_id=WAFER, carrier_id="C1", adhesive="wax"), **read_in.why())
    with pytest.raises(Conflict, match="the stack since this bonding"):
        bonding.judge_bond(second.bond_id, **read_in.why())


def test_bonding_again_voids_the_zero(read_in):
    """The stack has another height now."""
    first = read_in.bond(WAFER, flat(500e-6))
    request = ZeroRequest(wafer_id=WAFER, station_id="L1", jig_id="J1", texts=("0", "0.1", "0"))
    zero = runs.take_zero(request, **read_in.why())
    assert zero.accepted
    orders.set_aside(WAFER, **read_in.why())
    bonding.record_debond(first.bond_id, "heat and slide", **read_in.why())
    assert "taken off" in orders.show_wafer(WAFER).zeros[-1].void


def test_the_numbers_can_be_computed_anew(read_in):
    """From the same sets, the same numbers, bit for bit."""
    bond = read_in.bond(WAFER, flat(500e-6))
    result = bonding.bond_result(bond, orders.recorded_order("AP-1").order)
    assert (result.mean, result.range, result.predicted_ttv) == (
        bond.numbers.mean,
        bond.numbers.range,
        bond.numbers.predicted_ttv,
    )


def test_a_stack_laid_a_quarter_turn_off_is_named_by_the_wafers_own_wedge(lot):
    """A wafer 4 µm thicker at +x shows its wedge at +y in the stack: same wedge, turned by 90 degrees."""
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", lambda x, _y: 500e-6 + 4e-6 / 0.0508 * x)
    bond = bonding.record_bond(BondRequest(wafer_id=WAFER, carrier_id="C1", adhesive="wax"), **lot.why())
    lot.read(WAFER, "stack", "stack", lambda _x, y: CARRIER_THICKNESS + 505e-6 + 4e-6 / 0.0508 * y)
    judged = bonding.judge_bond(bond.bond_id, **lot.why())
    assert [code for code, _ in bonding.bond_warnings(bond.bond_id)] == ["thickness.turn_suspected"]
    assert judged.verdict is not None
    assert judged.verdict.reason.startswith("Same wedge, turned by 90 degrees")


def test_a_stack_laid_as_the_wafer_was_is_not_doubted(lot):
    """The same wedge at the same azimuth gives no warning."""
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", lambda x, _y: 500e-6 + 4e-6 / 0.0508 * x)
    bond = bonding.record_bond(BondRequest(wafer_id=WAFER, carrier_id="C1", adhesive="wax"), **lot.why())
    lot.read(WAFER, "stack", "stack", lambda x, _y: CARRIER_THICKNESS + 505e-6 + 4e-6 / 0.0508 * x)
    bonding.judge_bond(bond.bond_id, **lot.why())
    assert bonding.bond_warnings(bond.bond_id) == ()
