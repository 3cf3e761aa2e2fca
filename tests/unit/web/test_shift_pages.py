"""Changeover, Handover, Waste and cautions: nothing goes on without a look, nothing that runs is missing on the card.

That every step with a listed hazard shows it follows from the library's own rows; the label's words are common practice.
"""

import html
import re
from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from lapwright.app import (
    bonding,
    certificates,
    clean_checks,
    gauge_studies,
    handover,
    people,
    routes,
    runs,
    shelf,
    tasks,
    verdicts,
    waste,
    wiring,
)
from lapwright.errors import Conflict
from lapwright.library import load
from lapwright.model.clean_check import CLEAN_ITEMS
from lapwright.model.gauge_care import StudyRequest
from lapwright.model.readings import Signature
from lapwright.model.request import BondRequest, FindingRequest, RunRequest, ZeroRequest
from lapwright.testing.board_shop import PLAN
from lapwright.testing.lot import BOND_THICKNESS, CARRIER_THICKNESS, ORDER, flat

WAFER = "AP-1-01"
PAGE = f"/orders/AP-1/wafers/{WAFER}/changeover"


@pytest.fixture
def dirty(lot):
    """A wafer that waits for the look between two abrasives."""
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6), repeats=1)
    lot.route()
    lot.bond(WAFER, flat(500e-6))
    lot.work(WAFER, until_look=True)
    return lot


def text_of(answer):
    """A page as text."""
    return html.unescape(re.sub(r"\s+", " ", answer.content.decode()))


def test_the_look_is_asked_for_on_hands_and_gates_the_step(client, dirty):
    """Hands leads to the page; half the ticks are refused and come back; not clean waits; overruled goes on."""
    (task,) = [one for one in tasks.waiting_tasks(now=dirty.now) if one.wafer_id == WAFER]
    assert task.page == "changeover"
    assert re.fullmatch("wash before the (next abrasive|polish), and look", task.verb)  # as the best route has it
    assert f'href="{PAGE}"' in client.get("/").content.decode()
    assert (
        'action="/orders/AP-1/wafers/AP-1-01/do/complete"'
        not in client.get(PAGE[: -len("/changeover")]).content.decode()
    )
    refused = client.post(PAGE, {"found": "clean", "checked": ["rinsed", "jig"]})
    assert refused.status_code == 422
    assert "Not looked at: fresh gloves" in text_of(refused)
    assert refused.content.decode().count(" checked>") == 2
    assert client.post(PAGE, {"found": "not_clean", "reason": "<b>grey</b> water"}).status_code == 302
    page = client.get(PAGE).content.decode()
    assert "&lt;b&gt;grey&lt;/b&gt; water" in page
    (task,) = [one for one in tasks.waiting_tasks(now=dirty.now) if one.wafer_id == WAFER]
    assert task.warning
    assert "not clean" in task.why
    (unsafe,) = [lines for part, lines in handover.card_now(now=dirty.now) if part == "unsafe"]
    assert any(WAFER in line for line in unsafe)
    assert client.post(PAGE, {"found": "overruled", "reason": "lamp broken"}).status_code == 302
    assert clean_checks.look_due(WAFER) is None
    assert [one.outcome for one in clean_checks.looks_of(WAFER)] == ["not_clean", "overruled"]
    for page in (PAGE.removesuffix("/changeover"), PAGE.replace("changeover", "sheet")):
        assert re.search(
            r"went on without a clean look\W.{0,20}lamp broken", re.sub(r"<[^>]+>", " ", text_of(client.get(page)))
        )


def test_a_look_overruled_stands_on_the_certificate(client, dirty):
    """With the name and the reason; a cleaning left out does as well."""
    from lapwright.records import writer

    client.post(PAGE, {"found": "overruled", "reason": "lamp broken"})
    dirty.work(WAFER, until_look=True)
    client.post(f"{PAGE.removesuffix('/changeover')}/do/skip", {"skip-reason": "no water"})
    for state in ("debonded", "read_free"):
        writer.move_wafer(WAFER, state, Signature(**dirty.why()))
    dirty.read(WAFER, "wafer", "final", flat(100e-6), repeats=1)
    found = FindingRequest(wafer_id=WAFER, quantity="roughness_ra", text="0.6 nm", method="profiler",
                           expanded_uncertainty=0.2e-9)  # fmt: skip
    verdicts.record_finding(found, **dirty.why())
    verdicts.judge_wafer(WAFER, **dirty.why())
    remarks = " ".join(certificates.collect("AP-1", at=dirty.now).wafers[0].remarks)
    assert re.search("It went on after “.*” although no look had found all clean; local: lamp broken", remarks)
    assert re.search("The cleaning “.*” was left out; local: no water", remarks)


