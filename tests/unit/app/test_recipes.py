"""Recipes: versions, approval, locks, what each produced, and what is set otherwise than for the last wafer.

1 kg weighs 9.80665 N by definition (CGPM 1901). That a change of recipe is told before the start is common practice, no
source.
"""

from dataclasses import replace

import pytest

from lapwright.app import recipes, runs, stations
from lapwright.errors import BadInput, Conflict
from lapwright.model.recipe import RunSettings
from lapwright.model.request import RunRequest, ZeroRequest
from lapwright.model.shelf import Station
from lapwright.testing.lot import flat

WAFER = "AP-1-01"
KG = 9.80665


@pytest.fixture
def ready(lot):
    """A wafer before its first lapping, the station set up for it, its zero taken; what would be set."""
    lot.route()
    lot.read("C1", "carrier", "carrier", flat(6e-3))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    lot.bond(WAFER, flat(500e-6))
    return lot, _prepared(lot, "L1")


def _prepared(lot, station_id):
    from lapwright.app import shelf

    ahead = runs.next_stage(WAFER, jig_id="J1")
    while ahead.planned.kind not in ("lap", "polish"):
        if ahead.planned.kind == "measure":
            lot.read(WAFER, "stack", "after_stage", flat(6e-3 + 4e-6 + ahead.thickness_now), repeats=1)
        else:
            lot.clean(ahead.stage.stage_id)
        ahead = runs.next_stage(WAFER, jig_id="J1")
    station = Station(
        station_id=station_id, name=station_id, kind="lap", plate=ahead.planned.plate, abrasive=ahead.planned.abrasive
    )
    shelf.set_up_station(station, **lot.why())
    runs.take_zero(
        ZeroRequest(wafer_id=WAFER, station_id=station_id, jig_id="J1", texts=("0.0", "0.1", "0.2")), **lot.why()
    )
    ahead = runs.next_stage(WAFER, jig_id="J1", station_id=station_id)
    return runs.settings_of(ahead, request(station_id))


def _sheet(lot):
    return stations.start_sheet("L1", WAFER, jig_id="J1", batch=None, at=lot.why()["at"])


def request(station_id="L1", **more):
    """A start as asked for."""
    return RunRequest(wafer_id=WAFER, station_id=station_id, jig_id="J1", **more)


def test_versions_say_what_changed_who_approved_and_what_they_produced(ready):
    """Version 2 is approved and followed by one run; version 1 by none."""
    lot, settings = ready
    assert recipes.write_version("first cut", replace(settings, load=2.0 * KG), **lot.why()) == 1
    assert recipes.write_version("first cut", settings, **lot.why()) == 2
    recipes.approve("first cut", 2, **lot.why("looked through"))
    run = runs.start_run(request(), **lot.why())
    held = recipes.show_recipe("first cut")
    assert held.holding is not None
    assert (held.holding.number, held.holding.approved.reason) == (2, "looked through")
    followed = recipes.runs_followed("first cut")
    assert [one.run_id for one in followed[2].latest] == [run.run_id]
    assert (followed[1].count, followed[2].count) == (0, 1)
    with pytest.raises(Conflict, match="approved already"):
        recipes.approve("first cut", 2, **lot.why())


def test_a_locked_recipe_takes_no_other_settings_and_no_new_version(ready):
    """The run is refused with what differs; unlocked it goes, and is not counted as made by the recipe."""
    lot, settings = ready
    recipes.write_version("cut", replace(settings, load=2.0 * KG), **lot.why())
    with pytest.raises(Conflict, match="nothing would hold"):
        recipes.set_lock("cut", locked=True, **lot.why())
    recipes.approve("cut", 1, **lot.why())
    recipes.set_lock("cut", locked=True, **lot.why())
    with pytest.raises(Conflict, match=r"locked at version 1; this run differs: load 2\.0 → 2\.4 kg"):
        runs.start_run(request(load=2.4 * KG), **lot.why())
    with pytest.raises(Conflict, match="is locked"):
        recipes.write_version("cut", settings, **lot.why())
    recipes.set_lock("cut", locked=False, **lot.why("by agreement"))
    runs.start_run(request(load=2.4 * KG), **lot.why())
    assert recipes.runs_followed("cut")[1].count == 0


def test_a_change_since_the_last_wafer_is_told_before_the_start(ready):
    """Load 2.0 → 2.4 kg; the same again is not told; somebody else hears whose wafer it was."""
    lot, settings = ready
    before = replace(settings, load=2.0 * KG)
    runs.start_run(request(load=2.0 * KG), **lot.why())
    after = replace(settings, load=2.4 * KG, pressure=before.pressure)
    told = recipes.changed_since_last("L1", replace(after, pressure=None), by="local")
    assert told == "Changed since your last wafer: load 2.0 → 2.4 kg."
    assert recipes.changed_since_last("L1", replace(before, pressure=None), by="local") == ""
    assert "the last wafer here (AP-1-01, local)" in recipes.changed_since_last("L1", after)
    assert recipes.changed_since_last("L2", after) == ""


