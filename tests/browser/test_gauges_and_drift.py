"""Gauges, a study and Drift in a real browser: typed as a person would, and looked at by an accessibility engine."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from lapwright.testing.browsing import SIZES, complaints, page_of

pytestmark = [pytest.mark.browser]

ADDRESSES = {
    "gauges": "/gauges?tolerance=4+µm",
    "gauge": "/gauges/G1?tolerance=4+µm",
    "a reading of a piece": "/gauges/G1?material=LiTaO3&thickness=500+µm&warmth=2+K&bow_lift=1+µm&force=1+N&tip_radius=1.5+mm&repeats=3",
    "study being read": "/gauges/G1/studies/LOOK-2",
    "study": "/gauges/G1/studies/LOOK-1",
    "sheet": "/gauges/G1/studies/LOOK-1/sheet",
    "drift": "/drift",
    "drift by averages": "/drift?kind=ewma",
}


def fill(page, deed, **fields):
    """Open a form of the gauge and send it."""
    page.click(f"#{deed} > summary")
    for name, value in fields.items():
        page.fill(f"[name='{deed}-{name}']", value)
    page.click(f"#{deed} button[type=submit]")


def plan(page, address, name):
    """Plan a study of two parts, two people, two repeats."""
    page.goto(f"{address}/gauges/G1")
    fill(page, "plan", study_id=name, parts="W1, W2", operators="ada, ben", repeats="2", tolerance="4 µm")
    page.wait_for_url(f"**/studies/{name}*")


def type_reading(page, done, value):
    """Type a value into the study once `done` of its eight lines are read and the box has the focus."""
    expect(page.locator(".progress")).to_contain_text(f"{done} of 8")
    expect(page.locator("#value")).to_be_focused()
    page.keyboard.type(value)
    page.keyboard.press("Enter")


@pytest.fixture(scope="module")
def cared_for(browser, address):
    """A check standard read nine times, the last one off; one study filed, one half read."""
    with page_of(browser) as page:
        page.goto(f"{address}/gauges/G1")
        fill(page, "standard", standard_id="R500", name="glass disc", value="500 µm", expanded_uncertainty="0.2 µm")
        for value in ("500.0", "500.1", "499.95", "500.05", "500.12", "499.9", "500.02", "500.08", "500.45"):
            page.goto(f"{address}/gauges/G1")
            fill(page, "check", value=value)
            expect(page.locator("[role=status]").first).to_contain_text("recorded")
        plan(page, address, "LOOK-1")
        for number, value in enumerate(("500.0", "501.0", "500.1", "501.1", "500.1", "501.0", "500.0", "501.1")):
            type_reading(page, number, value)
        page.click("button:has-text('File the study')")
        expect(page.locator(".notice").first).to_contain_text("Filed")
        plan(page, address, "LOOK-2")
        type_reading(page, 0, "500.3")
        expect(page.locator(".progress")).to_contain_text("1 of 8")
    return address


def test_undo_asks_for_the_same_part_again(browser, cared_for):
    """The old value stays on record; the new one stands."""
    with page_of(browser) as page:
        page.goto(f"{cared_for}/gauges/G1/studies/LOOK-2")
        page.click("text=Undo the last")
        expect(page.locator(".asked")).to_contain_text("instead of 500.3")
        type_reading(page, 1, "500.4")
        expect(page.locator(".progress")).to_contain_text("1 of 8")


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("name", ADDRESSES)
def test_nothing_sticks_out_and_nothing_is_complained_of(browser, cared_for, name, size):
    """As wide as the screen, no blocked style, no missing file, one heading."""
    with page_of(browser, size=size) as page, complaints(page) as heard:
        page.goto(cared_for + ADDRESSES[name])
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
        assert page.locator("h1").count() == 1
        assert heard == []


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("name", ADDRESSES)
def test_the_accessibility_engine_finds_nothing(browser, cared_for, name, dark):
    """No finding of any weight, all folded parts open."""
    with page_of(browser, dark=dark) as page:
        page.goto(cared_for + ADDRESSES[name])
        page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
        found = Axe().run(page)
        assert [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found.response["violations"]] == []
