"""The pages of gauges, studies and Drift, asked for without a browser."""

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from lapwright.app import gauge_care, gauge_studies, gauges, readings
from lapwright.model.gauge_care import CheckStandard, StudyRequest
from lapwright.model.readings import Calibration
from lapwright.testing.lot import GAUGE, Lot, flat

STUDY = StudyRequest(
    study_id="G1-S1", gauge_id="G1", parts=("W1", "W2"), operators=("ada", "ben"), repeats=2, seed=1, tolerance=4e-6
)


@pytest.fixture
def bench(records):  # noqa: ARG001  the database it writes to
    """A furnished shop of today."""
    lot = Lot(now=datetime.now(tz=UTC) - timedelta(hours=3))
    lot.furnish()
    lot.receive()
    return lot


def text(answer):
    """The page as text."""
    return answer.content.decode()


def test_a_gauge_is_never_judged_without_a_tolerance(bench, client):
    """Filed study without tolerance: levels only once one is named."""
    gauge_studies.plan_study(replace(STUDY, tolerance=None), **bench.why())
    for value in ("500.0", "501.0", "500.1", "501.1", "500.1", "501.0", "500.0", "501.1"):
        gauge_studies.record_study_reading("G1-S1", value, **bench.why())
    gauge_studies.file_study("G1-S1", **bench.why())
    plain, named = text(client.get("/gauges")), text(client.get("/gauges", {"tolerance": "40 µm"}))
    assert "inside a tolerance" not in plain
    assert "inside a tolerance of 40 µm" in named


def test_a_tolerance_without_unit_is_refused_beside_its_field(bench, client):  # noqa: ARG001  the shop
    """The list is still there."""
    answer = text(client.get("/gauges", {"tolerance": "4"}))
    assert 'class="fault"' in answer
    assert "G1" in answer


def test_a_failed_gauge_says_so_first(bench, client):
    """May I use it: no, and why."""
    gauges.register_gauge(replace(GAUGE, when_unfit="block"), **bench.why())
    day = bench.now.date()
    failed = Calibration(gauge_id="G1", certificate="K-2", done=day, due=day, deviation=3e-6,
                         expanded_uncertainty=1e-7, passed=False)  # fmt: skip
    gauges.record_calibration(failed, **bench.why())
    assert "takes no new sets" in text(client.get("/gauges/G1"))


def yesterday():
    """A day that has been, as a date field sends it."""
    return (datetime.now(tz=UTC) - timedelta(days=1)).date().isoformat()


def test_a_check_a_standard_a_calibration_and_a_policy_are_recorded(bench, client):  # noqa: ARG001  the shop
    """Each form, then what it left."""
    posts = (
        ("standard", {"standard_id": "R500", "name": "disc", "value": "500 µm", "expanded_uncertainty": "0.2 µm"}),
        ("check", {"standard": "R500", "value": "500.2"}),
        ("calibrate", {"certificate": "K-7", "done": yesterday(), "interval_days": "180", "as_found": "0.4 µm",
                       "deviation": "0.1 µm", "expanded_uncertainty": "0.2 µm", "passed": "yes",
                       "curve": "0 µm; 0 µm; 0.1 µm\n1 mm; 0.3 µm; 0.2 µm"}),
        ("policy", {"when_unfit": "block"}),
    )  # fmt: skip
    for deed, fields in posts:
        answer = client.post(f"/gauges/G1/do/{deed}", {f"{deed}-{name}": value for name, value in fields.items()})
        assert answer.status_code == 302, text(answer)
    assert gauge_care.list_checks("G1")[0].text == "500.2"
    latest = gauge_care.list_calibrations("G1")[0]
    assert (latest.certificate, latest.interval_days, len(latest.curve)) == ("K-7", 180, 2)
    assert gauges.show_gauge("G1", on=datetime.now(tz=UTC).date()).gauge.when_unfit == "block"


