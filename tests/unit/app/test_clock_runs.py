"""Runs by the clock: two steps, the rate found in the first, weighing, several pieces on one carrier."""

from dataclasses import replace

import pytest

from lapwright.app import after_run, clock_runs, learning, orders, recipes, runs, shelf, stations, weighing
from lapwright.app.clock_curves import removal_expected
from lapwright.app.run_history import RunHistory
from lapwright.errors import BadInput, Conflict
from lapwright.library import load
from lapwright.model.request import RunRequest, WeighingRequest
from lapwright.model.shelf import Station
from lapwright.process.learning import PastRun, rate_model
from lapwright.process.loads import outline_area
from lapwright.testing.live import WAFER, ready_lot
from lapwright.testing.lot import BOND_THICKNESS, CARRIER_THICKNESS, ORDER, flat

DENSITY = 7450.0  # kg/m³, lithium tantalate; handbooks print 7.45 to 7.46 g/cm³ (from memory)
ROUGHLY = 2e-3  # share by which handbooks differ


@pytest.fixture
def polish(records):
    """A wafer whose next stage is its first polish, with what that wants on P1."""
    lot = ready_lot(records)
    go_to_polish(lot, WAFER)
    planned = runs.next_stage(WAFER).planned
    known = {one.station.station_id: one.version for one in shelf.list_stations()}
    station = Station(station_id="P1", name="P1", kind="polish", plate=planned.plate, abrasive=planned.abrasive)
    shelf.set_up_station(station, version=known.get("P1"), **lot.why())
    return lot


def go_to_polish(lot, wafer_id):
    """Leave everything before the polish out."""
    while (ahead := runs.next_stage(wafer_id)).planned.kind != "polish":
        runs.skip_stage(ahead.stage.stage_id, **lot.why("left out for the test"))


def run(lot, advice, *, together=(), **options):
    """A run by the clock, as long as advised, ended by its time."""
    given = {"step": "first", "time": advice.two_steps.first.time if advice.two_steps else advice.one_step.time}
    request = RunRequest(wafer_id=WAFER, station_id="P1", companions=together, **(given | options))
    started = runs.start_run(request, **lot.why())
    return runs.finish_run(started.run_id, stop_reason="time", time=request.time, **lot.why())


def weigh(lot, grams, pieces=(WAFER,)):
    """A mass, known to a tenth of a milligram."""
    request = WeighingRequest(pieces=pieces, text=f"{grams:.5f} g", uncertainty="0.1 mg")
    return weighing.record_weighing(request, **lot.why())


def grams_of(removal):
    """Mass of a layer of the test wafer: density times area times thickness."""
    return DENSITY * outline_area(orders.show_wafer(WAFER).wafer.wafer.outline) * removal * 1e3


def test_the_first_step_is_never_longer_than_doing_it_in_one_go(polish):
    """Whatever the interval of the rate: otherwise the careful way would be the dangerous one."""
    advice = clock_runs.clock_advice(WAFER)
    assert advice.two_steps.first.time <= advice.one_step.time
    del polish


def test_after_the_first_step_the_stage_waits_to_be_measured(polish):
    """Nothing may finish a stage whose first step nobody has measured."""
    run(polish, clock_runs.clock_advice(WAFER))
    ahead = runs.next_stage(WAFER)
    assert (ahead.planned.kind, ahead.stage.state) == ("polish", "waiting")
    advice = clock_runs.clock_advice(WAFER)
    assert advice.finishes
    assert "not measured" in advice.missing
    sheet = stations.start_sheet("P1", WAFER, jig_id=None, batch=None, at=polish.now)
    assert not sheet.may_start


def test_weighing_finds_the_rate_that_finishes(polish):
    """The first step took only half of what was expected: half the rate, and what is left follows from the mass."""
    before = clock_runs.clock_advice(WAFER)
    removal = runs.next_stage(WAFER).removal
    taken = 0.5 * before.two_steps.removal_first
    weigh(polish, 20.0)
    done = run(polish, before)
    weigh(polish, 20.0 - grams_of(taken))
    weighed = weighing.weighed_removal(done)
    assert weighed.removal == pytest.approx(taken, rel=ROUGHLY)
    assert runs.next_stage(WAFER).removal == pytest.approx(removal - taken, rel=ROUGHLY)
    after = clock_runs.clock_advice(WAFER)
    assert after.missing == ""
    assert "by weighing" in after.origin
    assert after.rates[1] == pytest.approx(0.5 * before.rates[1], rel=1e-2)
    assert after.removal == pytest.approx(removal - taken, rel=ROUGHLY)
    assert after.two_steps is None
    run(polish, after, step="finish")
    assert runs.next_stage(WAFER).planned.kind != "polish"


