"""After a run: thickness against gauge; a stop by the clock."""

from dataclasses import replace

import pytest

from lapwright.app import after_run, bonding, clock_runs, orders, readings, runs, stations
from lapwright.errors import Conflict
from lapwright.model.request import RunRequest
from lapwright.testing.live import WAFER, ready_lot
from lapwright.testing.lot import BOND_THICKNESS, CARRIER_THICKNESS, ORDER, flat


@pytest.fixture
def ready(records):
    """A wafer ready to be lapped on L1."""
    return ready_lot(records)


def run_and_read(lot, removed, *, said):
    """A run whose gauge says one thing and whose thickness another."""
    started = runs.start_run(RunRequest(wafer_id=WAFER, station_id="L1", jig_id="J1"), **lot.why())
    runs.finish_run(started.run_id, gauge_removal=f"{said * 1e6:.2f} µm", **lot.why())
    left = CARRIER_THICKNESS + BOND_THICKNESS + 500e-6 - removed
    lot.read(WAFER, "stack", "after_stage", flat(left))
    return after_run.look_back(started.run_id)


def test_a_foot_that_wore_shows_after_the_run(ready):
    """The gauge said 300 µm, the thickness 306: 6 µm too little, more than the microns nobody knows."""
    found = run_and_read(ready, 306e-6, said=300e-6)
    assert found.reconciled.removed == pytest.approx(306e-6, abs=0.2e-6)
    assert found.reconciled.gauge_bias == pytest.approx(-6e-6, abs=0.2e-6)
    assert found.reconciled.is_biased
    assert found.stream is None


def test_a_wafer_taken_off_its_carrier_still_tells_what_the_gauge_missed(ready):
    """The bond that held when the run began makes the wafer out of the stack, as before it was debonded."""
    found = run_and_read(ready, 306e-6, said=300e-6)
    orders.set_aside(WAFER, **ready.why("the customer wants it as it is"))
    bonding.record_debond(orders.show_wafer(WAFER).bonds[-1].bond_id, "solvent overnight", **ready.why())

    again = after_run.look_back(found.run.run_id)

    assert again.reconciled.gauge_bias == pytest.approx(-6e-6, abs=0.2e-6)
    assert again.reconciled == found.reconciled


def test_what_a_station_shows_of_a_run_follows_the_sets_of_its_wafer(ready, monkeypatch):
    """Nothing, then what the set after it says, then nothing of a voided one; sets of other orders ask nothing anew."""
    asked = []
    monkeypatch.setattr(
        after_run, "look_back", lambda run_id, look=after_run.look_back: asked.append(1) or look(run_id)
    )
    started = runs.start_run(RunRequest(wafer_id=WAFER, station_id="L1", jig_id="J1"), **ready.why())
    runs.finish_run(started.run_id, gauge_removal="300.00 µm", **ready.why())
    assert stations.reconciled(started.run_id) is None
    taken = ready.read(WAFER, "stack", "after_stage", flat(CARRIER_THICKNESS + BOND_THICKNESS + 194e-6))
    assert stations.reconciled(started.run_id).removed == pytest.approx(306e-6, abs=0.2e-6)
    orders.receive_order(replace(ORDER, order_id="AP-9"), **ready.why())
    ready.read("AP-9-01", "wafer", "incoming", flat(500e-6))
    assert stations.reconciled(started.run_id).removed == pytest.approx(306e-6, abs=0.2e-6)
    assert len(asked) == 2
    readings.void_set(taken.set_id, **ready.why("grit under the foot"))
    assert stations.reconciled(started.run_id) is None


def test_a_run_without_a_reading_after_it_waits(ready):
    """Nothing to compare with yet."""
    started = runs.start_run(RunRequest(wafer_id=WAFER, station_id="L1", jig_id="J1"), **ready.why())
    assert after_run.look_back(started.run_id) is None
    runs.finish_run(started.run_id, gauge_removal="300.00 µm", **ready.why())
    assert after_run.look_back(started.run_id) is None


def test_a_stage_by_the_clock_is_advised_in_one_step_or_two(ready):
    """One go stops early for the price of over-removal; the first of two steps takes at most 90 %."""
    advice = clock_runs.clock_advice(WAFER)
    planned = runs.next_stage(WAFER).planned
    assert advice.one_step.time < advice.removal / planned.rate
    assert advice.two_steps.removal_first <= 0.9 * advice.removal + 1e-12
    del ready


def test_no_advice_for_a_stage_that_is_no_run(ready):
    """After the lap comes a measurement."""
    run_and_read(ready, 100e-6, said=100e-6)
    while (ahead := runs.next_stage(WAFER)) is not None and ahead.planned.kind in ("lap", "polish"):
        runs.skip_stage(ahead.stage.stage_id, **ready.why("not today"))
    with pytest.raises(Conflict, match="no run"):
        clock_runs.clock_advice(WAFER)
