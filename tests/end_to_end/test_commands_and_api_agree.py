"""The same question to a command and to the API has the same answer: result, warnings, and failures."""

import json
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest

from lapwright.cli.main import exit_status
from lapwright.testing.served import served

WAFER = """wafer,site,x_mm,y_mm,thickness_um,repeat
W1,C,0,0,500.2,1
W1,C,0,0,500.4,2
W1,E,40,0,501.1,1
W1,E,40,0,501.0,2
W1,N,0,40,500.6,1
W1,N,0,40,500.5,2
W1,W,-40,0,499.3,1
W1,W,-40,0,499.5,2
W1,S,0,-40,500.1,1
W1,S,0,-40,499.9,2
"""
CARRIER = "wafer,site,x_mm,y_mm,thickness_um\n" + "".join(
    f"K1,{site},{x},{y},{value}\n"
    for site, x, y, value in (
        ("C", 0, 0, 6000.0), ("E", 40, 0, 6000.4), ("N", 0, 40, 6000.1), ("W", -40, 0, 5999.6), ("S", 0, -40, 5999.9),
    )
)  # fmt: skip
STACK = "wafer,site,x_mm,y_mm,thickness_um\n" + "".join(
    f"W1,{site},{x},{y},{value}\n"
    for site, x, y, value in (
        ("C", 0, 0, 6508.3), ("E", 40, 0, 6510.6), ("N", 0, 40, 6508.9), ("W", -40, 0, 6506.2), ("S", 0, -40, 6507.7),
    )
)  # fmt: skip
ORDER = """order = "AP-2407"
customer = "Fennbach Filters"
quantity = 6

[piece]
material = "LiTaO3"
shape = "round"
diameter_mm = 50.8
mark = "flat"
flat_length_mm = 16

[incoming]
thickness_um = 500
ttv_um = 3

[finished]
thickness_um = 100

[[limit]]
quantity = "thickness"
lower_um = 98
upper_um = 102

[[limit]]
quantity = "ttv"
upper_um = 2

[judging]
edge_exclusion_mm = 2
hold = "free"
rule = "guarded"
false_accept_percent = 2
"""
GAUGE = {"gauge_limit_um": 1, "gauge_local_um": 0.3, "gauge_repeatability_um": 0.2}


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    """A real server."""
    with served(tmp_path_factory.mktemp("api") / "data") as address:
        yield address


@pytest.fixture
def folder(tmp_path):
    """The files that the commands read."""
    for name, text in (("readings.csv", WAFER), ("carrier.csv", CARRIER), ("stack.csv", STACK), ("order.toml", ORDER)):
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


@pytest.fixture
def command(folder, monkeypatch, capsys):
    """What a command answers with --json."""
    monkeypatch.chdir(folder)

    def ask(*arguments):
        exit_status([*arguments, "--json"])
        return json.loads(capsys.readouterr().out)

    return ask


def api(address, name, question):
    """What the API answers."""
    request = Request(f"{address}/api/{name}", json.dumps(question).encode(), {"Content-Type": "application/json"})
    try:
        with urlopen(request) as answer:
            return json.loads(answer.read())
    except HTTPError as refusal:
        return json.loads(refusal.read())


def options(question):
    """The fields of a question as options of a command."""
    return [part for name, value in question.items() for part in (f"--{name.replace('_', '-')}", str(value))]


def test_thickness(command, address):
    """`lapwright thickness` and /api/thickness."""
    question = {"diameter_mm": 100, "edge_exclusion_mm": 3, "hold": "free", **GAUGE}
    told = command("thickness", "readings.csv", *options(question))
    assert told["ok"]
    assert told["result"]["n_sites"] == 5
    assert told == api(address, "thickness", {"readings_csv": WAFER, **question})


def test_bond(command, address):
    """`lapwright bond` and /api/bond."""
    question = {"diameter_mm": 100, "wafer_turn_deg": 90, **GAUGE}
    files = ("--wafer", "readings.csv", "--carrier", "carrier.csv", "--stack", "stack.csv")
    told = command("bond", *files, *options(question))
    texts = {"wafer_csv": WAFER, "carrier_csv": CARRIER, "stack_csv": STACK}
    answered = api(address, "bond", {**texts, **question})
    assert told["ok"]
    assert told == answered


def test_jig(command, address):
    """`lapwright jig` and /api/jig, on the worked example: +2.1, −4.2, +2.1 µm."""
    question = {"wedge_um": 6, "azimuth_deg": 30, "wafer_diameter_mm": 100, "um_per_division": 2}
    told = command("jig", *options(question), "--adjuster-radius-mm", "70", "--adjuster-azimuths-deg", "90,210,330")
    answered = api(address, "jig", {**question, "adjuster_radius_mm": 70, "adjuster_azimuths_deg": [90, 210, 330]})
    assert [one["correction_um"] for one in told["result"]["adjusters"]] == pytest.approx([2.1, -4.2, 2.1])
    assert told == answered


def test_route(command, address):
    """`lapwright route` and /api/route: the same seed, the same alternatives."""
    question = {"seed": 7, "draws": 200, **GAUGE}
    told = command("route", "order.toml", *options(question))
    assert told["ok"]
    assert told == api(address, "route", {"order_toml": ORDER, **question})


def test_a_failure_has_the_same_shape(folder, command, address):
    """Too few sites: the same code, sentence and list of faults."""
    two = "\n".join(WAFER.splitlines()[:4]) + "\n"
    (folder / "readings.csv").write_text(two, encoding="utf-8")
    told = command("thickness", "readings.csv", "--diameter-mm", "100")
    assert told["code"] == "thickness.too_few_sites"
    assert told == api(address, "thickness", {"readings_csv": two, "diameter_mm": 100})


def test_an_unknown_field_is_refused(address):
    """A field that the API does not know is a fault, not ignored."""
    answered = api(address, "thickness", {"readings_csv": WAFER, "diameter_mm": 100, "diametre": 1})
    assert answered["code"] == "input.faults"
    assert answered["errors"][0]["field"] == "diametre"


@pytest.mark.parametrize("address_of", ["nowhere", "orders/nowhere"])
def test_what_is_not_there_is_answered_as_json(address, address_of):
    """An unknown address and an unknown order are answered in the one shape of failures, with status 404."""
    with pytest.raises(HTTPError) as refusal:
        urlopen(f"{address}/api/{address_of}")
    told = json.loads(refusal.value.read())
    assert refusal.value.code == 404
    assert told["ok"] is False
    assert {"code", "error", "errors"} <= set(told)
