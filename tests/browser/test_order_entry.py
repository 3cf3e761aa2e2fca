"""Order entry in a real browser."""

import pytest
from playwright.sync_api import expect

from lapwright.testing.browsing import enter_order, fill_order

pytestmark = [pytest.mark.browser]


def test_all_faults_stand_at_their_fields_and_nothing_typed_is_lost(page, address):
    """A form with three faults comes back with three sentences beside their fields, and every text as typed."""
    page.goto(f"{address}/orders/new")
    fill_order(page, "T-FAULTS", tolerance="2", diameter="two inches", edge_exclusion="")
    page.click("button:has-text('Record the order')")
    expect(page.locator("#faults li")).to_have_count(3)
    for name in ("tolerance", "diameter", "edge_exclusion"):
        expect(page.locator(f"#id_{name}")).to_have_attribute("aria-invalid", "true")
        expect(page.locator(f"#id_{name}_error")).to_be_visible()
    assert page.input_value("[name=diameter]") == "two inches"
    assert page.input_value("[name=customer]") == "Fennbach Filters"
    assert page.input_value("[name=material]") == "LiTaO3"


def test_a_link_in_the_list_of_faults_leads_to_the_field(page, address):
    """Each fault in the list is a link that moves the focus to its field."""
    page.goto(f"{address}/orders/new")
    fill_order(page, "T-LINK", tolerance="2")
    page.click("button:has-text('Record the order')")
    page.click("#faults a")
    assert page.url.endswith("#id_tolerance")


def test_an_order_is_entered_and_stands_in_the_list(page, address):
    """The order entered by the form is shown on its Traveller and among the orders."""
    enter_order(page, address, "T-ENTER")
    expect(page.locator("h1")).to_contain_text("T-ENTER")
    expect(page.locator("main")).to_contain_text("100.0 ± 2.0 µm")
    page.goto(f"{address}/orders")
    expect(page.get_by_role("link", name="T-ENTER")).to_be_visible()


def test_a_second_order_of_the_same_number_is_refused(page, address):
    """A number that is taken is refused with a sentence, and the form keeps what was typed."""
    enter_order(page, address, "T-TWICE")
    page.goto(f"{address}/orders/new")
    fill_order(page, "T-TWICE", customer="Somebody Else")
    page.click("button:has-text('Record the order')")
    expect(page.locator("#faults")).to_contain_text("T-TWICE")
    assert page.input_value("[name=customer]") == "Somebody Else"


def test_markup_in_a_name_is_shown_as_text(page, address):
    """Markup typed into a name is shown, never obeyed."""
    enter_order(page, address, "T-MARKUP", customer="<img src=x onerror=alert(1)> & Söhne")
    expect(page.locator("h1")).to_contain_text("<img src=x onerror=alert(1)> & Söhne")
    assert page.locator("main img").count() == 0
