"""Work on one wafer, as a technician does it: what the program says next, dial it in, run, rinse, read."""

from __future__ import annotations

from dataclasses import replace

from lapwright.app import clean_checks, jig_moves, runs, shelf, station_setup
from lapwright.app.station_setup import SetupNote
from lapwright.model.clean_check import CLEAN_ITEMS
from lapwright.model.job import RecordedRun, RecordedStage
from lapwright.model.readings import Moment
from lapwright.model.request import RunRequest, SetRequest, ZeroRequest
from lapwright.model.shelf import Station
from lapwright.sim import cast
from lapwright.sim.lapping import adjusted, new_jig, run_rate, stop_travel, zero_touches
from lapwright.sim.scenario.day import Day
from lapwright.sim.scenario.measuring import Taken, measure
from lapwright.sim.scenario.visit import Visit
from lapwright.sim.shop import lap_wafer, polish_wafer, stream
from lapwright.units import printed

WHO = cast.TECHNICIAN.name
JIG = cast.JIG.jig_id
LEAST_REMOVAL = 0.1e-6  # m
#: Lot of each abrasive, and what the lab calls the very plate or pad on each station.
LOTS = {"al2o3-15": "A15-2611", "al2o3-3": "A3-2604", "silica-colloidal": "S80-118"}
PIECES = {"L1": "L1-plate", "L2": "L2-plate", "P1": "PU-22"}
STATION_OF_PLATE = {"cast-iron": cast.IRON, "glass": cast.GLASS}


def work_wafer(day: Day, wafer_id: str) -> None:
    """All stages of a wafer, one after the other, as the program asks for them, then the last look on the carrier.

    The jig is set square before the first cut; in haste what the program says of its screws is left undone.
    """
    is_hasty = wafer_id == cast.TROUBLES.hasty_wafer
    tilt = cast.TROUBLES.hasty_tilt if is_hasty else cast.JIG_SQUARE_TO
    square = new_jig(tilt_amount=tilt, diameter=cast.DIAMETER, rng=stream(day.shop.seed, "jig", wafer_id))
    day.shop = replace(day.shop, jig=square)
    while (waiting := _waiting(wafer_id)) is not None:
        if waiting.stage.kind == "measure":
            read_stack(day, wafer_id, moment="after_stage")
        elif waiting.stage.kind == "clean":
            _clean(day, waiting)
        else:
            _remove(day, wafer_id)
    read_stack(day, wafer_id, moment="on_carrier")


def read_stack(day: Day, wafer_id: str, *, moment: Moment, turned: float = 0.0) -> Taken:
    """The stack read on G1; `turned` is how far it lay turned on the stand [rad], which nobody noticed."""
    request = SetRequest(piece=wafer_id, subject="stack", moment=moment, gauge_id="G1", repeats=5)
    truth = day.shop.stacks[wafer_id].thickness.turned(turned)
    return measure(day, Visit(request=request, truth=truth, sites=cast.WAFER_SITES))


# ----------------------------------------------------------------------------------------------------------------------


def _waiting(wafer_id: str) -> RecordedStage | None:
    """The stage on the traveller that is not done yet."""
    return runs.waiting_stage(wafer_id)


def _clean(day: Day, stage: RecordedStage) -> None:
    """Rinsed; with a look where another abrasive follows or the wafer is released."""
    at = day.wait(minutes=10.0)
    if clean_checks.look_due(stage.wafer_id) is None:
        runs.complete_stage(stage.stage_id, by=WHO, reason="rinsed", at=at)
    else:
        clean_checks.record_look(stage.stage_id, "clean", checked=CLEAN_ITEMS, by=WHO, reason="rinsed", at=at)


def _remove(day: Day, wafer_id: str) -> None:
    """A lap or a polish by the numbers the program gives; left out when it gives nothing to take off."""
    ahead = runs.next_stage(wafer_id, jig_id=JIG)
    assert ahead is not None
    if ahead.removal < LEAST_REMOVAL:
        reason = f"{printed(ahead.removal, 'µm', 'length', digits=2)} is less than this stage could be stopped at"
        runs.skip_stage(ahead.stage.stage_id, by=WHO, reason=reason, at=day.wait(minutes=1.0))
    elif ahead.planned.kind == "lap":
        _lap(day, wafer_id, ahead)
    else:
        _polish(day, wafer_id, ahead)


