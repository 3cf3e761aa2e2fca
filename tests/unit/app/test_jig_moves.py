"""Moves of a jig's screws: recorded as they were made, and learned from by what they did to the wedge."""

import json
import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from lapwright.app import jig_moves, runs, shelf
from lapwright.app.wiring import current_settings
from lapwright.cli.main import exit_status
from lapwright.errors import BadInput, Conflict
from lapwright.formats.jig_move_results import learned_dict
from lapwright.model.request import RunRequest
from lapwright.model.shelf import Jig
from lapwright.sim import lapping
from lapwright.testing.live import WAFER, ready_lot, take_zero
from lapwright.testing.lot import BOND_THICKNESS, CARRIER_THICKNESS, JIG

CUT = 20e-6


@pytest.fixture
def ready(records):
    """A wafer ready to be lapped on L1."""
    return ready_lot(records)


def truth(factors, play=0.0):
    """The jig as it truly is, square: each screw moves so many times its nominal advance."""
    return lapping.Jig(tilt=(0.0, 0.0), azimuths=JIG.adjuster_azimuths, radius=JIG.adjuster_radius,
                       per_division=JIG.advance_per_division, play=play * JIG.advance_per_division), factors  # fmt: skip


def turned(jig, divisions):
    """The true jig after a move."""
    held, factors = jig
    return lapping.adjusted(held, tuple(far * one for far, one in zip(divisions, factors, strict=True))), factors


def cut(lot, jig, height):
    """A lap of 20 µm on L1, half a minute a micrometre, and the stack read after it with the jig's wedge in it."""
    take_zero(lot)
    started = runs.start_run(RunRequest(wafer_id=WAFER, station_id="L1", jig_id="J1", step="first"), **lot.why())
    lot.now += timedelta(minutes=10)
    runs.finish_run(started.run_id, gauge_removal=f"{CUT * 1e6:.1f} µm", **lot.why())
    slope_x, slope_y = jig[0].tilt
    stack = CARRIER_THICKNESS + BOND_THICKNESS + height
    lot.read(WAFER, "stack", "after_stage", lambda x, y: stack + slope_x * x + slope_y * y, repeats=1)


def test_a_move_is_recorded_screw_by_screw_and_voids_the_zero(ready):
    """Who, when, which screw, how far, which way; the zero no longer holds; a correction says that it was not made."""
    shelf.register_jig(replace(JIG, clockwise_brings_near=True), **ready.why())
    take_zero(ready)
    why = ready.why("wedge of the bond")
    moved = jig_moves.record_move("J1", (1.5, -3.0, 0.0), wafer_id=WAFER, **why)
    assert (moved.signature.by, moved.signature.at, moved.signature.reason) == ("local", why["at"], why["reason"])
    assert [(one.screw, one.divisions, one.screw_way) for one in moved.move.turns] == [
        (1, 1.5, "clockwise"), (2, -3.0, "counter_clockwise"), (3, 0.0, None),
    ]  # fmt: skip
    assert runs.next_stage(WAFER, jig_id="J1").zero is None
    fixed = jig_moves.record_move(
        "J1", (0.0, 0.0, 0.0), wafer_id=WAFER, corrects=moved.move_id, **ready.why("not made")
    )
    assert [(one.replaced_by, one.made_at) for one in jig_moves.list_moves("J1")] == [
        (fixed.move_id, why["at"]), (None, why["at"]),
    ]  # fmt: skip
    assert jig_moves.list_moves("J1", newest=1) == jig_moves.list_moves("J1")  # with what it takes the place of
    with pytest.raises(Conflict, match="corrected already"):
        jig_moves.record_move("J1", (0.0, 0.0, 0.0), wafer_id=WAFER, corrects=moved.move_id, **ready.why())
    later = jig_moves.record_move("J1", (0.0, 1.0, 0.0), wafer_id=None, **ready.why())
    assert jig_moves.list_moves("J1", newest=1) == (later,)


def test_a_move_that_cannot_be_meant_is_refused(ready):
    """Another number of screws; no screw turned at all; more divisions than a screw has."""
    for wrong in ((1.0, 2.0), (0.0, 0.0, 0.0), (1e6, 0.0, 0.0), (math.nan, 0.0, 0.0)):
        with pytest.raises(BadInput):
            jig_moves.record_move("J1", wrong, wafer_id=WAFER, **ready.why())
    assert jig_moves.list_moves("J1") == ()
    assert jig_moves.learned_jig("J1") is None


def test_what_was_turned_is_not_asked_for_again(ready):
    """The correction less what was turned since the map: half of one screw is left, then nothing."""
    jig, height = truth((1.0, 1.0, 1.0)), 480e-6
    jig = turned(jig, (-1.5, 1.0, 0.5))
    cut(ready, jig, height)
    asked = [move.divisions_to_set for move in runs.next_stage(WAFER, jig_id="J1").correction.moves]
    assert max(map(abs, asked)) >= 1.0
    part = [asked[0] - 0.5, asked[1], asked[2]]
    jig_moves.record_move("J1", part, wafer_id=WAFER, **ready.why())
    left = runs.next_stage(WAFER, jig_id="J1")
    assert [move.divisions_to_set for move in left.correction.moves] == [0.5, 0.0, 0.0]
    assert len(left.turned) == 1
    jig_moves.record_move("J1", (0.5, 0.0, 0.0), wafer_id=WAFER, **ready.why())
    assert {move.divisions_to_set for move in runs.next_stage(WAFER, jig_id="J1").correction.moves} == {0.0}


