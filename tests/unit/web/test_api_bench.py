"""The JSON beside Bond line, Tilt and Damage, and of the bonding model."""

import json

import pytest

from lapwright.testing.live import ready_lot
from lapwright.testing.lot import ORDER

WAFER = f"{ORDER.order_id}-01"
AT = f"/api/orders/{ORDER.order_id}/wafers/{WAFER}"
PRESS = {"load_n": 100, "radius_mm": 50, "start_um": 50, "time_s": 3092.505}


def ask(client, question):
    """The model asked; status and answer."""
    answer = client.post("/api/bond/model", json.dumps(question), content_type="application/json")
    return answer.status_code, answer.json()


def test_the_model_answers_as_the_command_does(client, capsys):
    """The same line for the same press; a press without viscosity is a fault."""
    from lapwright.cli.main import exit_status

    options = [word for name, value in PRESS.items() for word in (f"--{name.replace('_', '-')}", str(value))]
    assert exit_status(["bond", "--model", *options, "--viscosity-pa-s", "10", "--json"]) == 0
    assert ask(client, {**PRESS, "viscosity_pa_s": 10}) == (200, json.loads(capsys.readouterr().out))
    status, found = ask(client, PRESS)
    assert (status, found["code"]) == (422, "input.faults")


def test_the_three_pages_as_json(records, client):
    """Of a wafer bonded and ready; of one that is not there."""
    ready_lot(records)
    bond = client.get(f"{AT}/bond").json()["result"]
    assert bond["bond"]["mean_um"] == pytest.approx(4.0, abs=0.3)
    assert len(bond["ways"]) == 3
    tilt = client.get(f"{AT}/tilt").json()["result"]
    assert (tilt["jig"], tilt["clockwise_brings_near"]) == ("J1", None)
    damage = client.get(f"{AT}/damage").json()["result"]
    assert damage["stages"]
    assert damage["polish_low_s"] <= damage["polish_high_s"] <= damage["polish_s"] * 1.01
    for name in ("bond", "tilt", "damage"):
        missing = client.get(f"/api/orders/{ORDER.order_id}/wafers/W9/{name}")
        assert (missing.status_code, missing.json()["ok"]) == (404, False)