def test_every_fault_of_a_calibration_is_told_and_nothing_recorded(bench, client):  # noqa: ARG001  the shop
    """A length without unit, a curve line of two cells; the typed text stays."""
    fields = {"certificate": "", "done": yesterday(), "interval_days": "0", "deviation": "0.1", "passed": "yes",
              "expanded_uncertainty": "0.2 µm", "curve": "0 µm; 1 µm"}  # fmt: skip
    answer = client.post("/gauges/G1/do/calibrate", {f"calibrate-{name}": value for name, value in fields.items()})
    assert answer.status_code == 422
    assert "4 fields need another look" in text(answer)
    assert "0 µm; 1 µm" in text(answer)
    assert len(gauge_care.list_calibrations("G1")) == 1
    tomorrow = (datetime.now(tz=UTC) + timedelta(days=2)).date().isoformat()
    early = {"certificate": "K-8", "done": tomorrow, "interval_days": "90", "deviation": "0 µm", "passed": "yes",
             "expanded_uncertainty": "0.2 µm"}  # fmt: skip
    answer = client.post("/gauges/G1/do/calibrate", {f"calibrate-{name}": value for name, value in early.items()})
    assert answer.status_code == 422
    assert "is yet to come; today is" in text(answer)


def test_a_study_is_planned_typed_and_filed(bench, client):  # noqa: ARG001  the shop
    """From the form to the words; earlier values stay out of sight while it is read."""
    fields = {"study_id": "G1-S1", "parts": "W1, W2", "operators": "ada, ben", "repeats": "2", "seed": "1",
              "tolerance": "4 µm"}  # fmt: skip
    planned = client.post("/gauges/G1/do/plan", {f"plan-{name}": value for name, value in fields.items()})
    address = planned.headers["Location"]
    for number in range(8):
        page = text(client.get(address))
        assert f"{number} of 8 lines" in page
        assert "What it says" not in page
        client.post(address, {"value": f"500.{number % 3}", "line": str(number + 1), "seen": str(number)})
    assert "File the study" in text(client.get(address))
    client.post(f"{address}/end")
    page = text(client.get(address))
    assert "Filed" in page
    assert "inside a tolerance of 4 µm" in page
    assert gauge_studies.show_study("G1-S1").state == "filed"


def test_a_value_sent_twice_is_recorded_once(bench, client):
    """The page that was made before the first one is told so."""
    gauge_studies.plan_study(STUDY, **bench.why())
    for _again in range(2):
        answer = client.post("/gauges/G1/studies/G1-S1", {"value": "500", "line": "1", "seen": "0"})
    assert answer.status_code == 422
    assert len(gauge_studies.show_study("G1-S1").readings) == 1


@pytest.mark.parametrize("value", ["", "heavy", "-"])
def test_a_value_that_is_no_length_is_refused(bench, client, value):
    """Nothing recorded, the sentence beside the box."""
    gauge_studies.plan_study(STUDY, **bench.why())
    answer = client.post("/gauges/G1/studies/G1-S1", {"value": value, "line": "1", "seen": "0"})
    assert answer.status_code == 422
    assert 'role="alert"' in text(answer)


def test_the_sheet_lists_every_line(bench, client):
    """Eight lines to write on, and the seed."""
    gauge_studies.plan_study(STUDY, **bench.why())
    page = text(client.get("/gauges/G1/studies/G1-S1/sheet"))
    assert page.count('class="blank"') == 8
    assert "seed 1" in page


def test_what_is_not_there_is_not_found(bench, client):
    """An unknown gauge, study, deed, and a study of another gauge."""
    gauge_studies.plan_study(STUDY, **bench.why())
    gauges.register_gauge(replace(GAUGE, gauge_id="G2"), **bench.why())
    for address in ("/gauges/G9", "/gauges/G1/studies/none", "/gauges/G2/studies/G1-S1"):
        assert client.get(address).status_code == 404
    assert client.post("/gauges/G1/do/melt").status_code == 404


def test_drift_says_when_there_is_nothing(bench, client):  # noqa: ARG001  the shop
    """An empty page is a sentence."""
    assert "Nothing to draw yet" in text(client.get("/drift"))


def test_drift_tells_a_moved_standard_in_words_with_its_event(bench, client):
    """Ten readings, then 2 µm more after a calibration: the signal, a cause, and the calibration as a letter."""
    standard = CheckStandard(standard_id="R500", name="disc", value=500e-6)
    gauge_care.register_standard(standard, **bench.why())
    bench.now -= timedelta(days=20)
    for number in range(10):
        gauge_care.record_check("G1", "R500", f"{500.0 + 0.1 * (number % 3):.1f}", **bench.why())
    bench.now += timedelta(days=20)
    gauge_care.record_check("G1", "R500", "502.0", **bench.why())
    page = text(client.get("/drift"))
    assert "Point 11 lies above the limit" in page
    assert "Dirt on gauge or standard" in page
    assert "gauge G1 calibrated (K-1)" in page
    assert "on average, when nothing changes" in page
    assert "weighted average" in text(client.get("/drift", {"kind": "ewma"}))


