"""Zero, start and end of a stage: what is refused before a plate turns."""

from dataclasses import replace

import pytest

from lapwright.app import orders, routes, runs, shelf
from lapwright.errors import BadInput, Conflict
from lapwright.model.request import RunRequest, ZeroRequest
from lapwright.model.shelf import Station
from lapwright.testing.lot import CARRIER_THICKNESS, JIG, flat

WAFER = "AP-1-01"
ZERO = ZeroRequest(wafer_id=WAFER, station_id="L1", jig_id="J1", texts=("0.0", "0.1", "0.2"))
RUN = RunRequest(wafer_id=WAFER, station_id="L1", jig_id="J1")


@pytest.fixture
def ready(lot):
    """The wafer ready for its first lap, its abrasive on the station."""
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    lot.route()
    lot.bond(WAFER, flat(500e-6))
    planned = runs.next_stage(WAFER).planned
    station = Station(station_id="L1", name="L1", kind="lap", plate=planned.plate, abrasive=planned.abrasive)
    shelf.set_up_station(station, **lot.why())
    return lot


def station_now():
    """What is on L1."""
    return next(one.station for one in shelf.list_stations() if one.station.station_id == "L1")


def test_a_film_of_slurry_under_the_foot_is_refused(ready):
    """4 µm between the readings, 1 µm allowed; the readings stay on record."""
    zero = runs.take_zero(replace(ZERO, texts=("0.0", "0.2", "4.0")), **ready.why())
    assert (zero.accepted, zero.texts) == (False, ("0.0", "0.2", "4.0"))
    with pytest.raises(Conflict, match="no accepted zero"):
        runs.start_run(RUN, **ready.why())


def test_two_readings_are_no_zero(ready):
    """Three at least, the foot lifted between them."""
    with pytest.raises(BadInput, match="at least three"):
        runs.take_zero(replace(ZERO, texts=("0.0", "0.1")), **ready.why())


def test_a_run_starts_with_its_numbers_and_its_zero(ready):
    """Preset from the wafer's own map, load from the planned pressure, bound to the zero."""
    zero = runs.take_zero(ZERO, **ready.why())
    ahead = runs.next_stage(WAFER, jig_id="J1", station_id="L1")
    started = runs.start_run(RUN, **ready.why())
    assert (started.zero_id, started.preset, started.pressure) == (zero.zero_id, ahead.preset, ahead.planned.pressure)
    area = 3.14159 / 4 * 0.0508**2
    assert started.load == pytest.approx(ahead.planned.pressure * area, rel=0.03)  # the flat takes 2 % off the disc
    assert orders.show_wafer(WAFER).wafer.state == "in_work"


@pytest.mark.parametrize(
    "change",
    [{"plate": "glass"}, {"abrasive": "other"}],
)
def test_another_plate_or_abrasive_voids_the_zero(ready, change):
    """Changed and changed back, the zero stays void."""
    before = station_now()
    runs.take_zero(ZERO, **ready.why())
    shelf.set_up_station(replace(before, **change), **ready.why())
    shelf.set_up_station(before, **ready.why())
    with pytest.raises(Conflict, match="no accepted zero"):
        runs.start_run(RUN, **ready.why())


def test_a_changed_jig_voids_the_zero(ready):
    """Its geometry is another."""
    runs.take_zero(ZERO, **ready.why())
    shelf.register_jig(replace(JIG, advance_per_division=1e-6), **ready.why())
    assert "jig J1 was changed" in orders.show_wafer(WAFER).zeros[-1].void


def test_moved_adjusters_void_the_zero(ready):
    """Whoever turns them says so."""
    zero = runs.take_zero(ZERO, **ready.why())
    runs.void_zero(zero.zero_id, **ready.why("adjusters moved"))
    assert runs.next_stage(WAFER, jig_id="J1", station_id="L1").zero is None


def test_the_wrong_abrasive_on_the_station_is_refused(ready):
    """Before anything turns; what is there and what is wanted are named."""
    shelf.set_up_station(replace(station_now(), abrasive="other"), **ready.why())
    runs.take_zero(ZERO, **ready.why())
    with pytest.raises(Conflict, match=r"abrasive other \(wanted"):
        runs.start_run(RUN, **ready.why())


def test_a_run_uses_up_its_zero(ready):
    """After the cut the wafer touches at another height."""
    runs.take_zero(ZERO, **ready.why())
    started = runs.start_run(RUN, **ready.why())
    runs.finish_run(started.run_id, gauge_removal="355.2 um", **ready.why())
    assert runs.next_stage(WAFER, jig_id="J1").zero is None


