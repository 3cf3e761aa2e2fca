"""A polish in two steps and a recorded run at a chosen speed, in a real browser over a real server and recorder."""

import re
from pathlib import Path

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from lapwright.sim.runs import GaugeTruth, RunTruth, simulated_run
from lapwright.testing.browsing import SIZES, complaints, page_of
from lapwright.testing.live_shop import CLOCK, furnish, recording
from lapwright.testing.served import served

pytestmark = [pytest.mark.browser]
RATE = 10e-6 / 60.0
LAP, POLISH = "AP-1-01", "AP-1-02"
THIN, THICK = "AP-1-03", "AP-1-04"  # 12 µm apart, on two places of one carrier


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """A wafer for the lap on L1, whose gauge the test chooses, one for the polish on P1, two for P2; the address."""
    folder = tmp_path_factory.mktemp("clock")
    furnish(folder / "data", {"L1": "tcp:127.0.0.1:9?unit=um", "P1": CLOCK, "P2": f"{CLOCK}:500,512"})
    gauge = GaugeTruth(noise=0.05e-6, resolution=1e-8)
    run = simulated_run(RunTruth(rate=RATE, duration=200.0), gauge, rng=np.random.default_rng(1))
    rows = "".join(f"{time:.3f},{length * 1e6:.3f}\n" for time, length in zip(run.time, run.length, strict=True))
    (folder / "run.csv").write_text("time_s,length_um\n" + rows, encoding="ascii")
    with recording(folder / "data"), served(folder / "data") as address:
        yield address, folder / "run.csv"


def weigh(page, mass):
    """Record a mass by the form of Countdown."""
    if not page.locator("[name=text]").is_visible():
        page.locator("#weigh summary").click()
    expect(page.locator("[name=text]")).to_be_visible()
    page.fill("[name=text]", mass)
    page.fill("[name=uncertainty]", "0.1 mg")
    page.click("text=Record the mass")
    expect(page.locator("body")).to_contain_text("The mass is recorded.")


def begin(page, minutes, said):
    """Start a run by the clock that lasts this long, and wait for what is said at its end."""
    page.locator("summary", has_text="Another time").click()
    expect(page.locator("[name=minutes]")).to_be_visible()
    page.fill("[name=minutes]", minutes)
    page.click("text=Start, and follow it")
    expect(page.locator("#after")).to_contain_text(said)
    expect(page.locator("#countdown")).to_have_attribute("data-run", "")


def test_a_polish_is_run_measured_and_finished_by_the_rate_it_showed(page, shop):
    """Weigh, first step, weigh again; the page then finishes by the rate just found, and says whose it is."""
    address, _ = shop
    with complaints(page) as heard:
        page.goto(f"{address}/stations/P1?wafer={POLISH}")
        expect(page.locator(".start-run")).to_contain_text("First of two steps")
        weigh(page, "20.1000 g")
        begin(page, "0.06", "The first of two steps is over")
        page.click("text=Measure and finish")
        expect(page.locator(".start-run")).to_contain_text("is not measured")
        expect(page.locator(".begin button")).to_be_disabled()
        weigh(page, "20.0990 g")
        expect(page.locator(".start-run")).to_contain_text("Finish in")
        expect(page.locator(".start-run")).to_contain_text("by weighing")
        begin(page, "0.05", "the time of 3 s is over")
        expect(page.locator("#after")).not_to_contain_text("first of two steps")
        assert heard == []


def test_two_pieces_of_one_carrier_share_the_load_and_stop_together(page, shop):
    """The thicker alone first, then both; started, stopped and weighed as one, and each is then to be measured."""
    address, _ = shop
    with complaints(page) as heard:
        page.goto(f"{address}/stations/P2?wafer={THIN}")
        page.get_by_label(THICK, exact=True).check()
        page.click("text=Work it out")
        expect(page.locator(".start-run h4").first).to_have_text("Who carries the load")
        rows = page.locator(".start-run table tbody tr")
        expect(rows).to_have_count(2)
        expect(rows.nth(0).locator("td").nth(1)).to_have_text(THICK)
        expect(rows.nth(0).locator("td").nth(2)).to_have_text(re.compile(r"^1[12]\.\d\d"))
        expect(rows.nth(1).locator("td").nth(1)).to_have_text(f"{THIN}, {THICK}")
        expect(page.locator(".start-run li", has_text="decides the stop")).to_have_count(1)
        assert Axe().run(page).response["violations"] == []
        weigh(page, "50.2000 g")
        expect(page.get_by_label(THICK, exact=True)).to_be_checked()
        begin(page, "0.05", "The first of two steps is over")
        for piece in (THIN, THICK):
            page.goto(f"{address}/stations/P2?wafer={piece}")
            expect(page.locator(".start-run")).to_contain_text("is not measured")
        assert heard == []