def test_readings_after_the_first_step_do_as_well(polish):
    """The stack is read: what is left follows from its thickness, the rate from before less after."""
    before = clock_runs.clock_advice(WAFER)
    done = run(polish, before)
    polish.read(WAFER, "stack", "after_stage", flat(CARRIER_THICKNESS + BOND_THICKNESS + 500e-6 - 100e-6))
    measured = after_run.measured_removal(done)
    assert measured.removal == pytest.approx(100e-6, abs=0.1e-6)
    assert measured.how == "by the readings after it"
    after = clock_runs.clock_advice(WAFER)
    assert after.rates[1] == pytest.approx(100e-6 / done.time, rel=1e-2)
    looked = after_run.look_back(done.run_id)
    assert looked.reconciled.means == "clock"


def test_a_mass_that_is_none_is_refused(polish):
    """Both faults at once, nothing written."""
    with pytest.raises(BadInput) as caught:
        weighing.record_weighing(WeighingRequest(pieces=(WAFER,), text="heavy", uncertainty="0 mg"), **polish.why())
    assert [fault.field for fault in caught.value.faults] == ["mass", "uncertainty"]
    assert weighing.list_weighings(WAFER) == ()


def test_a_mass_that_does_not_count_tells_nothing(polish):
    """Void, with its reason: the removal is what the clock lets expect again."""
    weigh(polish, 20.0)
    done = run(polish, clock_runs.clock_advice(WAFER))
    second = weigh(polish, 19.9)
    assert weighing.weighed_removal(done) is not None
    weighing.void_weighing(second.weighing_id, **polish.why("slurry on it"))
    assert weighing.weighed_removal(done) is None
    assert removal_expected(done) == pytest.approx(done.expected[-1][1] * done.time / done.expected[-1][0])


@pytest.fixture
def pair(records):
    """Two wafers before their first polish, the second 20 µm thicker than the first."""
    lot = ready_lot(records)
    other = second_wafer(lot, ORDER, 520e-6)
    for wafer_id in (WAFER, other):
        go_to_polish(lot, wafer_id)
    planned = runs.next_stage(WAFER).planned
    known = {one.station.station_id: one.version for one in shelf.list_stations()}
    station = Station(station_id="P1", name="P1", kind="polish", plate=planned.plate, abrasive=planned.abrasive)
    shelf.set_up_station(station, version=known.get("P1"), **lot.why())
    return lot, other