def test_the_start_sheet_shows_the_change(ready):
    """As a warning among what was looked at."""
    lot, settings = ready
    run = runs.start_run(request(load=(settings.load or 1.0) * 0.8), **lot.why())
    runs.finish_run(run.run_id, gauge_removal="10 µm", **lot.why())
    _prepared(lot, "L1")
    sheet = stations.start_sheet("L1", WAFER, jig_id="J1", batch=None, at=lot.now, by="local")
    told = [check for check in sheet.checks if check.name == "settings"]
    assert [check.state for check in told] == ["warning"]
    assert "Changed since your last wafer:" in told[0].sentence


@pytest.mark.usefixtures("lot")
def test_a_first_recipe_is_kept_from_a_run_and_told_before_the_next_start(ready, client):
    """The station's page leads to a form filled with what was set; the next start says that it is as the recipe says."""
    lot, settings = ready
    page = client.get(f"/stations/L1?wafer={WAFER}").content.decode()
    assert f"{settings.load / KG:.3g}\u00a0kg, {settings.pressure / 1e3:.3g}\u00a0kPa" in page
    assert "says." not in " ".join(check.sentence for check in _sheet(lot).checks)
    run = runs.start_run(request(), **lot.why())
    runs.finish_run(run.run_id, gauge_removal="10 µm", **lot.why())
    page = client.get("/recipes?station=L1").content.decode()
    assert f'name="load_kg" id="load_kg" value="{settings.load / KG:.4g}"' in page
    assert f'<option value="{settings.material}" selected>' in page
    recipes.write_version("kept", settings, **lot.why())
    recipes.approve("kept", 1, **lot.why())
    assert recipes.held_to(settings) == ("As the recipe 'kept', version 1, says.", "")
    assert recipes.held_to(replace(settings, load=2.0 * settings.load))[1].startswith(
        "The recipe 'kept', version 1, says"
    )
    assert f"{settings.load / KG:.3g}\u00a0kg" in client.get("/recipes/kept").content.decode()
    nameless = {"recipe": "new", "material": "", "load_kg": "two"}
    refused = client.post("/recipes", nameless)
    assert refused.status_code == 422
    assert "Choose the material." in refused.content.decode()
    assert 'value="two"' in refused.content.decode()


def test_all_faults_of_a_recipe_are_told_at_once(lot):
    """Name, material and load."""
    wrong = RunSettings(material="cheese", plate="cast iron", abrasive="15 µm", load=-1.0)
    with pytest.raises(BadInput) as told:
        recipes.write_version("/", wrong, **lot.why())
    assert [fault.field for fault in told.value.faults] == ["recipe", "material", "plate", "abrasive", "load"]
    assert "Choose one of cast-iron" in told.value.faults[2].sentence


def test_the_pages_write_approve_and_lock(ready, client):
    """A version by the form, its approval, the lock with its reason; a second version shows what it changed."""
    _lot, settings = ready
    form = {
        "recipe": "cut", "material": "LiTaO3", "plate": settings.plate, "abrasive": settings.abrasive or "",
        "load_kg": "2.0", "plate_speed_rpm": "30", "reason": "as tried",
    }  # fmt: skip
    assert client.post("/recipes", {**form, "load_kg": "two"}).status_code == 422
    asked = client.post("/recipes", {**form, "load_kg": "1,250"})
    assert (asked.status_code, "1,250 can mean 1.250 or 1250" in asked.content.decode()) == (422, True)
    assert "on no station and not in the library" in client.post("/recipes", {**form, "plate": "disc"}).content.decode()
    assert '<option value="cast-iron" selected>cast iron, grooved</option>' in asked.content.decode()
    assert client.post("/recipes", form).headers["Location"] == "/recipes/cut"
    assert client.post("/recipes/cut", {**form, "load_kg": "2,4"}).status_code == 302
    assert "load 2.0 → 2.4 kg" in client.get("/recipes/cut").content.decode()
    assert client.post("/recipes/cut/approve", {"deed": "approve", "number": "2"}).status_code == 302
    assert client.post("/recipes/cut/approve", {"deed": "lock"}).status_code == 422
    assert client.post("/recipes/cut/approve", {"deed": "lock", "reason": "agreed"}).status_code == 302
    assert "locked" in client.get("/recipes").content.decode()


@pytest.fixture
def client(records):  # noqa: ARG001
    """Asks for pages as a browser of this machine would."""
    from django.test import Client

    return Client(HTTP_HOST="localhost")