def test_a_stale_page_and_a_wrong_file_change_nothing(client, dirty):
    """The stage that the page was made for must still be the next one; a text is no photograph."""
    del dirty
    stage = runs.waiting_stage(WAFER).stage_id
    from django.core.files.uploadedfile import SimpleUploadedFile

    wrong = SimpleUploadedFile("rinse.png", b"no picture", content_type="image/png")
    sent = {"found": "clean", "checked": CLEAN_ITEMS, "stage": stage, "photograph": wrong}
    assert client.post(PAGE, sent).status_code == 422
    assert client.post(PAGE, {"found": "clean", "checked": CLEAN_ITEMS, "stage": stage + 1}).status_code in (404, 409)
    assert clean_checks.looks_of(WAFER) == ()


def test_a_handover_holds_what_runs_and_is_read_by_somebody_else(client, dirty):
    """Started, it stands on the card; given by one, taken by another, once."""
    station_id = _started(dirty)
    for place in ("", station_id):
        (line,) = dict(handover.card_now(place, now=dirty.now))["running"]
        assert line.startswith(f"{station_id}: {WAFER} runs")
    other = "P1" if station_id != "P1" else "L1"
    assert dict(handover.card_now(other, now=dirty.now))["running"] == ()
    long = client.post("/handover", {"note": "x" * 10_001})
    assert (long.status_code, "Shorten it" in text_of(long)) == (422, True)
    assert client.post("/handover", {"note": "drip valve sticks"}).status_code == 302
    (given,) = handover.latest()
    assert given.note == "drip valve sticks"
    client.post(f"/handover/{given.handover_id}/taken")
    assert handover.latest()[0].taken is None
    assert "whoever takes over signs" in text_of(client.get("/handover"))
    people.add_person("mika", "Mika Sand", **dirty.why())
    handover.take(given.handover_id, **{**dirty.why(), "by": "mika"})
    assert handover.latest()[0].taken.by == "mika"
    with pytest.raises(Conflict, match="was read already"):
        handover.take(given.handover_id, **{**dirty.why(), "by": "mika"})


def test_waste_shows_every_listed_hazard_of_the_steps_and_what_is_in_it(client, dirty):
    """For each step, adhesive and slurry of the job, every row of the library that matches."""
    del dirty
    page = text_of(client.get("/waste?order=AP-1"))
    library = load()
    stages = {(one.stage.kind, one.stage.abrasive or "") for one in _stages()}
    wanted = {
        hazard.caution
        for step, slurry in stages | {("bond", ""), ("debond", "")}
        for hazard in library.hazards_for(ORDER.material, step=step, slurry=slurry, adhesive="mounting-wax")
        if (step in ("lap", "polish", "clean", "measure") and not hazard.adhesives) or step in ("bond", "debond")
    }
    assert wanted
    assert [one for one in wanted if one not in page] == []
    assert library.material(ORDER.material).name in page
    assert client.get("/waste?order=nothing").status_code == 404
    assert client.get("/waste").status_code == 200


def test_a_handover_names_what_cools_and_the_study_that_goes_on(lot):
    """A stack just bonded until the Board's time has passed, and a study begun until it is through."""
    lot.read(WAFER, "wafer", "incoming", flat(500e-6), repeats=1)
    bond = BondRequest(wafer_id=WAFER, carrier_id="C1", adhesive="mounting-wax", adhesive_lot="")
    bonding.record_bond(bond, **lot.why())
    until = (lot.now + timedelta(minutes=20)).astimezone(ZoneInfo(wiring.current_settings().time_zone))
    wanted = f"{WAFER} cools on C1 until {until:%H:%M}"
    assert dict(handover.card_now(now=lot.now))["running"] == (wanted,)
    assert dict(handover.card_now(now=lot.now + timedelta(minutes=21)))["running"] == ()
    study = StudyRequest(
        study_id="G1-S1", gauge_id="G1", parts=("P1", "P2"), operators=("ada", "ben"), repeats=2, seed=1, tolerance=4e-6
    )
    gauge_studies.plan_study(study, **lot.why())
    told = [line for line in dict(handover.card_now(now=lot.now))["waiting"] if "study" in line]
    assert told == []
    gauge_studies.record_study_reading("G1-S1", "500.1", **lot.why())
    told = [line for line in dict(handover.card_now(now=lot.now))["waiting"] if "study" in line]
    assert told == ["G1: study G1-S1 goes on, 1 of 8 lines are read"]


