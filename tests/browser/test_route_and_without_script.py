"""Choosing a route, and the whole way without script."""

import pytest
from playwright.sync_api import expect

from lapwright.testing.browsing import enter_order, open_set, page_of

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]


def test_a_route_is_chosen_and_shown_on_the_traveller(page, address):
    """Alternatives stand with time, chance and damage; the chosen one gives the Traveller its stack."""
    enter_order(page, address, "W-ROUTE")
    page.click("nav >> text=Route")
    first = page.locator("article.route").first
    for word in ("Time", "Chance inside every limit", "Damage left", "Stages, presets and rates"):
        expect(first).to_contain_text(word)
    expect(first.locator("td", has_text="from first touch").first).to_be_visible()
    first.locator("input[name=reason]").fill("shortest")
    first.get_by_role("button", name="Choose this route").click()
    page.wait_for_url("**/orders/W-ROUTE")
    expect(page.locator("main")).to_contain_text("is chosen")
    expect(page.locator("svg", has_text="target").first).to_be_visible()
    page.click("nav >> text=Route")
    expect(page.locator(".notice").first).to_contain_text("shortest")


def test_an_impossible_order_is_told_with_the_reason(page, address):
    """An order that no route can meet says so, and why, instead of showing an empty page."""
    enter_order(page, address, "W-IMPOSSIBLE", start_thickness="101 µm")
    page.click("nav >> text=Route")
    expect(page.locator(".notice.bad")).to_contain_text("No route leads there")


def test_everything_works_without_script(browser, address):
    """Order, set, question, correction and closing by plain forms."""
    with page_of(browser, script=False) as page:
        enter_order(page, address, "W-PLAIN")
        open_set(page, address, "W-PLAIN", "W-PLAIN-01")

        def send(text, then):
            page.fill("#value", text)
            page.click("button:has-text('Record')")
            expect(page.locator("#sheet-asked")).to_have_text(then)

        send("0", "Site C")
        for text, then in (("500.1", "Site A1"), ("500.4", "Site A2"), ("500.6", "Site A3"), ("500.5", "Site A4"),
                           ("500.2", "Site A5"), ("499.9", "Site A6")):  # fmt: skip
            send(text, then)
        send("512", "Site A6")
        expect(page.locator("#notice")).to_contain_text("512 was not recorded")
        send("512", "Site A7")
        page.click("text=Undo the last")
        send("499.7", "Site A7")
        send("5oo", "Site A7")
        expect(page.locator("#value")).to_have_value("5oo")
        send("499.6", "Site A8")
        send("499.8", "Zero of the gauge, after")
        send("0", "All read")
        page.click("button:has-text('Close the set')")
        expect(page.locator("main")).to_contain_text("Closed by local")


def test_the_back_button_records_nothing_twice(page, address):
    """Going back after an entry and sending the old page again is refused as moved on."""
    enter_order(page, address, "W-BACK")
    open_set(page, address, "W-BACK", "W-BACK-01")
    token = page.input_value("form[data-take] [name=csrfmiddlewaretoken]")
    path = page.get_attribute("form[data-take]", "action")
    form = {"csrfmiddlewaretoken": token, "seen": "0", "questioned": "", "correct": "", "value": "0"}
    first = page.request.post(f"{address}{path}", form=form)
    second = page.request.post(f"{address}{path}", form=form, max_redirects=0)
    assert first.ok
    assert second.status == 409
    page.reload()
    assert page.locator("#sheet-list tbody tr").count() == 1