def _lap(day: Day, wafer_id: str, ahead: runs.NextStage) -> None:
    station = _set_up(day, ahead)
    if ahead.correction is not None and wafer_id != cast.TROUBLES.hasty_wafer:
        divisions = tuple(move.divisions_to_set for move in ahead.correction.moves)
        day.shop = replace(day.shop, jig=adjusted(day.shop.jig, divisions))
        at = day.wait(minutes=5.0)
        if any(divisions):
            jig_moves.record_move(JIG, divisions, wafer_id=wafer_id, by=WHO, reason="as shown", at=at)
    _take_zero(day, wafer_id, station.station_id, first=ahead.preset_datum == "first_touch")
    started = runs.start_run(
        RunRequest(wafer_id=wafer_id, station_id=station.station_id, jig_id=JIG),
        by=WHO,
        reason="next stage",
        at=day.wait(minutes=1.0),
    )
    _run_lap(day, started)


def _set_up(day: Day, ahead: runs.NextStage) -> Station:
    """Plate and abrasive as the plan wants them, on the station that bears such a plate; fresh slurry each morning."""
    planned = ahead.planned
    station = cast.PAD if planned.kind == "polish" else STATION_OF_PLATE[planned.plate or "cast-iron"]
    found = shelf.show_station(station.station_id).station
    wanted = replace(found, plate=planned.plate, abrasive=planned.abrasive)
    at = day.now
    if found != wanted:
        at = day.wait(minutes=15.0)
        shelf.set_up_station(replace(wanted, abrasive_lot=None, charged_at=None), by=WHO, reason="as planned", at=at)
    elif found.charged_at is not None and found.charged_at.date() == at.date():
        return found
    note = SetupNote(
        abrasive_lot=LOTS.get(planned.abrasive or "", ""), plate_piece=PIECES[station.station_id], is_charged=True
    )
    return station_setup.note_setup(station.station_id, note, by=WHO, reason="fresh slurry", at=at).station


def _take_zero(day: Day, wafer_id: str, station_id: str, *, first: bool) -> None:
    """The zero of the jig's gauge, three touches; when it is refused the foot is cleaned and it is taken again."""
    dirty = cast.TROUBLES.film if (wafer_id == cast.TROUBLES.film_wafer and first) else 0.0
    for film in (dirty, 0.0, 0.0):
        rng = stream(day.shop.seed, "zero", wafer_id, day.count("zero", wafer_id))
        touches = zero_touches(rng=rng, film=film)
        request = ZeroRequest(
            wafer_id=wafer_id, station_id=station_id, jig_id=JIG, texts=tuple(f"{t * 1e6:.1f}" for t in touches)
        )
        zero = runs.take_zero(request, by=WHO, reason="before the run", at=day.wait(minutes=3.0))
        if zero.accepted:
            return
        day.catch("slurry film", wafer_id, zero.reason)
        day.wait(minutes=5.0)


def _run_lap(day: Day, started: RecordedRun) -> None:
    """The lap until the jig's gauge reaches the preset, with the stop a little off, and what the gauge then says."""
    assert started.preset is not None
    wafer_id, station_id = started.wafer_id, started.station_id
    number = day.count("run", wafer_id)
    rng = stream(day.shop.seed, "run", wafer_id, number)
    travel = stop_travel(started.preset, rng=rng)
    station = replace(day.shop.stations[station_id], rate=cast.TRUE_RATES[started.abrasive or ""])
    quick = cast.TROUBLES.quick_factor if wafer_id in cast.TROUBLES.quick_wafers else 1.0
    rate = quick * run_rate(station, pressure=started.pressure or 10e3, speed=cast.LAP_SPEED, rng=rng)
    day.shop, cut = lap_wafer(day.shop, wafer_id, station_id, travel=travel, rate=rate, run=number)
    day.wait(minutes=cut.time / 60.0)
    shown = travel + 0.2e-6 * float(rng.standard_normal())
    runs.finish_run(
        started.run_id, gauge_removal=f"{shown * 1e6:.1f} µm", by=WHO, reason="preset reached", at=day.wait(minutes=1.0)
    )


def _polish(day: Day, wafer_id: str, ahead: runs.NextStage) -> None:
    """A polish by time: removal over the planned rate."""
    _set_up(day, ahead)
    assert ahead.planned.rate is not None
    time = ahead.removal / ahead.planned.rate
    started = runs.start_run(
        RunRequest(wafer_id=wafer_id, station_id="P1"), by=WHO, reason="next stage", at=day.wait(minutes=5.0)
    )
    day.shop, _ = polish_wafer(day.shop, wafer_id, time=time, run=day.count("run", wafer_id))
    day.wait(minutes=time / 60.0)
    runs.finish_run(started.run_id, stop_reason="time over", by=WHO, reason="time over", at=day.wait(minutes=1.0))
