"""Intake, Verdict, Odd ones and Practice in a real browser: sizes, dark, paper, keys, and an accessibility engine."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from lapwright.testing.browsing import SIZES, complaints, enter_order, fill_order, page_of

pytestmark = [pytest.mark.browser]

PAGES = ("/intake", "/orders/DESK/verdict", "/odd", "/orders/DESK/wafers/DESK-01/odd", "/practice")


@pytest.fixture(scope="module")
def desk(browser, address):
    """An order, nothing read yet."""
    with page_of(browser) as page:
        enter_order(page, address, "DESK")
    return address


@pytest.mark.parametrize(("size", "dark"), [(SIZES[0], False), (SIZES[1], True), (SIZES[2], False)])
def test_the_pages_stand_on_every_size_without_a_finding(browser, desk, size, dark):
    """As wide as the screen, one heading, nothing for the console; no finding by axe-core on bench and dark phone."""
    with page_of(browser, size=size, dark=dark) as page, complaints(page) as heard:
        for place in PAGES:
            page.goto(desk + place)
            assert page.evaluate("document.documentElement.scrollWidth") <= size[0], place
            assert page.locator("h1").count() == 1, place
            if size != SIZES[2]:
                found = Axe().run(page).response["violations"]
                assert [f"{place} {one['id']}: {one['nodes'][0]['html'][:200]}" for one in found] == []
        assert heard == []


def test_a_request_is_asked_back_about_while_it_is_typed_and_becomes_an_order(page, desk):
    """A number without unit becomes a question; mended, the answer stands there; one button makes the order."""
    page.goto(f"{desk}/intake")
    for one in page.locator("details").all():
        one.evaluate("element => element.open = true")
    fill_order(page, "FROM-REQUEST", tolerance="2")
    expect(page.locator("#asked")).to_contain_text("you wrote “2”")
    page.fill("[name=tolerance]", "2 µm")
    expect(page.locator("#asked")).not_to_contain_text("you wrote")
    expect(page.locator("#outlook")).to_contain_text("Binding:")
    expect(page.locator("#section desc")).to_contain_text("100 µm ± 2 µm")
    page.locator("[name=tolerance]").focus()
    expect(page.locator("[name=tolerance]")).to_be_focused()
    page.keyboard.press("Enter")
    page.wait_for_url("**/orders/FROM-REQUEST")
    expect(page.locator("h1")).to_contain_text("FROM-REQUEST")


def test_a_practice_round_is_played_by_keyboard_inside_its_frame(page, desk):
    """Begin, watch the number fall, stop, answer, score; the frame is there, on paper too."""
    page.goto(f"{desk}/practice")
    page.locator("button[value=countdown]").focus()
    expect(page.locator("button[value=countdown]")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("[data-field=unit]")).to_have_text("µm left")
    expect(page.locator("[data-field=elapsed]")).not_to_have_text(re.compile(r"^0:[0-3]"))  # 40 s of the run or more
    target = float(page.locator("h1 .soft").inner_text().split()[1])
    left = float(page.locator("[data-field=number]").inner_text().replace("\u2212", "-"))
    assert left < target - 1.0
    page.locator("button.stop").focus()
    expect(page.locator("button.stop")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_contain_text("what was wrong?")
    page.locator("button[value=none]").focus()
    expect(page.locator("button[value=none]")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator(".big")).to_have_text(re.compile(r"^[\d.]+\s*µm (left on|over)$"))
    page.emulate_media(media="print")
    expect(page.locator(".practice-band").first).to_be_visible()
    assert page.evaluate("getComputedStyle(document.body).borderTopStyle") == "dashed"