def second_wafer(lot, order, thickness):
    """Another order of one wafer, on a carrier of its own, ready."""
    from lapwright.app import bonding
    from lapwright.model.request import BondRequest
    from lapwright.model.wafer import Carrier

    lot.receive(replace(order, order_id="AP-2", quantity=1))
    wafer_id = "AP-2-01"
    carrier = Carrier(carrier_id="K2", material="glass", diameter=0.0762, nominal_thickness=CARRIER_THICKNESS)
    shelf.receive_carrier(carrier, **lot.why())
    lot.read("K2", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(wafer_id, "wafer", "incoming", flat(thickness))
    lot.route("AP-2")
    bond = bonding.record_bond(BondRequest(wafer_id=wafer_id, carrier_id="K2", adhesive="mounting-wax"), **lot.why())
    lot.read(wafer_id, "stack", "stack", flat(CARRIER_THICKNESS + BOND_THICKNESS + thickness))
    bonding.judge_bond(bond.bond_id, **lot.why())
    bonding.decide_bond(bond.bond_id, "keep", **lot.why())
    return wafer_id


def test_the_thicker_piece_carries_the_load_first(pair):
    """20 µm of one wafer alone go twice as fast as of two; then both go together. All by hand."""
    lot, other = pair
    alone = clock_runs.clock_advice(WAFER)
    both = clock_runs.clock_advice(WAFER, together=(other,))
    first, second = both.steps
    rate = both.rates[1]
    assert first.pieces == (1,)
    assert first.removal == pytest.approx(20e-6, abs=0.1e-6)
    assert first.time == pytest.approx(20e-6 / rate / 2.0, rel=1e-2)
    assert second.pieces == (0, 1)
    assert sum(step.time for step in both.steps) == pytest.approx(both.removal / rate)
    assert both.removal == pytest.approx(alone.removal + 10e-6, abs=0.2e-6)
    assert [piece.decides for piece in both.pieces].count(True) == 1
    del lot


def test_pieces_that_run_together_start_and_end_together(pair):
    """One run each; the mass of both tells the mean, and each its share."""
    lot, other = pair
    advice = clock_runs.clock_advice(WAFER, together=(other,))
    pieces = (WAFER, other)
    weigh(lot, 50.0, pieces)
    done = run(lot, advice, together=(other,))
    weigh(lot, 50.0 - 2.0 * grams_of(12e-6), pieces)
    beside = next(one for one in orders.show_wafer(other).runs if one.with_run == done.run_id)
    assert beside.ended is not None
    thin, thick = (weighing.weighed_removal(one) for one in (done, beside))
    assert (thin.removal + thick.removal) / 2.0 == pytest.approx(12e-6, rel=ROUGHLY)
    assert thick.removal > thin.removal
    assert [runs.next_stage(one).stage.state for one in pieces] == ["waiting", "waiting"]


def test_a_locked_recipe_holds_for_each_piece_of_a_run(pair):
    """Two pieces set as it says are noted as made by it, both; with another load neither starts."""
    lot, other = pair
    advice = clock_runs.clock_advice(WAFER, together=(other,))
    request = RunRequest(wafer_id=WAFER, station_id="P1", companions=(other,), time=advice.one_step.time)
    settings = runs.settings_of(runs.next_stage(WAFER, station_id="P1"), request)
    recipes.write_version("two at once", settings, **lot.why())
    recipes.approve("two at once", 1, **lot.why())
    recipes.set_lock("two at once", locked=True, **lot.why())
    with pytest.raises(Conflict, match="two at once"):
        runs.start_run(replace(request, load=1.1 * settings.load), **lot.why())
    assert [orders.show_wafer(one).runs for one in (WAFER, other)] == [(), ()]
    runs.start_run(request, **lot.why())
    (followed,) = recipes.runs_followed("two at once").values()
    assert {one.wafer_id for one in followed.latest} == {WAFER, other}


def test_a_run_beside_another_is_ended_there(pair):
    """The end counts for both; recording it twice would be two ends. A piece of another stage is refused by name."""
    lot, other = pair
    advice = clock_runs.clock_advice(WAFER, together=(other,))
    request = RunRequest(wafer_id=WAFER, station_id="P1", companions=(other,), time=advice.one_step.time)
    started = runs.start_run(request, **lot.why())
    beside = next(one for one in orders.show_wafer(other).runs if one.with_run == started.run_id)
    with pytest.raises(Conflict, match="runs together"):
        runs.finish_run(beside.run_id, **lot.why())
    runs.finish_run(started.run_id, **lot.why())
    assert all(one.ended for wafer_id in (WAFER, other) for one in orders.show_wafer(wafer_id).runs)
    runs.skip_stage(runs.next_stage(other).stage.stage_id, **lot.why("left out for the test"))
    with pytest.raises(Conflict, match=f"{other}.*cannot run together|nothing to time"):
        clock_runs.clock_advice(WAFER, together=(other,))


def test_a_set_between_two_steps_is_told_as_such(polish):
    """It stands under the polish it was read within, and says nothing of a stage before, nor of the polish when done."""
    from lapwright.app.wafer_course import measured_course
    from lapwright.web.stages import moment_words

    aim, base = runs.next_stage(WAFER).planned.thickness_after, CARRIER_THICKNESS + BOND_THICKNESS
    run(polish, clock_runs.clock_advice(WAFER))
    polish.read(WAFER, "stack", "after_stage", flat(base + aim + 3e-6), is_sure=True)
    for steps in (1, 2):
        story = orders.show_wafer(WAFER)
        (between,) = [one for one in story.sets if one.moment == "after_stage"]
        assert (between.stage_id, len(story.runs)) == (story.runs[-1].stage_id, steps)
        assert moment_words(between, story).startswith("between the steps of Polish")
        assert between.stage_id not in measured_course(story).after
        if steps == 1:
            run(polish, clock_runs.clock_advice(WAFER), step="whole")
    polish.read(WAFER, "stack", "after_stage", flat(base + aim), is_sure=True)
    story = orders.show_wafer(WAFER)
    assert moment_words(story.sets[-1], story).startswith("after Polish")
    assert measured_course(story).after[between.stage_id] == pytest.approx(aim, abs=1e-6)


def test_what_own_runs_taught_counts_more_than_the_route(polish, monkeypatch):
    """Three own runs at a third of the route's rate: the time is that of the wafer's page, three times as long."""
    ahead = runs.next_stage(WAFER)
    by_route = clock_runs.clock_advice(WAFER, at=polish.now)
    _station, conditions, _prediction = learning.next_rate(ahead.planned, "LiTaO3", at=polish.now)
    slow = ahead.planned.rate / 3.0
    past = tuple(
        PastRun(name=str(number), conditions=conditions, removal_rate=slow, rate_uncertainty=0.01) for number in "123"
    )
    taught = rate_model(load(), past)
    monkeypatch.setattr(
        learning, "learned", lambda _library=None: (RunHistory(runs=(), origins=(), left_out=(), misses=()), taught)
    )
    by_own = clock_runs.clock_advice(WAFER, at=polish.now)

    told = learning.next_run(ahead, "LiTaO3", at=polish.now)
    assert by_route.origin == "by the route"
    assert by_own.origin == "by the lab's own runs"
    assert by_own.rates == (told.interval.low, told.interval.median, told.interval.high)
    assert by_own.rates[1] == pytest.approx(slow, rel=0.25)
    assert by_own.one_step.expected / by_own.one_step.time == pytest.approx(told.prediction.median, rel=1e-9)
    assert stations.start_sheet("P1", WAFER, jig_id=None, batch=None, at=polish.now).clock == by_own
