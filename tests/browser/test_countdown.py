"""Countdown in a real browser over a real server, a real recorder and gauges that send: what falls, what breaks."""

import os
import re
import signal
import time
from contextlib import contextmanager
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from lapwright.testing.browsing import SIZES, complaints, page_of
from lapwright.testing.live_shop import SendingGauge, furnish, recording
from lapwright.testing.served import free_port, served

pytestmark = [pytest.mark.browser]
STATIONS = ("L1", "L2", "L3", "L4")
LONG = "L3"  # where one long run goes on, which many tests look at; those that end a run have the other stations
RATE = 10e-6 / 60.0
MM = 96.0 / 25.4  # CSS pixels


class Shop:
    """The gauges by station, the address of the pages, the recorder's process, the data folder."""

    def __init__(self, gauges, address, recorder, data):
        self.gauges, self.address, self.recorder, self.data = gauges, address, recorder, data

    def open(self, page, station):
        """Countdown of a station, connected."""
        page.goto(f"{self.address}/stations/{station}")
        return page.locator("#countdown")

    def begin(self, page, station, preset="40 µm"):
        """Zero and start a run of the station's wafer by the form; its gauge then grows."""
        gauge = self.gauges[station]
        gauge.rate, gauge.is_mute, gauge.is_frozen = 0.0, False, False
        countdown = self.open(page, station)
        if countdown.get_attribute("data-run"):
            page.click("text=Stop now")
            expect(countdown).to_have_attribute("data-run", "", timeout=15_000)
        page.goto(f"{self.address}/stations/{station}?wafer=AP-1-0{STATIONS.index(station) + 1}")
        summary = page.locator("summary", has_text="Take the zero")
        if not page.locator("[data-take]").is_visible():
            summary.click()
        expect(page.locator("[data-take]")).to_contain_text("µm")
        for _ in range(3):
            page.click("[data-take]")
        page.click("text=Record the zero")
        page.click("summary:has-text('Another removal')")
        page.fill("[name=preset]", preset)
        page.click("text=Start, and follow it")
        countdown = page.locator("#countdown")
        expect(countdown).not_to_have_attribute("data-run", "")
        expect(page.locator("[data-field=unit]")).to_have_text("µm left")  # the recorder has heard where it began
        gauge.rate = RATE
        return countdown

    def running(self, page, station):
        """Countdown of a station on which a run is far from its end; one is started where there is none."""
        countdown = self.open(page, station)
        if countdown.get_attribute("data-run") and countdown.get_attribute("data-shape") == "calm":
            expect(page.locator("[data-field=unit]")).to_have_text("µm left")
            if left_of(page) > 20.0:
                return countdown
        return self.begin(page, station)


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """Four stations with a wafer each; the gauges belong to the tests."""
    data = tmp_path_factory.mktemp("live") / "data"
    with contextmanager(_gauges)() as gauges:
        furnish(data, {station: gauge.address for station, gauge in gauges.items()})
        with recording(data) as recorder, served(data) as address:
            yield Shop(gauges, address, recorder, data)


def _gauges():
    gauges = {station: SendingGauge() for station in STATIONS}
    for gauge in gauges.values():
        gauge.__enter__()
    yield gauges
    for gauge in gauges.values():
        gauge.__exit__()


def saved_while_it_runs(page, countdown):
    """The drawing with the band of its end, saved by keys in three forms while it is drawn anew; its numbers by row."""
    drawing = countdown.locator("svg.live-trace")
    expect(drawing.locator("desc")).to_contain_text("9 of 10")
    drawing.focus()
    page.keyboard.press("Tab")
    expect(countdown.locator("details.save summary")).to_be_focused()
    page.keyboard.press("Enter")
    files = {}
    for kind in ("SVG", "PNG", "CSV"):
        with page.expect_download() as saved:
            countdown.get_by_role("button", name=kind).click()
        files[kind] = Path(saved.value.path()).read_bytes()
    assert b'stroke-linejoin="round"' in files["SVG"]  # it looks like itself without the page's style
    assert files["PNG"].startswith(b"\x89PNG")
    page.keyboard.press("Shift+Tab")
    return files["CSV"].decode().splitlines()


