"""Shelf, Handover, Waste and cautions, Help in a real browser: by keyboard, on every screen, no serious finding."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from lapwright.testing.browsing import SIZES, complaints, enter_order, page_of

pytestmark = [pytest.mark.browser]

LOT = {"lot_id": "B-1", "item": "al2o3-15", "amount": "2 l", "feed": "3 ml/min", "lead_days": "5"}
ADDRESSES = ("/shelf", "/shelf/B-1", "/handover", "/waste", "/help", "/help/why/stop?from=/shelf")


@pytest.fixture(scope="module")
def stocked(browser, address):
    """A lot recorded by keyboard, and a handover given."""
    with page_of(browser) as page:
        page.goto(f"{address}/shelf")
        page.click("#new > summary")
        for name, value in LOT.items():
            page.fill(f"[name='{name}']", value)
        last = page.locator("[name=held]")
        last.focus()
        expect(last).to_be_focused()
        page.keyboard.press("Enter")
        expect(page.locator("[role=status]").first).to_contain_text("recorded")
        page.goto(f"{address}/handover")
        page.fill("[name=note]", "drip valve sticks")
        page.get_by_role("button", name="Hand over so").click()
        expect(page.locator("main")).to_contain_text("drip valve sticks")
    return address


def test_every_screen_holds_them_and_the_engine_finds_nothing(browser, stocked):
    """Light on the bench screen, dark on a phone upright and on its side: as wide as the screen, one heading."""
    for size, dark in zip(SIZES, (False, True, False), strict=False):
        with page_of(browser, size=size, dark=dark) as page, complaints(page) as heard:
            for path in ADDRESSES:
                page.goto(stocked + path)
                assert page.evaluate("document.documentElement.scrollWidth") <= size[0], (path, size)
                assert page.locator("h1").count() == 1, path
                if size != SIZES[-1]:
                    found = Axe().run(page).response["violations"]
                    serious = [one["id"] for one in found if one["impact"] in ("serious", "critical")]
                    assert serious == [], (path, size)
            assert heard == []


def test_a_number_says_why_and_leads_back(browser, stocked):
    """From the shelf to the explanation of the day to order, and back, by keyboard."""
    with page_of(browser) as page:
        page.goto(f"{stocked}/shelf")
        link = page.locator("a.why").first
        link.focus()
        expect(link).to_be_focused()
        page.keyboard.press("Enter")
        page.wait_for_url("**/help/why/stock*")
        expect(page.locator(".formula")).to_contain_text("order at S")
        page.get_by_role("link", name="Back to the number").click()
        page.wait_for_url("**/shelf")


def test_the_label_alone_is_printed(browser, stocked):
    """Of the page on waste, only the framed label is left on paper."""
    with page_of(browser) as page:
        enter_order(page, stocked, "WASTE")
        page.goto(f"{stocked}/waste?order=WASTE")
        expect(page.locator(".steps-hazards")).to_be_visible()
        page.emulate_media(media="print")
        expect(page.locator(".label-sheet")).to_be_visible()
        expect(page.locator(".steps-hazards")).to_be_hidden()