def test_a_planted_fifth_is_found_in_five_moves_and_taken_by_a_person(ready):
    """Screw 2 moves 20 % more than its nominal 2 µm: named after five recorded moves, taken only when somebody says so."""
    from django.test import Client

    jig, height, rng = truth((1.0, 1.2, 1.0)), 480e-6, np.random.default_rng(3)
    cut(ready, jig, height)
    for _ in range(5):
        divisions = tuple(float(one) for one in rng.choice([-4.0, -3.0, 3.0, 4.0], size=3))
        jig_moves.record_move("J1", divisions, wafer_id=WAFER, **ready.why())
        jig = turned(jig, divisions)
        height -= CUT
        cut(ready, jig, height)
    found = jig_moves.learned_jig("J1")
    assert (found.teaching, found.recorded) == (5, 5)
    assert [one.is_off for one in found.screws] == [False, True, False]
    assert found.screws[1].learned_travel == pytest.approx(2.4e-6, rel=0.05)
    assert found.can_take
    assert _advances() == (None, (2e-6, 2e-6, 2e-6))
    page = Client(HTTP_HOST="localhost").get(f"/orders/AP-1/wafers/{WAFER}/tilt").content.decode()
    assert f"<b>{found.screws[1].learned_travel * 1e6:.2f}</b> ± {2e6 * found.screws[1].travel_uncertainty:.2f}" in page
    assert "Take the learned values" in page
    told = jig_moves.sentences_of(found)
    assert told[0] == "From 5 moves."
    assert told[1].startswith("Screw 2 moves 2.")
    jig_moves.take_learned("J1", by="local", at=ready.why()["at"])
    learned, taken = _advances()
    assert learned is not None
    assert taken == (2e-6, pytest.approx(found.screws[1].learned_travel), 2e-6)
    again = jig_moves.learned_jig("J1")
    assert (again.can_take, again.screws[1].nominal_travel) == (False, 2e-6)
    assert jig_moves.learned_before("J1", 2e-6, JIG.adjuster_azimuths) == learned
    assert jig_moves.learned_before("J1", 3e-6, JIG.adjuster_azimuths) is None
    assert jig_moves.learned_before("J9", 2e-6, JIG.adjuster_azimuths) is None
    with pytest.raises(Conflict, match="no adjuster off"):
        jig_moves.take_learned("J1", by="local", at=ready.why()["at"])


def test_a_move_without_a_reading_on_both_sides_teaches_nothing(ready):
    """A move before the first cut, and one after the last reading: recorded, and said to teach nothing."""
    jig_moves.record_move("J1", (2.0, 0.0, -2.0), wafer_id=WAFER, **ready.why())
    cut(ready, turned(truth((1.0, 1.0, 1.0)), (2.0, 0.0, -2.0)), 480e-6)
    jig_moves.record_move("J1", (0.0, 3.0, 0.0), wafer_id=WAFER, **ready.why())
    found = jig_moves.learned_jig("J1")
    assert (found.teaching, found.recorded, found.can_take) == (0, 2, False)
    assert "none teaches" in jig_moves.sentences_of(found)[0]
    assert learned_dict("J1", found, ())["screws"][0]["learned_um_per_division"] == pytest.approx(2.0)


@pytest.mark.usefixtures("lot")
def test_the_command_records_lists_and_learns(capsys):
    """Divisions with commas between; a slip is told; nothing is learned of a move without readings around it."""

    def ask(*told):
        status = exit_status(["turns", *told, "--data", str(current_settings().data), "--json"])
        return status, json.loads(capsys.readouterr().out)

    _, moved = ask("record", "J1", "--divisions", "1.5,-3,0", "--wafer", WAFER)
    assert [one["divisions"] for one in moved["result"]["screws"]] == [1.5, -3.0, 0.0]
    _, fixed = ask("record", "J1", "--divisions", "0,0,0", "--corrects", str(moved["result"]["move"]))
    _, listed = ask("list", "J1")
    assert [one["replaced_by"] for one in listed["result"]["moves"]] == [fixed["result"]["move"], None]
    assert ask("learned", "J1")[1]["result"]["screws"] == []
    assert ask("record", "J1", "--divisions", "1,2")[0] == 2
    assert ask("record", "J1", "--divisions", "1,2,x")[0] == 2
    assert ask("take", "J1")[1]["code"] == "record.conflict"


def _advances():
    """What is recorded as learned, and what corrections go by."""
    from lapwright.process.jig import geometry_of

    jig: Jig = shelf.list_jigs()[0].jig
    return jig.learned_advances, tuple(one.travel_per_division for one in geometry_of(jig).adjusters)