def left_of(page):
    """The number on the page, in µm."""
    return float(page.locator("[data-field=number]").inner_text().replace("\u2212", "-"))


def test_the_number_falls_and_is_read_across_the_room(page, shop):
    """It falls as the gauge grows; digits at least 30 mm high; caution and stop in sight at 1024x768; no complaint."""
    with complaints(page) as heard:
        countdown = shop.running(page, LONG)
        first, length = left_of(page), shop.gauges[LONG].length
        page.wait_for_function(
            "first => parseFloat(document.querySelector('[data-field=number]').innerText) < first - 0.5", arg=first
        )
        grown = (shop.gauges[LONG].length - length) * 1e6
        assert 0.5 < first - left_of(page) < grown + 0.5  # what is shown is at most some seconds old
        expect(page.locator("[data-field=state]")).to_have_text("running")
        assert re.search(r"\d\d:\d\d", page.locator("[data-field=finish]").inner_text())
        expect(countdown.locator(".live-trace .readings")).to_be_attached()
        height = page.evaluate(
            """() => {
              const style = getComputedStyle(document.querySelector("[data-field=number]"));
              const pen = document.createElement("canvas").getContext("2d");
              pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
              return pen.measureText("8").actualBoundingBoxAscent;
            }"""
        )
        assert height >= 30.0 * MM
        for sight in (".caution-line", ".stop"):
            box = page.locator(sight).bounding_box()
            assert box["y"] + box["height"] <= SIZES[0][1]
        numbers = saved_while_it_runs(page, countdown)
        assert numbers[0] == "line,time_s,removed_low_um,removed_high_um"
        assert {row.split(",")[0] for row in numbers[1:]} == {
            "readings", "estimate", "stop_earliest", "stop_latest", "target", "stop",
        }  # fmt: skip
        assert heard == []


def test_stop_by_keyboard_ends_the_run_and_the_next_needs_a_zero_that_holds(page, shop):
    """The stop button takes the focus and Enter; the run ends as asked, and the page offers the next start.

    Without a zero that start is named as missing, and the button cannot be pressed.
    """
    countdown = shop.begin(page, "L4")
    page.locator(".stop").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#countdown")).to_have_attribute("data-run", "", timeout=15_000)
    expect(page.locator("#after")).to_contain_text("Stopped by local")
    expect(page.locator("#after")).to_contain_text("take the zero again")
    assert countdown.get_attribute("data-shape") == "calm"
    page.goto(f"{shop.address}/stations/L4?wafer=AP-1-04")
    expect(page.locator(".checks .missing")).to_contain_text(["None holds"])
    expect(page.locator("text=Start, and follow it")).to_be_disabled()


def test_a_mute_gauge_fills_the_screen_with_its_sentence(page, shop):
    """The number goes before the recorder stops at 5 s; then the fault stays with what to do, in another shape."""
    countdown = shop.begin(page, "L2")
    expect(page.locator("[data-field=unit]")).to_have_text("µm left")
    columns = "getComputedStyle(document.getElementById('countdown')).gridTemplateAreas"
    calm = page.evaluate(columns)
    shop.gauges["L2"].is_mute = True
    expect(countdown).to_have_attribute("data-shape", "wrong", timeout=15_000)
    expect(page.locator(".digits")).not_to_be_visible()
    assert page.evaluate(columns) != calm
    expect(countdown).to_have_attribute("data-run", "", timeout=20_000)
    expect(countdown).to_have_attribute("data-shape", "wrong")
    expect(page.locator("[data-field=state]")).to_have_text("stopped by a fault")
    expect(page.locator("[data-field=alarm]")).to_contain_text("s")
    assert "gauge" in page.locator("[data-field=alarm]").inner_text().lower()
    for dark in (False, True):
        page.emulate_media(color_scheme="dark" if dark else "light")
        assert [one["id"] for one in Axe().run(page).response["violations"]] == []


