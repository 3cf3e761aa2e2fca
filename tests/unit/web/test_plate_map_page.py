"""The map of a plate: points in, section and map out, as page, drawing, table and JSON."""

import csv
import io
import json
import math

import pytest

from lapwright.app import plate_maps, plates
from lapwright.cli.main import exit_status
from lapwright.errors import BadInput, NotFound
from lapwright.formats.plate_points import read_points
from lapwright.model.plates import Plate

R = 0.15
DRAWN = 'tabindex="0" class="drawing'
PLATE = Plate(
    plate_id="P1", name="glass", inner_radius=0.04, outer_radius=R, ring_outer_radius=0.065, least_offset=0.08,
    most_offset=0.11, offset=0.095,
)  # fmt: skip
PLACES = [
    (radius * math.cos(turn), radius * math.sin(turn))
    for radius in (45.0, 95.0, 145.0)
    for turn in (number * math.tau / 8 for number in range(8))
]


def dome(x_mm, y_mm, height_um):
    """A spherical cap over the rim of the land, nearly a parabola [µm]."""
    return height_um * (1.0 - (x_mm**2 + y_mm**2) / 150.0**2)


def pasted(height_um=6.0):
    """A cap with level and tilt on it, in three columns."""
    rows = [f"{x:.4f}\t{y:.4f}\t{dome(x, y, height_um) + 3.0 + 0.02 * x - 0.01 * y:.6f}" for x, y in PLACES]
    return "\n".join(["x mm\ty mm\theight", "# made for a test", *rows])


@pytest.fixture
def plate(lot):
    """A plate never read."""
    plates.register_plate(PLATE, **lot.why())
    return lot


def test_a_planted_cap_comes_back_without_level_and_tilt(client, plate):
    """6 µm in, 6 µm out; every levelled height is the cap's; the map is drawn, and a section over the radius."""
    assert "never read" in client.get("/plates/P1/map").content.decode()
    assert client.post("/plates/P1/map", {"points": pasted()}).status_code == 302
    found = plate_maps.plate_map("P1", at=plate.now)
    assert found.shape.dome == pytest.approx(6e-6, abs=1e-11)
    assert max(abs(one.left) for one in found.points) < 1e-11
    for one, (x, y) in zip(found.points, PLACES, strict=True):
        assert one.height == pytest.approx(dome(x, y, 6e-6), abs=1e-11)
    page = client.get("/plates/P1/map").content.decode()
    assert page.count(DRAWN) == 2
    assert "6.0" in page


def test_section_and_points_can_be_taken_away(client, plate, capsys):
    """SVG stands alone; the table holds what the command gives, and so does the JSON."""
    client.post("/plates/P1/map", {"points": pasted()})
    for view in ("", "&view=map"):
        answer = client.get(f"/plates/P1/shape.svg?{view}")
        assert answer["Content-Type"] == "image/svg+xml"
        assert "attachment" in answer["Content-Disposition"]
        assert answer.content.startswith(b"<svg")
    lines = client.get("/plates/P1/shape.csv").content.decode().splitlines()
    table = list(csv.DictReader(io.StringIO("\n".join(line for line in lines if not line.startswith("#")))))
    told = client.get("/api/plates/P1/shape").json()["result"]
    assert [{name: float(value) for name, value in row.items()} for row in table] == [
        {name: float(value) for name, value in one.items()} for one in told["points"]
    ]
    exit_status(["plate", "map", "P1", "--data", str(_folder()), "--json"])
    assert told["points"] == json.loads(capsys.readouterr().out)["result"]["points"]
    for wrong in ("/plates/P1/shape.exe", "/plates/P1/shape.svg?check=999", "/plates/P1/map?check=x", "/plates/X/map"):
        assert client.get(wrong).status_code == 404
    assert plate_maps.plate_map("P1", at=plate.now).checks[0].method == "map"


def test_bars_are_levelled_laying_by_laying(client, plate):
    """Two layings, each tilted its own way: the section shows both on the cap; there is no map of them."""
    rows = [
        (place, laying, f"{dome(place, 0.0, -4.0) + tilt * place + laying:.6f}")
        for laying, tilt in ((0, 0.03), (1, -0.05))
        for place in (-145.0, -95.0, -45.0, 45.0, 95.0, 145.0)
    ]
    plates.record_check("P1", plates.CheckRequest(method="straightedge", rows=tuple(rows)), **plate.why())
    found = plate_maps.plate_map("P1", at=plate.now)
    assert found.shape.dome == pytest.approx(-4e-6, abs=1e-11)
    assert all(one.height == pytest.approx(dome(1e3 * one.x, 0.0, -4e-6), abs=1e-11) for one in found.points)
    page = client.get("/plates/P1/map").content.decode()
    assert "A bar tells the form along its line only" in page
    assert page.count(DRAWN) == 1


def test_rows_not_understood_are_all_named(client, plate):
    """Two columns, words, a place beside the plate, too few points: nothing is recorded."""
    answer = client.post("/plates/P1/map", {"points": "0\t0\t1\n10\t5\nhere\t0\t2\n"})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Row 2: found 2 columns" in page
    assert "Row 3" in page
    beside = client.post("/plates/P1/map", {"points": pasted() + "\n0\t151\t3"})
    assert "lie beside the plate" in beside.content.decode()
    assert client.post("/plates/P1/map", {"points": "0 0 1\n10 0 1\n0 10 1"}).status_code == 422
    assert client.post("/plates/P1/map", {"points": ""}).status_code == 422
    assert plate_maps.plate_map("P1", at=plate.now) is None
    with pytest.raises(NotFound):
        plate_maps.plate_map("P9", at=plate.now)


@pytest.mark.parametrize("text", ["1;2;3 µm", "1\t2\t3 µm", "1 2 3", "1,2,3", "1,0;2,0;3"])
def test_columns_lie_apart_as_spreadsheets_write_them(text):
    """Tabs, semicolons (with decimal commas), blanks, commas."""
    (row,) = read_points(text)
    assert (row[0], row[1], row[2][0]) == (1.0, 2.0, "3")


def test_too_many_points_are_refused():
    """One above the most."""
    with pytest.raises(BadInput, match="more than 5000"):
        read_points("0 0 1\n" * 5001)


def _folder():
    from lapwright.app.wiring import current_settings

    return current_settings().data
