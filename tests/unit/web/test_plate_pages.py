"""The pages of plates, asked for without a browser."""

from datetime import UTC, datetime, timedelta

import pytest

from lapwright.app import plates
from lapwright.testing.lot import Lot

PLATE = {
    "plate_id": "L2-glass", "name": "glass, 300 mm", "inner_radius": "40 mm", "outer_radius": "150 mm",
    "ring_outer_radius": "65 mm", "ring_inner_radius": "0 mm", "least_offset": "85 mm", "most_offset": "112 mm",
    "offset": "105 mm", "dome_limit": "8 µm", "check_every_h": "8", "reading_uncertainty": "0.5 µm",
}  # fmt: skip
PLACES = "-145 -95 -45 45 95 145"


@pytest.fixture
def bench(records):  # noqa: ARG001  the database it writes to
    """A furnished shop of today."""
    lot = Lot(now=datetime.now(tz=UTC) - timedelta(hours=3))
    lot.furnish()
    return lot


@pytest.fixture
def plate(bench, client):
    """The glass plate, recorded by the form."""
    assert client.post("/plates", PLATE).status_code == 302
    return bench


def text(answer):
    """The page as text."""
    return answer.content.decode()


def send_bar(client, dome_um, ran="0", laying=0, **boxes):
    """The boxes along the bar filled with what a dial says of a cap, and sent."""
    places = [float(place) for place in PLACES.split()]
    filled = {f"check-v{laying}_{i}": f"{-dome_um * (x / 150) ** 2:.2f}" for i, x in enumerate(places)}
    sent = {"check-places": PLACES, "check-ran_min": ran, **filled, **boxes}
    return client.post("/plates/L2-glass/do/check", sent)


def shown(plate_id="L2-glass"):
    """How the plate stands now."""
    return plates.show_plate(plate_id, at=datetime.now(tz=UTC))


def test_no_plate_is_an_invitation(bench, client):  # noqa: ARG001  the shop
    """The page says what to do."""
    assert "Record one below" in text(client.get("/plates"))


def test_a_plate_is_recorded_by_its_form_and_then_due(plate, client):  # noqa: ARG001  the plate
    """Lengths with units; never read, so due, and the boxes stand open."""
    page = text(client.get("/plates/L2-glass"))

    assert shown().plate.ring_outer_radius == pytest.approx(0.065)
    assert "never read" in page
    assert '<details class="deed" id="check" open>' in page
    assert "at \u2212146 mm" not in page
    assert "L2-glass" in text(client.get("/plates"))


def test_a_reading_that_is_none_is_named_by_its_place_on_the_bar(plate, client):  # noqa: ARG001  the plate
    """Its box says so, the others keep what was typed; a plate without words is called by its short name, once."""
    page = text(send_bar(client, 5.0, **{"check-v0_3": "abc"}))
    assert '<a href="#id_check-v0_3">at 45 mm</a>: Reading 4: ' in page
    assert 'value="abc"' in page
    assert 'aria-invalid="true"' in page
    assert client.post("/plates", PLATE | {"plate_id": "P9", "name": ""}).status_code == 302
    assert "<h1>P9 </h1>" in text(client.get("/plates/P9"))


def test_faults_of_a_plate_come_back_at_once_and_nothing_is_recorded(bench, client):  # noqa: ARG001  the shop
    """A ring beyond its scale, and a limit of nothing."""
    answer = client.post("/plates", PLATE | {"offset": "200 mm", "dome_limit": "0 µm"})

    assert answer.status_code == 422
    assert "between its nearest and its farthest place" in text(answer)
    assert "limit of the dome must be more than zero" in text(answer)
    assert plates.list_plates(at=datetime.now(tz=UTC)) == ()


def test_boxes_along_the_bar_are_a_check(plate, client):  # noqa: ARG001  the plate
    """Three checks, 3 µm an hour: the shape, the growth and the advice stand on the page."""
    for dome, ran in ((0.0, "0"), (6.0, "120"), (12.0, "120")):
        assert send_bar(client, dome, ran).status_code == 302
    page = text(client.get("/plates/L2-glass"))

    assert "domed by 12.0" in page
    assert "+3.0 µm an hour" in page
    assert "beyond its limit of 8.0 µm" in page
    assert "inward" in page
    assert page.count("<svg") >= 2
    assert "at \u221295 mm" in page  # the places of the last check are offered again


