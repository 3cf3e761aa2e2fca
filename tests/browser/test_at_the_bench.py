"""Sets in a row without the mouse, a pasted column, two people at one wafer, an order told about while it is typed."""

import pytest
from playwright.sync_api import expect

from lapwright.testing.browsing import complaints, enter_order, fill_order, open_set, page_of

pytestmark = [pytest.mark.browser]

VALUES = ("0.1", "500.1", "500.4", "500.6", "500.5", "500.2", "499.9", "499.7", "499.6", "499.8", "0.1")


def type_set(page):
    """A whole set, as fast as the keys go; ends on the button that closes it."""
    expect(page.locator("#sheet-asked")).to_have_text("Zero of the gauge, before")
    expect(page.locator("#value")).to_be_focused()
    page.wait_for_load_state()  # without its script the page sends one value and loads anew
    for text in VALUES:
        page.keyboard.type(text)
        page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Close the set")).to_be_focused()


def test_from_wafer_to_wafer_without_the_mouse(page, address):
    """Open, eleven values, close, next wafer, open: every step is Enter on what has the focus."""
    enter_order(page, address, "B-ROW")
    page.goto(f"{address}/orders/B-ROW/readings?wafer=B-ROW-01")
    with complaints(page) as heard:
        for wafer in ("B-ROW-01", "B-ROW-02"):
            expect(page.get_by_role("button", name="Open the set")).to_be_focused()
            page.keyboard.press("Enter")
            expect(page.locator("h1")).to_contain_text(wafer)
            type_set(page)
            page.keyboard.press("Enter")
            expect(page.get_by_role("link", name="Read the next wafer")).to_be_focused()
            page.keyboard.press("Enter")
        expect(page.locator("#id_piece")).to_have_value("B-ROW-03")
    assert heard == []


def test_a_pasted_column_is_taken_whole(page, address):
    """Cells as a spreadsheet gives them; a doubtful row is named with its reason and kept when sent once more."""
    enter_order(page, address, "B-PASTE")
    open_set(page, address, "B-PASTE", "B-PASTE-01")
    page.get_by_text("Readings from a spreadsheet or a file").click()
    rows = ["zero\t0.1", *VALUES[1:8], "508.0", VALUES[9]]
    page.locator("#together-text").fill("\n".join(rows))
    page.get_by_role("button", name="Record them").click()
    expect(page.locator("#together")).to_contain_text("Row 9, 508.0:")
    expect(page.locator("#sheet-list tbody tr")).to_have_count(0)
    page.get_by_role("button", name="Keep them all the same").click()
    expect(page.locator("#sheet-asked")).to_have_text("Zero of the gauge, after")
    expect(page.locator("#sheet-list tbody tr")).to_have_count(10)


def test_the_second_of_two_people_is_told_what_changed(browser, page, address):
    """Both look at the wafer; one sets it aside; the other's form is refused, says so, and keeps what was typed."""
    enter_order(page, address, "B-TWO")
    wafer = f"{address}/orders/B-TWO/wafers/B-TWO-01"
    with page_of(browser) as other:
        other.goto(wafer)
        page.goto(wafer)
        page.locator("#set-aside summary").click()
        page.locator("#id_set-aside-reason").fill("waits for the customer")
        page.get_by_role("button", name="Set aside").click()
        expect(page.locator("main")).to_contain_text("Recorded")
        other.locator("#reject summary").click()
        other.locator("#id_reject-reason").fill("chipped at 3 o'clock")
        other.get_by_role("button", name="It will not be delivered").click()
        expect(other.locator("main")).to_contain_text("This wafer has changed since the page was made")
        expect(other.locator("#id_reject-reason")).to_have_value("chipped at 3 o'clock")
    page.goto(f"{address}/orders")
    page.go_back()
    expect(page.locator("h1")).to_contain_text("set aside")


def test_an_order_is_told_about_while_it_is_typed(page, address):
    """With the last field the chance stands there; a limit that nothing holds changes the answer before it is sent."""
    page.goto(f"{address}/orders/new")
    expect(page.locator("#outlook")).to_contain_text("Still to type")
    fill_order(page, "B-TOLD")
    expect(page.locator("#outlook")).to_contain_text("Chance within all limits")
    page.fill("[name=tolerance]", "0.01 µm")
    expect(page.locator("#outlook")).to_contain_text("Only with a change")
    page.goto(f"{address}/orders")
    expect(page.locator("main")).not_to_contain_text("B-TOLD")


def test_hands_shows_at_once_what_another_recorded(browser, page, address):
    """With its clock stopped the page learns of a new order over the socket, and waits while the focus is in the list."""
    page.add_init_script("window.setInterval = () => 0")
    with page.expect_websocket(lambda socket: "records" in socket.url) as opened:
        page.goto(address)
    opened.value.wait_for_event("framereceived")
    with page_of(browser) as other:
        enter_order(other, address, "B-NEWS")
    expect(page.locator("#waiting")).to_contain_text("B-NEWS")
    page.locator("#waiting a").first.focus()
    with page_of(browser) as other:
        enter_order(other, address, "B-LATER")
    assert "B-LATER" not in page.locator("#waiting").inner_text()
    page.locator("#code").focus()
    expect(page.locator("#waiting")).to_contain_text("B-LATER")
