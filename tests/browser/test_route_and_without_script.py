"""Choosing a route, and the whole way without script."""

import pytest
from playwright.sync_api import expect

from lapwright.testing.browsing import enter_order, open_set, page_of

pytestmark = [pytest.mark.browser]


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


def test_a_slider_moves_stack_time_and_chance_at_once(page, address):
    """By keyboard: more margin on the damage takes longer and keeps more jobs; the route set by hand is chosen."""
    enter_order(page, address, "W-HAND", roughness_ra_limit="1 nm")
    page.goto(f"{address}/orders/W-HAND/route")
    slider, output = page.locator("#finish_margin"), page.locator("#finish_margin-is")
    result = page.locator("#hand-result")
    expect(result).to_be_visible()
    before = page.locator("#hand-time").inner_text()
    slider.focus()
    expect(slider).to_be_focused()
    page.keyboard.press("End")
    expect(output).to_have_text("× 8.00")
    expect(page.locator("#hand-choose input[name=finish_margin]")).to_have_value("8")
    expect(result).to_have_attribute("data-waiting", "no")
    expect(page.locator("#hand-time")).not_to_have_text(before)
    expect(page.locator("#hand-ruler svg")).to_have_count(1)
    page.fill("#reason-hand", "sure of the damage")
    page.get_by_role("button", name="Choose the one set by hand").click()
    page.wait_for_url("**/orders/W-HAND")
    expect(page.locator("main")).to_contain_text("is chosen")


def test_routes_come_up_when_they_are_found_and_whoever_types_is_not_disturbed(page, address):
    """The first answer says that routes are searched; what is typed meanwhile stays, and a button shows the routes."""
    enter_order(page, address, "W-FOUND")
    asked = f"{address}/orders/W-FOUND/route?chance=77.7"
    away = True
    page.route(asked, lambda one: one.abort() if away and one.request.resource_type == "fetch" else one.continue_())
    page.goto(asked)
    expect(page.locator("#route-search[data-going]")).to_contain_text("are being searched")
    page.fill("#chance", "81")
    expect(page.locator("#chance")).to_be_focused()
    away = False
    shown = page.get_by_role("link", name="Show the routes")
    expect(shown).to_be_visible()
    expect(page.locator("#chance")).to_have_value("81")
    shown.click()
    expect(page.locator(".compare tbody tr").first).to_be_visible()


def test_the_aim_is_asked_without_script(browser, address):
    """Cost with 80 %, and a route by hand, by plain forms; a chance that cannot be is told."""
    with page_of(browser, script=False) as page:
        enter_order(page, address, "W-AIM")
        page.goto(f"{address}/orders/W-AIM/route?objective=cost&chance=80")
        expect(page.locator(".compare tbody tr").first).to_contain_text("cheapest")
        page.get_by_role("button", name="Show it").click()
        expect(page.locator("#hand-time")).to_be_visible()
        page.goto(f"{address}/orders/W-AIM/route?chance=200")
        expect(page.locator(".notice.doubt").first).to_contain_text("between 50 and 99.9")


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
