"""Carriers for a wafer that waits for one: by the maps on record, in the frame that bonds are judged in."""

import math

import pytest

from lapwright.app import partners, set_values
from lapwright.metrology.frames import transformed
from lapwright.model.wafer import Carrier, Frame
from lapwright.testing.lot import CARRIER_THICKNESS, flat

WAFER = "AP-1-01"


def test_the_turn_advised_is_the_one_that_the_bond_is_judged_with(lot):
    """Wafer thick at +x by 3 µm, carrier thick at +y by 4.5 µm over its 76.2 mm, 3 µm over 50.8 mm: turned by 90°."""
    from lapwright.app import shelf
    from lapwright.records import queries

    assert partners.pairing(WAFER) is None
    lot.read(WAFER, "wafer", "incoming", lambda x, _y: 500e-6 + 3e-6 * x / 0.0508, spread=0.0, is_sure=True)
    lot.read(
        "C1", "carrier", "carrier", lambda _x, y: CARRIER_THICKNESS + 4.5e-6 * y / 0.0762, spread=0.0, is_sure=True
    )
    other = Carrier(carrier_id="C2", material="glass", diameter=0.0762, nominal_thickness=CARRIER_THICKNESS)
    shelf.receive_carrier(other, **lot.why())
    found = partners.pairing(WAFER)
    assert [one.carrier_id for one in found.partners] == ["C1"]  # the other one was never read
    best = found.partners[0]
    assert math.degrees(best.turn) == pytest.approx(90.0, abs=1.0)
    assert best.unturned == pytest.approx(math.sqrt(18.0) * 1e-6, rel=0.01)
    assert best.wedge.amount < 0.05e-6
    assert [one.wafer_id for one in partners.pairings()] == [WAFER]
    turned = set_values.result_of(queries.latest_set("C1", "carrier", "carrier"), frame=Frame(turn=best.turn))
    lying = transformed(turned.sites)
    assert lying.x[lying.thickness.argmax()] < -0.015  # as bonds are judged its thick edge lies under the thin one

    lot.bond(WAFER, flat(500e-6))
    assert partners.pairing(WAFER) is None