def test_a_flagged_set_says_so_on_its_page(bench, client):
    """The sentence of the flag stands on the sheet."""
    day = bench.now.date()
    failed = Calibration(gauge_id="G1", certificate="K-2", done=day, due=day, deviation=3e-6,
                         expanded_uncertainty=1e-7, passed=False)  # fmt: skip
    gauges.record_calibration(failed, **bench.why())
    taken = bench.read("AP-1-01", "wafer", "incoming", flat(500e-6))
    assert "Flagged" in text(client.get(f"/orders/AP-1/readings/{taken.set_id}"))


def test_the_due_date_by_drift_stands_beside_the_recorded_one(bench, client):
    """0.5 µm a year, limit 1 µm, due far off: a day sooner than recorded, and why; the record keeps its date."""
    gauges.register_gauge(replace(GAUGE, gauge_id="G2", limit=1e-6), **bench.why())
    last = bench.now.date()
    for number, found in enumerate((0.01e-6, 0.23e-6, 0.51e-6, 0.74e-6)):
        done = last - timedelta(days=183 * (3 - number))
        recorded = Calibration(gauge_id="G2", certificate=f"C-{number}", done=done, due=last + timedelta(days=365),
                               deviation=found, expanded_uncertainty=1e-7, as_found=found)  # fmt: skip
        gauges.record_calibration(recorded, **bench.why())
    page = text(client.get("/gauges/G2"))
    assert "sooner than recorded. The recorded date stays" in page
    assert "by its drift" in text(client.get("/gauges"))
    assert gauges.show_gauge("G2", on=last).calibration.due == last + timedelta(days=365)


def test_a_closed_set_takes_its_uncertainty_apart(bench, client):
    """Each budget has its largest line first; a limit of 0.5 µm adds 0.5/√3 = 0.289 µm to a mean, nothing to TTV."""
    recorded = bench.read("AP-1-01", "wafer", "incoming", lambda x, _y: 5e-4 + 1e-4 * x)
    page = text(client.get(f"/orders/AP-1/readings/{recorded.set_id}"))
    tables = re.findall(r'<table class="budget">.*?</table>', page, re.DOTALL)
    names = [re.findall(r'<th scope="row">(.*?)</th>', one) for one in tables]
    assert names[0][0] == "accuracy limit of the gauge"
    assert "0.289" in tables[0]
    assert all("accuracy limit of the gauge" not in one for one in names[1:])
    for one in tables:
        bars = [float(width) for width in re.findall(r'class="bar" width="([\d.]+)"', one)]
        assert bars == sorted(bars, reverse=True)
        assert sum(bars) == pytest.approx(100.0, abs=0.3)
    assert page.count("To improve first:") == len(tables) == 3


@pytest.mark.parametrize("contact", [True, False])
def test_a_closed_set_says_what_its_budgets_leave_out(records, client, monkeypatch, contact):  # noqa: ARG001
    """Temperature and lift always, the probe where one touches; with the way to where they are counted."""
    monkeypatch.setattr("lapwright.testing.lot.GAUGE", replace(GAUGE, contact=contact))
    lot = Lot(now=datetime.now(tz=UTC) - timedelta(hours=3))
    lot.furnish()
    lot.receive()
    recorded = lot.read("AP-1-01", "wafer", "incoming", flat(500e-6))
    page = text(client.get(f"/orders/AP-1/readings/{recorded.set_id}"))
    left_out = page.split('id="not-counted"')[1].partition("</p>")[0]
    assert "temperature" in left_out
    assert "lift of a bowed piece" in left_out
    assert ("sinking of the probe" in left_out) is contact
    assert 'href="/gauges/G1#piece"' in left_out


def test_an_open_set_shows_no_budgets_yet(bench, client):
    """The eye is on the next site."""
    opened = readings.open_set(bench.request("AP-1-01", "wafer", "incoming"), **bench.why())
    assert 'id="why"' not in text(client.get(f"/orders/AP-1/readings/{opened.set_id}"))


