"""Lots and the wafers they served, both ways, by key: a lot that is renamed loses none of them."""

from dataclasses import replace
from datetime import timedelta

import pytest

from lapwright.app import bonding, lot_traces, orders, plates, runs, shelf, station_setup, supplies
from lapwright.app.station_setup import SetupNote
from lapwright.errors import BadInput, Conflict
from lapwright.formats.piece_codes import piece_code
from lapwright.model.plates import Plate
from lapwright.model.request import BondRequest
from lapwright.model.supply import SupplyLot
from lapwright.testing.lot import CARRIER_THICKNESS, ORDER, Lot, flat

WAFER = "AP-1-01"
FEED = 2e-6 / 60.0  # m³/s; 2 ml a minute
HOUR = timedelta(hours=1)


@pytest.fixture
def room(records):  # noqa: ARG001  started
    """A wafer bonded with wax of lot W-1; lots and a plate on the shelf; the station of its first stage."""
    lot = Lot()
    lot.furnish()
    orders.receive_order(replace(ORDER, quantity=1), wafer_ids=[WAFER], **lot.why())
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6), repeats=1)
    lot.route()
    day = lot.now.date()
    for name, kind, item, measure, amount, more in (
        ("W-1", "adhesive", "mounting-wax", "mass", 0.1, {"per_bond": 4e-4}),
        ("P-22", "pad", "pad-polyurethane", "count", 6.0, {}),
    ):
        supplies.record_lot(
            SupplyLot(lot_id=name, kind=kind, item=item, measure=measure, amount=amount, received=day, **more),
            **lot.why(),
        )
    lot.bond(WAFER, flat(500e-6), adhesive_lot="W-1")
    planned = runs.next_stage(WAFER, jig_id="J1").planned
    station = next(one.station for one in shelf.list_stations() if one.station.plate == planned.plate)
    shelf.set_up_station(replace(station, abrasive=planned.abrasive), **lot.why())
    supplies.record_lot(
        SupplyLot(lot_id="S-1", kind="slurry", item=planned.abrasive, measure="volume", amount=1e-3, feed=FEED,
                  received=day), **lot.why(),
    )  # fmt: skip
    return lot, station.station_id, planned


def noted(lot, station_id, **said):
    """What is on the station, as a person notes it."""
    return station_setup.note_setup(station_id, SetupNote(**said), **lot.why())


def test_a_renamed_lot_still_leads_to_its_wafers_and_they_to_it(room):
    """Noted by its scanned code, run, renamed twice: the card, the wafer and the station all say the newest name."""
    lot, station_id, planned = room
    noted(lot, station_id, abrasive_lot=f"*{piece_code('lot', 's-1')}*", plate_piece="plate of iron")
    lot.run(WAFER, station_id, planned.removal)
    taken = supplies.lot_card("S-1", on=lot.now.date()).runs[0].amount
    supplies.rename_lot("S-1", "S-1/2026", **lot.why("as on the label"))
    supplies.rename_lot("S-1/2026", "S-1A", **lot.why("misread"))
    card = supplies.lot_card("S-1", on=lot.now.date())
    assert (card.recorded.lot.lot_id, card.wafers, card.stations) == ("S-1A", (("AP-1", WAFER),), (station_id,))
    assert card.runs[0].amount == pytest.approx(taken)
    assert taken > 0.0
    found = {one.kind: (one.name, one.is_on_shelf) for one in lot_traces.lots_of_wafer(WAFER)}
    assert found == {"adhesive": ("W-1", True), "abrasive": ("S-1A", True), "plate": ("plate of iron", False)}
    assert shelf.show_station(station_id).station.abrasive_lot == "S-1A"
    supplies.rename_lot("W-1", "W-1B", **lot.why("second drum"))
    assert supplies.lot_card("W-1", on=lot.now.date()).wafers == (("AP-1", WAFER),)


def test_a_run_from_before_there_were_keys_is_found_by_name(room):
    """The keys taken off again, as an upgrade leaves old rows: the name noted then still leads both ways."""
    from lapwright.records import models

    lot, station_id, planned = room
    noted(lot, station_id, abrasive_lot="S-1")
    lot.run(WAFER, station_id, planned.removal)
    models.Run.objects.update(abrasive_supply=None)
    models.Station.objects.update(abrasive_supply=None)
    models.Bond.objects.update(adhesive_supply=None)
    supplies.rename_lot("S-1", "S-9", **lot.why())
    supplies.rename_lot("W-1", "W-9", **lot.why())
    day = lot.now.date()
    assert [supplies.lot_card(name, on=day).wafers for name in ("S-9", "W-9")] == [(("AP-1", WAFER),)] * 2
    assert [one.name for one in lot_traces.lots_of_wafer(WAFER)] == ["W-9", "S-9"]