def test_every_listed_hazard_stands_at_its_step(client, lot):
    """Before the bond those of every adhesive on offer, before debonding those of the one used and what dissolves it.

    At a cleaning those of the slurry that is washed off. The site's sentence is the first of each card.
    """
    from lapwright.records import writer

    library, wafer = load(), PAGE.removesuffix("/changeover")

    def check(step, **met):
        page = text_of(client.get(wafer))
        listed = [one.caution for one in library.hazards_met(ORDER.material, step=step, **met)]
        assert [one for one in listed if one not in page] == []
        assert page.index("Site rules") < min(page.index(one) for one in listed)

    glues = [one.adhesive_id for one in library.adhesives]
    wax = library.adhesive("mounting-wax")
    assert any(one.adhesives for one in library.hazards_met(ORDER.material, step="bond", adhesives=glues))
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6), repeats=1)
    check("bond", adhesives=glues)
    lot.route()
    lot.bond(WAFER, flat(500e-6))
    lot.work(WAFER, until_look=True)
    check("clean", adhesives=[wax.adhesive_id], solvents=wax.solvents)
    for state in ("worked", "read_on_carrier"):
        writer.move_wafer(WAFER, state, Signature(**lot.why()))
    check("debond", adhesives=[wax.adhesive_id], solvents=wax.solvents)


def test_a_cleaning_shows_what_the_slurry_before_it_demands():
    """A line that polished with hypochlorite is never rinsed with alcohol (the row names its source)."""
    from lapwright.app.cautions import cautions_for

    (row,) = [one for one in load().hazards if one.hazard_id == "hypochlorite-solvent"]
    assert row.caution in cautions_for("GaAs", step="clean", adhesive="mounting-wax", slurries=("hypochlorite", ""))
    assert row.caution not in cautions_for("GaAs", step="clean", adhesive="mounting-wax", slurries=("al2o3-3",))


def test_waste_looks_ahead_along_the_chosen_route(lot):
    """Before anything is bonded the cautions of the laps and the polish to come are there, with their slurries."""
    assert {one.step for one in waste.waste_of("AP-1").steps} == {"measure", "bond", "clean", "debond"}
    routes.choose_route("AP-1", PLAN, **lot.why())
    found = waste.waste_of("AP-1")
    assert {"lap", "polish"} < {one.step for one in found.steps if one.cautions}
    assert any("alumina 15 µm, as slurry" in part for part in found.constituents)


def _started(lot):
    """The wafer looked at, read, and running at the station of its next stage."""
    clean_checks.record_look(runs.waiting_stage(WAFER).stage_id, "clean", checked=CLEAN_ITEMS, **lot.why())
    ahead = runs.next_stage(WAFER, jig_id="J1")
    if ahead.planned.kind == "measure":
        lot.read(WAFER, "stack", "after_stage", flat(CARRIER_THICKNESS + BOND_THICKNESS + ahead.thickness_now))
    planned = runs.next_stage(WAFER, jig_id="J1").planned
    old = next(one.station for one in shelf.list_stations() if one.station.plate == planned.plate)
    shelf.set_up_station(replace(old, abrasive=planned.abrasive), **lot.why())
    zero = ZeroRequest(wafer_id=WAFER, station_id=old.station_id, jig_id="J1", texts=("0.0", "0.1", "0.2"))
    runs.take_zero(zero, **lot.why())
    runs.start_run(RunRequest(wafer_id=WAFER, station_id=old.station_id, jig_id="J1"), **lot.why())
    return old.station_id


def _stages():
    from lapwright.app import orders

    return orders.show_wafer(WAFER).stages