def carrier_read_with(bench, gauge_id, offset):
    """C1 read at nine sites with a gauge that reads so much more than is true [m]."""
    request = replace(bench.request("C1", "carrier", "carrier"), gauge_id=gauge_id)
    opened = readings.open_set(request, **bench.why())
    readings.record_zero(opened.set_id, "0.0", when="before", **bench.why())
    for _ in range(2):
        for i in range(9):
            value = 6000.0 + 0.1 * i + offset * 1e6
            readings.record_reading(opened.set_id, f"{value:.3f}", confirmed=True, **bench.why())
    readings.record_zero(opened.set_id, "0.0", when="after", **bench.why())
    return readings.close_set(opened.set_id, **bench.why()).set_id


@pytest.mark.parametrize(("offset", "word"), [(0.3e-6, "They agree"), (2.4e-6, "They do not agree")])
def test_two_gauges_on_one_piece_are_compared(bench, client, offset, word):
    """The offset planted is found; limits of 0.5 µm each allow 2 √2 · 0.5/√3 = 0.816 µm."""
    gauges.register_gauge(replace(GAUGE, gauge_id="G2", name="other"), **bench.why())
    first, second = carrier_read_with(bench, "G1", 0.0), carrier_read_with(bench, "G2", offset)
    sentence = f"G1 reads {offset * 1e6:.2f}\u00a0µm less than G2 on C1."
    assert sentence in text(client.get("/gauges/G1"))
    page = text(client.get(f"/gauges/G1/pairs/{first}/{second}"))
    assert word in page
    assert "± 0.82\u00a0µm" in page
    assert sentence.replace("less", "more").replace("G1", "Gx").replace("G2", "G1").replace("Gx", "G2") in text(
        client.get(f"/gauges/G2/pairs/{second}/{first}")
    )


def test_sets_that_are_no_pair_are_told_apart_from_gauges(bench, client):
    """One gauge twice, or a set that is not there, is no comparison."""
    first = carrier_read_with(bench, "G1", 0.0)
    answer = client.get(f"/gauges/G1/pairs/{first}/{first}")
    assert answer.status_code == 409
    assert "cannot be compared as gauges" in text(answer)


PIECE = {"material": "LiTaO3", "thickness": "500 µm", "repeats": "1"}


def test_one_reading_of_a_certain_piece_is_taken_apart(bench, client):  # noqa: ARG001  the shop
    """16.1e-6/K or so · 500 µm · 2 K/√3 is below 0.01 µm; a lift of 3 µm adds 3/√3 = 1.732 µm and leads."""
    page = text(client.get("/gauges/G1", {**PIECE, "warmth": "2 K", "bow_lift": "3 µm"}))
    (table,) = re.findall(r'<table class="budget">.*?</table>', page, re.DOTALL)
    rows = re.findall(r'<th scope="row">(.*?)</th><td class="num">([\d.]+)', table)
    assert rows[0] == ("lift of a bowed piece", "1.732")
    found = {name: float(adds) for name, adds in rows}
    assert 0.0 < found["temperature"] < 0.02
    assert found["together"] == pytest.approx(sum(one**2 for name, one in found.items() if name != "together") ** 0.5,
                                              abs=0.002)  # fmt: skip


def test_a_probe_sinks_as_hertz_says(bench, client):  # noqa: ARG001  the shop
    """Hertz 1881: twice the force sinks 2^(2/3) = 1.587 times as deep."""
    sunk = []
    for force in ("2 N", "4 N"):
        page = text(client.get("/gauges/G1", {**PIECE, "force": force, "tip_radius": "1 mm"}))
        sunk.append(float(re.search(r'sinking of the probe</th><td class="num">([\d.]+)', page)[1]))
    assert sunk[1] / sunk[0] == pytest.approx(2.0 ** (2.0 / 3.0), abs=0.01)


@pytest.mark.parametrize(
    ("field", "typed", "told"),
    [("thickness", "-5 µm", "has no sign"), ("force", "2 N", "or neither"), ("warmth", "2 µm", "2 µm")],
)
def test_a_piece_typed_wrong_is_refused_beside_its_field(bench, client, field, typed, told):  # noqa: ARG001  the shop
    """The rest of the page is still there."""
    page = text(client.get("/gauges/G1", {**PIECE, field: typed}))
    assert 'class="fault"' in page
    assert told in page
    assert 'class="budget"' not in page