def test_what_is_used_is_taken_of_the_lot_and_a_plate_knows_its_wafers(room):
    """0.4 g of wax by the bond; a pad for each one put on, none for the same again; the plate by its label's code."""
    lot, station_id, planned = room
    plates.register_plate(
        Plate(plate_id="IRON-1", name="iron", station_id=station_id, inner_radius=0.04, outer_radius=0.15,
              ring_outer_radius=0.065, least_offset=0.085, most_offset=0.112, offset=0.1), **lot.why(),
    )  # fmt: skip
    noted(lot, station_id, plate_piece=piece_code("plate", "IRON-1"))
    lot.run(WAFER, station_id, planned.removal)
    assert lot_traces.wafers_on_plate("IRON-1", newest=10) == (("AP-1", WAFER),)
    assert supplies.lot_card("W-1", on=lot.now.date()).left == pytest.approx(0.1 - 4e-4)
    pads = replace(shelf.show_station(station_id).station, plate="pad-polyurethane", abrasive=None)
    shelf.set_up_station(pads, **lot.why())
    pieces = [
        noted(lot, station_id, plate_piece=piece, is_new_pad=is_new).station.plate_piece
        for piece, is_new in (("P-22", False), ("P-22", False), ("P-22 #1", False), ("P-22", True))
    ]
    assert pieces == ["P-22 #1", "P-22 #1", "P-22 #1", "P-22 #2"]
    card = supplies.lot_card("P-22", on=lot.now.date())
    assert (card.left, card.stations) == (4.0, (station_id,))
    supplies.rename_lot("P-22", "P-23", **lot.why())
    assert shelf.show_station(station_id).station.plate_piece == "P-23 #2"


def test_a_lot_of_something_else_and_a_name_taken_are_refused(room):
    """A name that a lot had would no longer say which is meant; its own may be taken back. Wax as slurry, a slurry of another grain, wax of another kind, a carrier's code, a code of no lot, a misread one."""
    lot, station_id, planned = room
    day = lot.now.date()
    other = "al2o3-3" if planned.abrasive != "al2o3-3" else "al2o3-9"
    supplies.record_lot(
        SupplyLot(lot_id="X-1", kind="slurry", item=other, measure="volume", amount=1e-3, received=day), **lot.why()
    )
    for text, said in (
        ("W-1", "is mounting-wax, but"),
        ("X-1", f"is {other}, but what is used here is {planned.abrasive}"),
        (piece_code("carrier", "C1"), "no lot and no plate"),
        (piece_code("lot", "Z-9"), "nothing on the shelf"),
        ("LX/S-1", "misread"),
    ):
        with pytest.raises(BadInput, match=said):
            noted(lot, station_id, abrasive_lot=text)
    with pytest.raises(BadInput, match="Lot S-1 is"):
        bonding.record_bond(
            BondRequest(wafer_id=WAFER, carrier_id="C1", adhesive="mounting-wax", adhesive_lot="S-1"), **lot.why()
        )
    assert shelf.show_station(station_id).station.abrasive_lot is None
    supplies.rename_lot("S-1", "S-2", **lot.why())
    wax = supplies.lot_card("W-1", on=day).recorded.lot
    with pytest.raises(Conflict, match=r"'S-2' was called 'S-1' before"):
        supplies.record_lot(replace(wax, lot_id="S-1"), **lot.why())
    with pytest.raises(Conflict, match="recorded already"):
        supplies.rename_lot("W-1", "S-2", **lot.why())
    with pytest.raises(BadInput, match="0 letters"):
        supplies.rename_lot("W-1", "  ", **lot.why())
    assert supplies.rename_lot("S-2", "S-1", **lot.why()).lot.lot_id == "S-1"


def test_the_newest_of_a_lot_are_told_and_all_of_them_counted(room):
    """Three runs an hour apart, two of them asked for: the last two, and what is left after all three."""
    from lapwright.records import models, writer

    lot, station_id, planned = room
    noted(lot, station_id, abrasive_lot="S-1")
    lot.run(WAFER, station_id, planned.removal)
    with writer.transaction():
        for _ in range(2):
            row = models.Run.objects.order_by("pk").last()
            row.pk, row.at, row.ended_at = None, row.at + HOUR, row.ended_at + HOUR
            row.save(force_insert=True)
    whole, part = (supplies.lot_card("S-1", on=lot.now.date(), newest=count) for count in (None, 2))
    first, *later = [one.amount for one in whole.runs]
    assert first > 0.0
    assert later == [first, first]
    assert (part.runs, part.are_all_told) == (whole.runs[1:], False)
    assert whole.are_all_told
    assert part.left == whole.left == pytest.approx(1e-3 - 3 * first)
    assert part.used == whole.used