def test_an_empty_box_was_not_read(plate, client):  # noqa: ARG001  the plate
    """Five of six."""
    send_bar(client, 6.0, **{"check-v0_2": ""})

    assert shown().last_check.shape.readings == 5


def test_the_bar_may_be_laid_twice(plate, client):  # noqa: ARG001  the plate
    """Twelve readings, each laying with a level of its own."""
    second = {f"check-v1_{i}": f"{40 - 6.0 * (x / 150) ** 2:.2f}" for i, x in enumerate((-145, -95, -45, 45, 95, 145))}
    send_bar(client, 6.0, **second)

    assert shown().last_check.shape.readings == 12
    assert shown().trend.dome == pytest.approx(6e-6, abs=2e-8)


@pytest.mark.parametrize(
    ("boxes", "said"),
    [({"check-v0_1": "abc"}, "Reading 2"), ({f"check-v0_{i}": "" for i in range(6)}, "No reading was typed"),
     ({f"check-v0_{i}": "" for i in range(4)}, "2")],
)  # fmt: skip
def test_bad_boxes_come_back_with_what_was_typed(plate, client, boxes, said):  # noqa: ARG001  the plate
    """No number; nothing; too few to tell a dome."""
    answer = send_bar(client, 6.0, **boxes)

    assert answer.status_code == 422
    assert said in text(answer)
    assert shown().lines == ()


def test_the_running_time_must_be_told_without_a_station(plate, client):  # noqa: ARG001  the plate
    """The second check asks for it beside its field."""
    send_bar(client, 1.0)
    answer = send_bar(client, 2.0, ran="")

    assert answer.status_code == 422
    assert "how long the plate ran" in text(answer)


def test_a_wafer_tells_the_plate_and_the_ring_is_moved(plate, client):  # noqa: ARG001  the plate
    """A dished wafer of 100 mm, -1 µm: a plate domed by 9 µm; then the ring to 95 mm, then dressed."""
    told = {"sagitta-method": "wafer", "sagitta-size": "100 mm", "sagitta-value": "-1", "sagitta-ran_min": "0"}
    assert client.post("/plates/L2-glass/do/sagitta", told).status_code == 302
    assert shown().trend.dome == pytest.approx(9e-6)
    assert client.post("/plates/L2-glass/do/ring", {"ring-offset": "95 mm", "ring-ran_min": "30"}).status_code == 302
    assert shown().offset == pytest.approx(0.095)
    assert client.post("/plates/L2-glass/do/ring", {"ring-offset": "300 mm", "ring-ran_min": "0"}).status_code == 422
    assert client.post("/plates/L2-glass/do/dressed", {"dressed-ran_min": "10"}).status_code == 302
    assert "dressed since the last check" in text(client.get("/plates/L2-glass"))


def test_what_is_not_there_is_told(plate, client):  # noqa: ARG001  the plate
    """An unknown plate, an unknown deed, broken places."""
    assert client.get("/plates/nobody").status_code == 404
    assert client.post("/plates/L2-glass/do/bend", {}).status_code == 404
    assert client.get("/plates/L2-glass/do/check").status_code == 405
    assert client.post("/plates/L2-glass/do/check", {"check-places": "x y"}).status_code == 422


@pytest.mark.parametrize(
    "wrong",
    [
        {"plate_id": "../x"},
        {"outer_radius": "1000 m", "most_offset": "900 m"},
        {"offset": "nan mm"},
        {"inner_radius": "-1 mm"},
    ],
)
def test_plates_beyond_all_measure_are_refused(bench, client, wrong):  # noqa: ARG001  the shop
    """A path for a name, a kilometre of plate, no number, a negative radius."""
    assert client.post("/plates", PLATE | wrong).status_code == 422
    assert plates.list_plates(at=datetime.now(tz=UTC)) == ()


@pytest.mark.parametrize("box", ["1e300", "inf", "nan", "11 mm", "<script>"])
def test_no_dial_reaches_so_far(plate, client, box):  # noqa: ARG001  the plate
    """Nothing is recorded of it."""
    assert send_bar(client, 6.0, **{"check-v0_0": box}).status_code == 422
    assert shown().lines == ()
