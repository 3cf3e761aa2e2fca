"""Plates: checks recorded as read, their ring, how they stand, which are due."""

from datetime import timedelta

import pytest

from lapwright.app import plate_dues, plates
from lapwright.app.plates import CheckRequest
from lapwright.errors import BadInput, Conflict, NotFound, TooFewSites
from lapwright.model.plates import Plate
from lapwright.testing.lot import CARRIER_THICKNESS, flat

GLASS = Plate(
    plate_id="L2-glass", name="glass, 300 mm", inner_radius=0.04, outer_radius=0.15, ring_outer_radius=0.065,
    least_offset=0.085, most_offset=0.112, offset=0.105, dome_limit=8e-6, check_every=8 * 3600.0,
)  # fmt: skip


def rows(dome_um, laying=0):
    """Dial readings along the bar of a plate that is one cap, to 1 nm."""
    return tuple((x, laying, f"{-dome_um * (x / 150) ** 2:.3f}") for x in (-145, -95, -45, 45, 95, 145))


def read(lot, dome_um, *, hours=0.0, **more):
    """A check after some hours of running."""
    request = CheckRequest(method="straightedge", rows=rows(dome_um), ran=hours * 3600.0, **more)
    return as_due(lot, plates.record_check("L2-glass", request, **lot.why()))


def as_due(lot, now):
    """A plate as it stands; what tells which plates are due, which reads less of its history, must tell the same."""
    due = [(one.plate_id, one.sentence) for one in plate_dues.plates_due(at=lot.now)]
    assert due == ([("L2-glass", now.sentence)] if now.due else [])
    return now


@pytest.fixture
def plate(lot):
    """The glass plate on record."""
    plates.register_plate(GLASS, **lot.why())
    return lot


def test_a_plate_never_read_is_due(plate):
    """And says so."""
    now = plates.show_plate("L2-glass", at=plate.now)

    assert now.trend is None
    assert "never read" in plate_dues.plates_due(at=plate.now)[0].sentence


def test_a_check_is_kept_as_typed_and_tells_the_dome(plate):
    """Text, unit and value of each reading; 5 µm of dome."""
    now = read(plate, 5.0)
    line = now.last_check

    assert line.recorded.entry.readings[0].text == "-4.672"
    assert line.shape.dome == pytest.approx(5e-6, rel=1e-3)
    assert now.offset == 0.105
    assert not now.due


def test_growth_is_told_and_the_ring_advised_inward(plate):
    """Three checks of 3 µm/h; past its limit of 8 µm the plate is due at once."""
    for hours, dome in ((0.0, 0.0), (1.5, 4.5), (1.5, 9.0)):
        now = read(plate, dome, hours=hours)

    assert now.trend.dome_rate * 3600 == pytest.approx(3e-6, rel=1e-3)
    assert now.trend.is_moving
    assert now.advice.kind == "condition"
    assert now.advice.move < 0.0
    assert plate_dues.plates_due(at=plate.now)[0].plate_id == "L2-glass"


def test_moving_the_ring_begins_a_new_leg(plate):
    """The place holds from that line on; the trend begins with the check after it."""
    read(plate, 0.0)
    read(plate, 6.0, hours=2.0)
    moved = as_due(plate, plates.set_ring("L2-glass", 0.095, ran=0.0, **plate.why()))
    assert moved.offset == 0.095
    now = read(plate, 5.0, hours=0.5)

    assert now.trend.dome_rate < 0.0
    assert now.trend.checks == 2
    assert [round(line.running_time / 3600, 3) for line in now.lines] == [0.0, 2.0, 2.0, 2.5]


def test_a_dressed_plate_is_due(plate):
    """Its shape is unknown until it is read."""
    read(plate, 0.0)
    now = as_due(plate, plates.record_dressing("L2-glass", ran=600.0, **plate.why()))

    assert now.due
    assert "dressed" in now.sentence
    assert not read(plate, 1.0).due


def test_a_correction_stands_in_the_place_of_what_it_corrects(plate):
    """The first check is kept beside it; only one correction is taken."""
    first = read(plate, 50.0).last_check.recorded.entry_id
    read(plate, 6.0, hours=2.0)
    now = read(plate, 0.0, corrects=first)

    assert now.trend.dome_rate * 3600 == pytest.approx(3e-6, rel=1e-3)
    assert [line.shape is None for line in now.lines] == [True, False, False]
    with pytest.raises(Conflict):
        read(plate, 0.0, corrects=first)