def test_the_target_ends_the_run_by_itself(page, shop):
    """1.5 µm at 10 µm/min: the stop is asked before the target, and the page says so without being touched."""
    countdown = shop.begin(page, "L1", preset="1.5 µm")
    expect(countdown).to_have_attribute("data-shape", "ending", timeout=30_000)
    shop.gauges["L1"].rate = 0.0
    expect(countdown).to_have_attribute("data-run", "", timeout=15_000)
    expect(page.locator("#after")).to_contain_text("the target less a margin")
    expect(page.locator("#after")).to_contain_text("Rinse and read the stack")


def test_a_frozen_recorder_leaves_no_number(page, shop):
    """While the recorder's process stands still the number is a word; when it goes on, the number is back."""
    countdown = shop.running(page, LONG)
    os.kill(shop.recorder.pid, signal.SIGSTOP)
    try:
        expect(countdown).to_have_attribute("data-shape", "wrong")
        expect(page.locator("[data-field=unit]")).to_have_text("")
    finally:
        os.kill(shop.recorder.pid, signal.SIGCONT)
    expect(page.locator("[data-field=connection]")).to_have_text("")


def test_four_stations_are_told_five_times_a_second_over_one_socket(page, shop):
    """Every station is in five messages of one second; the list is open on one socket.

    Waited for, since a busy machine has slow seconds between.
    """
    told, sockets = {station: [] for station in STATIONS}, []

    def hear(socket):
        sockets.append(socket.url)
        socket.on("framereceived", lambda text: [
            stamps.append(time.monotonic()) for station, stamps in told.items() if f'"station": "{station}"' in str(text)
        ])  # fmt: skip

    page.on("websocket", hear)
    page.goto(f"{shop.address}/stations")
    patience = time.monotonic() + 60.0
    while min(most_in_a_second(stamps) for stamps in told.values()) < 5 and time.monotonic() < patience:
        page.wait_for_timeout(200)
    assert len(sockets) == 1
    assert min(most_in_a_second(stamps) for stamps in told.values()) >= 5


def most_in_a_second(stamps):
    """How many of these moments fall into one second at most."""
    return max((sum(begin <= stamp < begin + 1.0 for stamp in stamps) for begin in stamps), default=0)


def test_hands_shows_what_runs_below_what_waits(page, shop):
    """A run under the recorder waits for nobody: it stands below in grey, with the time left, and leads to Countdown."""
    shop.running(page, LONG)
    page.goto(shop.address)
    line = page.locator(".running a", has_text=LONG)
    expect(line).to_contain_text("min left")
    assert page.locator(".hands", has_text="record the end").count() == 0
    line.click()
    page.wait_for_url(f"**/stations/{LONG}")


def test_without_script_the_page_refreshes_itself(browser, page, shop):
    """The number comes with the page, and the page asks to be fetched again."""
    shop.running(page, LONG)
    with page_of(browser, script=False) as plain:
        plain.goto(f"{shop.address}/stations/{LONG}")
        assert left_of(plain) > 0.0
        assert plain.locator("noscript meta[http-equiv=refresh], meta[http-equiv=refresh]").count() == 1
        expect(plain.locator("svg").last).to_be_attached()


def test_number_stop_and_caution_are_in_sight_on_every_screen(browser, page, shop):
    """On a bench screen, a phone upright and one held sideways, nothing of the three needs scrolling, nothing overlaps."""
    shop.running(page, LONG)
    for size in SIZES:
        with page_of(browser, size=size) as other:
            shop.open(other, LONG)
            expect(other.locator("[data-field=unit]")).to_have_text("µm left")
            boxes = [other.locator(place).bounding_box() for place in (".digits", ".stop", ".caution-line")]
            assert all(box["y"] + box["height"] <= size[1] and box["x"] + box["width"] <= size[0] for box in boxes)
            assert boxes[1]["y"] + boxes[1]["height"] <= boxes[2]["y"]
            assert other.evaluate("document.documentElement.scrollWidth") <= size[0]


