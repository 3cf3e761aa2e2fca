"""Rates, Kinematics and Prices as their pages and their JSON give them."""

import json
from datetime import timedelta

import pytest

from lapwright.app import accounts, prices, rates, runs
from lapwright.cli.main import exit_status
from lapwright.model.request import RunRequest
from lapwright.testing.live import WAFER, ready_lot, take_zero
from lapwright.web.price_forms import filled

TURN = "plate_speed_rpm=70&jig_speed_rpm=60&offset_mm=100&wafer_diameter_mm=100"


@pytest.mark.usefixtures("lot")
def test_kinematics_says_the_same_as_the_command(client, capsys):
    """Equal speeds slide every point alike: the angular speed times the offset, exactly; and the lines are drawn."""
    page = client.get(f"/kinematics?{TURN.replace('60', '70')}").content.decode()
    assert "This ratio repeats every turn of the plate" in page
    assert f"{70 * 2 * 3.141592653589793 / 60 * 0.1:.4f}" in page
    assert page.count('tabindex="0" class="drawing') == 3  # the lines as asked, the lines for comparison, the profile
    asked = f"{TURN}&land_outer_mm=150&ring_outer_mm=60&groove_width_mm=1&groove_pitch_mm=5&sweep_half_stroke_mm=5"
    answer = client.get(f"/api/kinematics?{asked}&sweep_period_s=20").json()
    pairs = [pair.split("=") for pair in asked.split("&")]
    options = [part for name, value in pairs for part in ("--" + name.replace("_", "-"), value)]
    exit_status(["kinematics", *options, "--sweep-period-s", "20", "--json"])
    assert answer == json.loads(capsys.readouterr().out)


@pytest.mark.usefixtures("lot")
def test_kinematics_tells_every_fault_beside_its_field(client):
    """A sweep without its period, a plate too fast to be meant, text that is no number; and a plate that stands."""
    asked = "plate_speed_rpm=1e6&jig_speed_rpm=fast&offset_mm=95&wafer_diameter_mm=50&sweep_half_stroke_mm=9"
    answer = client.get(f"/kinematics?{asked}")
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "A sweep needs the time" in page
    assert page.count('class="fault"') == 3
    assert client.get(f"/kinematics?{TURN.replace('=70', '=0')}").status_code == 200
    assert client.get(f"/api/kinematics?{TURN.replace('=70', '=nan')}").status_code == 422


def test_prices_are_recorded_on_their_page(client, lot):  # noqa: ARG001  the shop they are of
    """The form opens with what holds; a change makes a version that says what it changed; an old page is refused."""
    start = filled(prices.price_list(), prices.stations_to_price(), prices.kinds_to_price(), after=0)
    assert client.get("/prices").content.decode().count('value="20"') == 2  # a station, and colloidal silica
    sent = {name: value for name, value in start.items() if value is not None} | {"labour": "95,5", "station_1": "40"}
    assert client.post("/prices", sent).status_code == 422  # why is not said
    assert client.post("/prices", sent | {"reason": "wages", "currency": "EUR"}).status_code == 302
    assert (prices.price_list().labour, prices.price_list().station_hours) == (95.5, (("L2", 40.0),))
    page = client.get("/prices").content.decode()
    assert "an hour of a person 60 → 95.5" in page
    assert client.post("/prices", sent | {"reason": "again"}).status_code == 409
    wrong = client.post("/prices", sent | {"reason": "x", "after": "1", "labour": "-4", "pad_life_h": "0"})
    assert wrong.status_code == 422
    assert wrong.content.decode().count('class="fault"') == 2
    assert client.get("/api/prices").json()["result"]["labour_per_hour"] == 95.5
    assert len(prices.price_versions()) == 1


def test_who_may_not_plan_reads_the_prices(lot, monkeypatch):
    """A viewer sees every price and no box to type in, and cannot send one."""
    from django.contrib.auth import get_user_model
    from django.test import Client

    monkeypatch.setattr(accounts, "are_demanded", lambda _settings: True)
    accounts.open_account("vie", "", "viewer", **lot.why())
    viewer = Client(HTTP_HOST="localhost")
    viewer.force_login(get_user_model().objects.get(username="vie"))
    page = viewer.get("/prices").content.decode()
    assert "<dt>An hour of a person</dt><dd>60</dd>" in page
    assert "<input" not in page
    assert viewer.post("/prices", {}).status_code == 403


def test_a_pair_is_shown_with_its_runs(client, records):
    """A lap of half an hour: the pair, the run with the way to it, and the same in JSON."""
    assert "No finished run teaches a rate yet" in client.get("/rates").content.decode()
    lot = ready_lot(records)
    started = runs.start_run(RunRequest(wafer_id=WAFER, station_id="L1", jig_id="J1"), **lot.why())
    lot.now += timedelta(minutes=30)
    runs.finish_run(started.run_id, gauge_removal="240.00 µm", **lot.why())
    (pair,) = rates.rate_pairs()
    (run,) = pair.runs
    assert (run.origin.wafer_id, run.origin.run_id, run.note) == (WAFER, started.run_id, "usual")
    assert 0.0 < pair.from_library < 1.0
    asked = "&".join(f"{name}={getattr(pair.conditions, name)}" for name in ("material", "abrasive", "plate"))
    assert asked.replace("&", "&amp;") in client.get("/rates").content.decode()
    page = client.get(f"/rates?{asked}").content.decode()
    assert f"/orders/AP-1/wafers/{WAFER}#stage-{run.origin.stage_id}" in page
    assert "until a person sets it" in page
    assert f'id="stage-{run.origin.stage_id}"' in client.get(f"/orders/AP-1/wafers/{WAFER}").content.decode()
    (told,) = client.get(f"/api/rates?{asked}").json()["result"]["pairs"]
    assert told["runs_shown"][0]["rate_um_per_min"] == pytest.approx(240.0 / 31.0)
    assert client.get("/rates?material=x&abrasive=y&plate=z").status_code == 404


def test_an_outlying_run_is_named_and_leads_to_its_stage(client, records):
    """Seven runs alike and one at a third: it is set aside, named on the page, and found from there."""
    lot = ready_lot(records)
    for minutes in (3.0, 3.0, 3.1, 2.9, 3.0, 3.0, 3.1, 15.0):
        started = runs.start_run(RunRequest(wafer_id=WAFER, station_id="L1", jig_id="J1", step="first"), **lot.why())
        lot.now += timedelta(minutes=minutes)
        runs.finish_run(started.run_id, gauge_removal="26.00 µm", **lot.why())
        take_zero(lot)
    (pair,) = rates.rate_pairs()
    assert [one.note for one in pair.runs] == ["usual"] * 7 + ["outlying"]
    page = client.get(
        "/rates?" + "&".join(f"{n}={getattr(pair.conditions, n)}" for n in ("material", "abrasive", "plate"))
    )
    assert "was far off and is set aside" in page.content.decode()
    assert "1 run set aside" in client.get("/rates").content.decode()