def test_a_recorded_run_is_chosen_on_the_page_and_played_at_its_speed(page, shop):
    """Two minutes of a recorded run at twenty times their speed: drawn, and stopped at their own time."""
    address, file = shop
    page.goto(f"{address}/stations/L1/gauge")
    page.fill("[name=source]", f"replay:{file}?speed=20")
    page.fill("[name=noise]", "0.05 µm")
    page.fill("[name=resolution]", "0.01 µm")
    page.click("text=Record the gauge")
    expect(page.locator("#countdown")).to_be_visible()
    page.goto(f"{address}/stations/L1?wafer={LAP}&jig=J1")
    for box in ("first", "second", "third"):
        page.fill(f"[name={box}]", "0 µm")
    page.click("text=Record the zero")
    page.locator("summary", has_text="Another removal").click()
    expect(page.locator("[name=preset]")).to_be_visible()
    page.fill("[name=preset]", "20 µm")
    expect(page.locator(".begin button")).to_be_enabled()
    page.click("text=Start, and follow it")
    expect(page.locator("#after")).to_contain_text("the target less a margin")
    expect(page.locator("#countdown")).to_have_attribute("data-run", "")
    expect(page.locator(".live-trace .readings")).to_be_attached()
    told = page.request.get(f"{address}/stations/L1/past").json()
    assert told["target_um"] == pytest.approx(20.0)
    assert told["points_s_um_um"][-1][0] == pytest.approx(120.0, abs=8.0)  # 20 µm at 10 µm/min, and the run-out
    with page.expect_download() as saved:
        page.click("text=Readings of the run as CSV")
    kept, played = (
        [f"{float(row.split(',')[1]):.3f}" for row in Path(path).read_text(encoding="utf-8").splitlines()[1:]]
        for path in (saved.value.path(), file)
    )
    assert len(kept) > 100
    assert " ".join(kept) in " ".join(played)


def test_sound_is_off_until_it_is_wanted(page, shop):
    """A switch that says what it is, by keyboard."""
    address, _ = shop
    page.goto(f"{address}/stations/P1")
    switch = page.locator("[data-sound]")
    expect(switch).to_have_attribute("aria-pressed", "false")
    switch.focus()
    expect(switch).to_be_focused()
    page.keyboard.press("Enter")
    expect(switch).to_have_attribute("aria-pressed", "true")
    expect(switch).to_have_text("Sound is on")
    page.keyboard.press("Enter")
    expect(switch).to_have_attribute("aria-pressed", "false")


def test_countdown_prints_its_numbers_and_no_buttons(page, shop):
    """On paper the buttons are gone, number, facts and caution stay, dark on white."""
    address, _ = shop
    page.goto(f"{address}/stations/P1")
    page.emulate_media(media="print")
    expect(page.locator("[data-field=number]")).to_be_visible()
    expect(page.locator(".caution-line")).to_be_visible()
    expect(page.locator("[data-sound]")).to_be_hidden()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") in (
        "rgb(255, 255, 255)",
        "rgba(0, 0, 0, 0)",
    )
    assert len(re.findall(rb"/Type\s*/Page\b", page.pdf())) <= 2


@pytest.mark.parametrize("size", SIZES, ids=["bench", "phone", "sideways"])
def test_the_forms_fit_every_screen_and_the_engine_finds_nothing(browser, shop, size):
    """The gauge of a station, and the start of a run by the clock."""
    address, _ = shop
    with page_of(browser, size=size) as page:
        for place in ("/stations/P1/gauge", f"/stations/L1?wafer={LAP}"):
            page.goto(f"{address}{place}")
            expect(page.locator("main")).to_be_visible()
            assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
            assert Axe().run(page).response["violations"] == []