def test_a_history_read_on_line_by_line_is_the_one_read_at_once(plate):
    """With corrections of corrections and a dressing between; what was not corrected stays the same object.

    Its lines without readings follow it.
    """
    from lapwright.app.plate_shapes import head_of
    from lapwright.records import kept, plate_queries

    first = read(plate, 50.0).last_check.recorded.entry_id
    second = read(plate, 5.0, corrects=first).last_check.recorded.entry_id
    read(plate, 6.0, hours=2.0)
    plates.set_ring("L2-glass", 0.095, speed_ratio=0.9, ran=0.0, **plate.why())
    plates.record_dressing("L2-glass", ran=60.0, **plate.why())
    read(plate, 7.0, corrects=second)
    before = plate_queries.entries("L2-glass")
    read(plate, 1.0, hours=1.0)
    grown = plate_queries.entries("L2-glass")
    heads = plate_queries.heads()
    kept.forget()

    assert [old is new for old, new in zip(before, grown, strict=False)] == [True] * 6
    assert plate_queries.entries("L2-glass") == grown
    assert [one.replaced_by is None for one in grown] == [False, False, True, True, True, True, True]
    assert heads == plate_queries.heads() == {"L2-glass": tuple(map(head_of, grown))}


@pytest.mark.parametrize(("method", "size", "text", "dome_um"), [
    ("bridge", 0.1, "1", 9.0), ("block", 0.15, "-1", 4.0), ("wafer", 0.1, "-0.5", 4.5),
])  # fmt: skip
def test_other_ways_to_look_at_a_plate(plate, method, size, text, dome_um):
    """By the squares of the lengths; what was lapped shows the opposite sign."""
    now = plates.record_check("L2-glass", CheckRequest(method=method, rows=((0, 0, text),), size=size), **plate.why())

    assert now.trend.dome == pytest.approx(dome_um * 1e-6)


def test_every_fault_of_a_check_is_told_at_once_and_nothing_is_kept(plate):
    """Two words that are no lengths and a dash."""
    request = CheckRequest(method="straightedge", rows=((0, 0, "x"), (1, 0, "-"), (2, 0, "1"), (3, 0, "3 kg")))
    with pytest.raises(BadInput) as told:
        plates.record_check("L2-glass", request, **plate.why())

    assert [fault.row for fault in told.value.faults] == [1, 2, 4]
    assert plates.show_plate("L2-glass", at=plate.now).lines == ()


def test_what_cannot_be_is_refused(plate):
    """Too few readings, no size, a ring beyond its scale, no running time, a plate nobody knows, a ring off the land."""
    with pytest.raises(TooFewSites):
        plates.record_check("L2-glass", CheckRequest(method="straightedge", rows=rows(1.0)[:2]), **plate.why())
    with pytest.raises(BadInput):
        plates.record_check("L2-glass", CheckRequest(method="bridge", rows=((0, 0, "1"),)), **plate.why())
    with pytest.raises(BadInput):
        plates.set_ring("L2-glass", 0.2, **plate.why())
    read(plate, 0.0)
    with pytest.raises(BadInput):
        plates.record_check("L2-glass", CheckRequest(method="straightedge", rows=rows(1.0)), **plate.why())
    with pytest.raises(NotFound):
        plates.show_plate("nobody", at=plate.now)
    with pytest.raises(BadInput):
        Plate(plate_id="x", name="x", inner_radius=0.2, outer_radius=0.15, ring_outer_radius=0.01, least_offset=0.3,
              most_offset=0.2, offset=0.1, dome_limit=0.0)  # fmt: skip


def test_recorded_runs_of_the_station_are_the_running_time(plate):
    """No run yet: nothing ran, whatever the clock says."""
    plates.register_plate(
        Plate(**{name: getattr(GLASS, name) for name in GLASS.__slots__} | {"station_id": "L1"}),
        version=1, **plate.why(),
    )  # fmt: skip
    read(plate, 0.0)
    now = plates.show_plate("L2-glass", at=plate.now + timedelta(days=2))

    assert now.ran_since == 0.0
    assert not now.due


def test_two_wafers_are_too_few_to_blame_a_plate(lot):  # noqa: ARG001  the database
    """Nothing finished, nothing said."""
    from lapwright.app import plate_sources

    assert plate_sources.recorded_forms() == ()
    assert plate_sources.sources_of(()) == ()


def test_the_strictest_order_in_work_lowers_the_limit(plate):
    """A TTV of 2 µm on 50.8 mm leaves half of it to the plate: over 150 mm of radius that is (300/50.8)² µm = 34.9 µm.

    The plate's own limit is the stricter one, until an order in work asks for more.
    """
    plate.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    plate.read("AP-1-01", "wafer", "incoming", flat(500e-6))
    assert plates.show_plate("L2-glass", at=plate.now).demand is None

    plate.bond("AP-1-01", flat(500e-6))
    now = plates.show_plate("L2-glass", at=plate.now)

    assert now.demand.order_id == "AP-1"
    assert now.demand.dome == pytest.approx((300 / 50.8) ** 2 * 1e-6, rel=1e-12)
    assert now.dome_limit == now.plate.dome_limit
