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


def test_a_second_press_while_the_answer_is_under_way_sends_nothing(browser, stocked):
    """Pressed three times one form is sent; after the patience of ten seconds a press counts again."""
    with page_of(browser) as page:
        page.clock.install()
        page.goto(f"{stocked}/handover")
        page.evaluate("addEventListener('submit', (event) => (window.held ??= []).push(event.defaultPrevented))")
        lost = lambda route: route.fulfill(status=204)  # noqa: E731  the page stays, as while no answer has come
        page.route("**/handover", lost)
        page.fill("[name=note]", "pressed again and again")
        button = page.get_by_role("button", name="Hand over so")
        for _ in range(3):
            button.click()
        page.clock.fast_forward(10_001)
        button.click()
        assert page.evaluate("window.held") == [False, True, True, False]
        page.unroute("**/handover", lost)
        page.clock.fast_forward(10_001)
        button.click()
        expect(page.locator("[role=status]").first).to_contain_text("recorded")
        expect(page.get_by_text("pressed again and again")).to_have_count(1)


def test_without_script_a_form_sent_again_by_reload_is_told_and_recorded_once(browser, stocked):
    """Twice the same request, as a browser without script sends it: the second says so on the page it leads to."""
    with page_of(browser, script=False) as page:
        page.goto(f"{stocked}/handover")
        page.fill("[name=note]", "sent again")
        sent = []
        page.on("request", lambda one: sent.append(one) if one.method == "POST" else None)
        page.get_by_role("button", name="Hand over so").click()
        expect(page.get_by_text("sent again")).to_have_count(1)
        headers = {"Content-Type": "application/x-www-form-urlencoded", "Referer": f"{stocked}/handover"}
        again = page.request.post(sent[0].url, data=sent[0].post_data, headers=headers)
        assert "is recorded once" in again.text()
        page.goto(f"{stocked}/handover")
        expect(page.get_by_text("sent again")).to_have_count(1)