@pytest.mark.parametrize("address", ["/stations", "/stations/L4", "/stations/L4?wafer=AP-1-04"])
def test_nothing_sticks_out_and_the_engine_finds_nothing(page, shop, address):
    """On three sizes, in light and dark, the page is as wide as the screen; on the bench axe-core finds nothing."""
    with complaints(page) as heard:
        for size in SIZES:
            page.set_viewport_size({"width": size[0], "height": size[1]})
            page.goto(shop.address + address)
            page.wait_for_timeout(300)
            for scheme in ("light", "dark"):
                page.emulate_media(color_scheme=scheme)
                assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
                if size == SIZES[0]:
                    assert [one["id"] for one in Axe().run(page).response["violations"]] == []
        assert heard == []


def test_a_dead_server_is_told_and_mended(page, shop):
    """No server: a word, no number, and when the next try is; a new server on the same port: all is back, no reload."""
    port = free_port()
    with served(shop.data, port=port) as address:
        countdown = Shop(shop.gauges, address, shop.recorder, shop.data).running(page, LONG)
        page.evaluate("window.stayed = true")
    expect(countdown).to_have_attribute("data-shape", "wrong")
    expect(page.locator("[data-field=state]")).to_have_text("no news")
    expect(page.locator("[data-field=unit]")).to_have_text("")
    expect(page.locator("[data-field=connection]")).to_contain_text("Trying")
    page.click("text=Stop now")
    expect(page.locator("#stop-said")).to_contain_text("Stop the machine yourself")
    with served(shop.data, port=port):
        expect(countdown).to_have_attribute("data-shape", "calm", timeout=20_000)
        expect(page.locator("[data-field=unit]")).to_have_text("µm left")
        assert page.evaluate("window.stayed") is True


def test_a_gauge_fills_the_sites_of_a_set(page, shop):
    """A send key records each reading by itself; of a gauge that sends all the time Enter takes what it shows.

    A reading sent while a value is being typed is not taken, one that does not fit is kept when it is sent once more.
    """
    gauge = shop.gauges["L1"]
    gauge.rate, gauge.is_mute, gauge.is_frozen = 0.0, False, False
    page.goto(f"{shop.address}/orders/AP-1/readings")
    page.select_option("[name=piece]", "K4")
    page.select_option("[name=moment]", "carrier")
    page.select_option("[name=pattern]", "nine")
    page.uncheck("[name=zero]")
    page.click("button:has-text('Open the set')")
    asked, feed, box = page.locator("#sheet-asked"), page.locator("#gauge-feed"), page.locator("#value")
    expect(asked).to_have_text("Site C")
    expect(box).to_be_focused()
    expect(feed).to_have_attribute("data-heard", "stream")
    gauge.is_mute = True
    expect(feed).to_have_attribute("data-heard", "key")
    assert page.locator("#sheet-list tbody tr").count() == 0
    for number, length in enumerate((6000.1e-6, 6000.2e-6, 6000.4e-6, 6000.3e-6, 6000.1e-6), start=1):
        gauge.press(length)
        expect(asked).to_have_text(f"Site A{number}")
    page.keyboard.type("60")
    gauge.press(6000.0e-6)
    expect(page.locator("#notice")).to_contain_text("was not taken")
    expect(asked).to_have_text("Site A5")
    box.fill("")
    gauge.press(6050.00e-6)
    expect(page.locator("#notice")).to_contain_text("was not recorded")
    gauge.press(6050.02e-6)
    expect(asked).to_have_text("Site A6")
    expect(page.locator("#sheet-list")).to_contain_text("kept although questioned")
    gauge.is_mute, gauge.length = False, 6000.2e-6
    expect(feed).to_have_attribute("data-heard", "stream")
    expect(feed.locator("output")).to_have_text("6000.20 µm")
    expect(box).to_be_focused()
    page.keyboard.press("Enter")
    expect(asked).to_have_text("Site A7")
    assert page.locator("#sheet-list tbody tr").count() == 7