def test_a_run_ends_once(ready):
    """The second end is refused, with the time of the first."""
    runs.take_zero(ZERO, **ready.why())
    started = runs.start_run(RUN, **ready.why())
    runs.finish_run(started.run_id, gauge_removal="355,2 µm", **ready.why())
    with pytest.raises(Conflict, match="ended already"):
        runs.finish_run(started.run_id, **ready.why())


def test_what_the_jigs_gauge_says_is_taken_off_until_the_wafer_is_read_again(ready):
    """300 µm removed from 500 leaves 200, before any reading says so."""
    runs.take_zero(ZERO, **ready.why())
    started = runs.start_run(RUN, **ready.why())
    runs.finish_run(started.run_id, gauge_removal="300 µm", **ready.why())
    assert runs.next_stage(WAFER).thickness_now == pytest.approx(200e-6, abs=0.2e-6)


def test_a_stage_goes_on_after_a_part_of_it(ready):
    """3 µm of the whole to see how it cuts: then the rest of the same stage waits, from where the gauge stood."""
    runs.take_zero(ZERO, **ready.why())
    whole = runs.next_stage(WAFER, jig_id="J1")
    started = runs.start_run(replace(RUN, preset=3e-6, step="first"), **ready.why())
    with pytest.raises(BadInput, match="what the jig's gauge shows"):
        runs.finish_run(started.run_id, **ready.why())
    runs.finish_run(started.run_id, gauge_removal="3.1 µm", **ready.why())
    rest = runs.next_stage(WAFER, jig_id="J1")
    assert (rest.stage.stage_id, rest.stage.state, rest.zero) == (whole.stage.stage_id, "waiting", None)
    assert rest.removal == pytest.approx(whole.removal - 3.1e-6)
    runs.take_zero(ZERO, **ready.why())
    last = runs.start_run(RUN, **ready.why())
    assert last.preset == pytest.approx(rest.preset)
    runs.finish_run(last.run_id, gauge_removal=f"{rest.removal * 1e6:.2f} µm", **ready.why())
    assert runs.next_stage(WAFER).stage.stage_id != whole.stage.stage_id


def test_a_stage_waits_for_its_turn(ready):
    """The second cannot be done before the first, and a lap is done by a run."""
    first, second = orders.show_wafer(WAFER).stages[:2]
    with pytest.raises(Conflict, match="not the turn"):
        runs.complete_stage(second.stage_id, **ready.why())
    with pytest.raises(Conflict, match="done by a run"):
        runs.complete_stage(first.stage_id, **ready.why())
    with pytest.raises(BadInput, match="Say why"):
        runs.skip_stage(first.stage_id, **ready.why(""))


def test_a_wafer_past_its_stage_is_not_cut_again(ready):
    """Removed too much already: the lap is refused, asymmetric as it must be."""
    runs.take_zero(ZERO, **ready.why())
    started = runs.start_run(RUN, **ready.why())
    runs.finish_run(started.run_id, gauge_removal="380 µm", **ready.why())
    while runs.next_stage(WAFER).planned.kind != "lap":
        ahead = runs.next_stage(WAFER)
        if ahead.planned.kind == "measure":
            ready.read(WAFER, "stack", "after_stage", flat(CARRIER_THICKNESS + 4e-6 + 103e-6))
        else:
            ready.clean(ahead.stage.stage_id)
    ahead = runs.next_stage(WAFER, jig_id="J1")
    assert ahead.removal < 0.0
    assert ahead.preset is None
    runs.take_zero(ZERO, **ready.why())
    with pytest.raises(Conflict, match="Leave this stage out"):
        runs.start_run(RUN, **ready.why())


@pytest.mark.usefixtures("ready")
def test_every_stage_shows_the_sites_caution_first():
    """Site rules before the library's lines."""
    ahead = runs.next_stage(WAFER)
    assert any("Site rules" in caution for caution in ahead.cautions)
    assert any("pinch points" in caution for caution in ahead.cautions)
    assert len(ahead.voids_zero) == 6


def test_a_later_route_holds_only_where_no_stage_has_begun(ready):
    """A wafer in work keeps the stages it began."""
    before = [one.stage_id for one in orders.show_wafer(WAFER).stages]
    plans = routes.propose_routes("AP-1")
    routes.choose_route("AP-1", plans[-1], **ready.why())
    laid_out = [one.stage_id for one in orders.show_wafer(WAFER).stages]
    assert set(before).isdisjoint(laid_out)
    started = runs.next_stage(WAFER, jig_id="J1")
    station = replace(station_now(), plate=started.planned.plate, abrasive=started.planned.abrasive)
    shelf.set_up_station(station, **ready.why())
    runs.take_zero(ZERO, **ready.why())
    runs.start_run(RUN, **ready.why())
    routes.choose_route("AP-1", plans[0], **ready.why())
    assert [one.stage_id for one in orders.show_wafer(WAFER).stages] == laid_out
