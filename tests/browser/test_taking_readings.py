"""A set of readings typed by keyboard alone, in a real browser."""

import pytest
from playwright.sync_api import expect

from lapwright.testing.browsing import complaints, enter_order, open_set, page_of, type_value

pytestmark = [pytest.mark.browser]

#: values of a nine-site set, a wedge of about 1 µm across; what the page asks for after each
SET = (
    ("0.1", "Site C"), ("500.1", "Site A1"), ("500.4", "Site A2"), ("500.6", "Site A3"), ("500.5", "Site A4"),
    ("500.2", "Site A5"), ("499.9", "Site A6"), ("499.7", "Site A7"), ("499.6", "Site A8"),
    ("499.8", "Zero of the gauge, after"),
)  # fmt: skip


def test_a_whole_set_is_typed_by_keyboard_and_its_result_builds_up(page, address):
    """Nine sites and two zeros take a value and Enter each; the result stands there when the set is closed."""
    enter_order(page, address, "R-WHOLE")
    with complaints(page) as heard:
        page.goto(f"{address}/orders/R-WHOLE/readings")
        for piece, moment in (("C1", "carrier"), ("R-WHOLE-02", "incoming")):  # what is read when follows the piece
            page.select_option("[name=piece]", piece)
            expect(page.locator("[name=moment]")).to_have_value(moment)
        open_set(page, address, "R-WHOLE")
        for text, then in SET:
            type_value(page, text, then)
        expect(page.locator("#sheet-values")).to_contain_text("TTV, noise bias removed")
        expect(page.locator("#value")).to_be_focused()
        page.keyboard.type("0.1")
        page.keyboard.press("Enter")
        expect(page.get_by_role("button", name="Close the set")).to_be_focused()
        page.keyboard.press("Enter")
        expect(page.locator("main")).to_contain_text("Closed by local")
        # by hand: 4500.8 µm / 9 = 500.09 µm, less the zero of 0.1 µm
        expect(page.locator("#sheet-values")).to_contain_text("499.99 µm")
        expect(page.locator("#sheet-wafer svg")).to_be_visible()
        expect(page.get_by_role("link", name="Read the next wafer")).to_be_focused()
    assert heard == []


def test_seventeen_sites_take_one_key_each_beyond_the_digits(page, address):
    """Asked for are two at most: a value and Enter a site, typed as fast as the keys go."""
    enter_order(page, address, "R-ROW")
    page.goto(f"{address}/orders/R-ROW/readings")
    page.select_option("[name=pattern]", "seventeen")
    page.uncheck("[name=zero]")
    page.get_by_role("button", name="Open the set").focus()
    page.keyboard.press("Enter")
    type_value(page, "500.1", "Site A1")
    expect(page.locator("#value")).to_be_focused()
    for number in range(16):
        page.keyboard.type(f"500.{1 + number % 2}")
        page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Close the set")).to_be_focused()
    assert page.locator("#sheet-list tbody tr").count() == 17


def test_an_implausible_reading_is_kept_only_on_a_second_entry(page, address):
    """A reading far from the others is questioned and not stored; typed again it is kept, with the question."""
    enter_order(page, address, "R-DOUBT")
    open_set(page, address, "R-DOUBT")
    for text, then in SET[:7]:
        type_value(page, text, then)
    type_value(page, "508", "Site A6")
    expect(page.locator("#notice")).to_contain_text("508 was not recorded")
    expect(page.locator("#notice")).to_contain_text("σ")
    assert page.locator("#sheet-list tbody tr").count() == 7
    type_value(page, "508", "Site A7")
    expect(page.locator("#notice")).to_be_empty()
    expect(page.locator("#sheet-list")).to_contain_text("kept although questioned")


def test_on_a_phone_a_question_stands_above_the_keyboard(browser, page, address):
    """A phone's keyboard leaves the upper 500 of 844 pixels or so (common practice, no source)."""
    enter_order(page, address, "R-PHONE")
    open_set(page, address, "R-PHONE")
    place = page.url
    with page_of(browser, size=(390, 844), touch=True) as phone:
        phone.goto(place)
        type_value(phone, "0.1", "Site C")
        expect(phone.locator("#value")).to_be_focused()
        phone.keyboard.type("50.3")
        phone.keyboard.press("Enter")
        expect(phone.locator("#notice")).to_contain_text("Enter the same value once more")
        phone.wait_for_function("document.querySelector('#notice').getBoundingClientRect().bottom < 500")
        assert phone.locator("#sheet-asked").bounding_box()["y"] >= 0


def test_enter_alone_does_not_confirm_a_questioned_reading(page, address):
    """The second entry is the value typed again; pressing Enter again by habit records nothing."""
    enter_order(page, address, "R-HABIT")
    open_set(page, address, "R-HABIT")
    for text, then in SET[:7]:
        type_value(page, text, then)
    type_value(page, "508", "Site A6")
    expect(page.locator("#notice")).to_contain_text("508 was not recorded")
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    page.reload()
    assert page.locator("#sheet-list tbody tr").count() == 7


def test_undo_is_a_correction_that_keeps_the_old_value(page, address):
    """Undo asks for the last place again; the new value is a correction and the old one stays, crossed out."""
    enter_order(page, address, "R-UNDO")
    open_set(page, address, "R-UNDO")
    for text, then in SET[:4]:
        type_value(page, text, then)
    page.click("text=Undo the last")
    expect(page.locator("#sheet-asked")).to_have_text("Again: site A2, instead of 500.6")
    type_value(page, "500.7", "Site A3")
    expect(page.locator("tr.taken-back")).to_contain_text("500.6")
    expect(page.locator("#sheet-list")).to_contain_text("a correction")


def test_text_that_is_no_number_comes_back_with_a_sentence(page, address):
    """A slip of the keys is refused with a sentence, and stays in the box to be mended."""
    enter_order(page, address, "R-SLIP")
    open_set(page, address, "R-SLIP")
    type_value(page, "0.1", "Site C")
    expect(page.locator("#value")).to_be_focused()
    page.keyboard.type("50o.1")
    page.keyboard.press("Enter")
    expect(page.locator("#notice")).to_contain_text("o.1")
    expect(page.locator("#value")).to_have_value("50o.1")


def test_values_typed_ahead_are_recorded_in_order(page, address):
    """Typing faster than the answers come loses nothing and mixes nothing up."""
    enter_order(page, address, "R-AHEAD")
    open_set(page, address, "R-AHEAD")
    expect(page.locator("#value")).to_be_focused()
    for text, _then in SET:
        page.keyboard.type(text)
        page.keyboard.press("Enter")
    expect(page.locator("#sheet-asked")).to_have_text("Zero of the gauge, after")
    typed = page.locator("#sheet-list tbody tr td:nth-child(2)").all_text_contents()
    assert [text for text, _then in reversed(SET)] == typed


def test_a_set_goes_on_where_it_stopped(browser, page, address):
    """After the page is gone, another one continues at the same site."""
    enter_order(page, address, "R-RESUME")
    open_set(page, address, "R-RESUME", "R-RESUME-01")
    for text, then in SET[:5]:
        type_value(page, text, then)
    with page_of(browser) as other:
        other.goto(f"{address}/orders/R-RESUME/readings?wafer=R-RESUME-01")
        expect(other.locator("#sheet-asked")).to_have_text("Site A4")


def test_a_lost_server_loses_no_value(page, address):
    """While the server does not answer, values wait in their order, named; then they go out by themselves."""
    enter_order(page, address, "R-LOST")
    open_set(page, address, "R-LOST")
    type_value(page, "0.1", "Site C")
    page.route("**/take", lambda route: route.abort())
    expect(page.locator("#value")).to_be_focused()
    page.keyboard.type("500.1")
    page.keyboard.press("Enter")
    expect(page.locator("#notice")).to_contain_text("does not answer")
    page.keyboard.type("500.4")
    page.keyboard.press("Enter")
    expect(page.locator("#notice")).to_contain_text("Not recorded yet: 500.1, 500.4")
    expect(page.locator("#value")).to_have_value("")
    page.unroute("**/take")
    expect(page.locator("#sheet-asked")).to_have_text("Site A2")
    assert page.locator("#sheet-list tbody tr td:nth-child(2)").all_text_contents() == ["500.4", "500.1", "0.1"]


def test_a_refused_value_waits_until_it_is_sent_again(page, address):
    """What the server says instead of taking it stands there; Enter sends it once more, before what is typed next."""
    enter_order(page, address, "R-REFUSED")
    open_set(page, address, "R-REFUSED")
    type_value(page, "0.1", "Site C")
    told = '<main><div class="notice bad"><p>The disk is full.</p></div></main>'
    page.route("**/take", lambda route: route.fulfill(status=503, content_type="text/html", body=told))
    expect(page.locator("#value")).to_be_focused()
    page.keyboard.type("500.1")
    page.keyboard.press("Enter")
    expect(page.locator("#notice")).to_contain_text("The disk is full. Press Enter to send it again")
    expect(page.locator("#notice")).to_contain_text("Not recorded yet: 500.1")
    page.unroute("**/take")
    page.keyboard.press("Enter")
    expect(page.locator("#sheet-asked")).to_have_text("Site A1")
    expect(page.locator("#notice")).to_be_empty()


def test_a_stale_tab_records_nothing(browser, page, address):
    """A value typed on a page that is behind is refused, and the page shows which site is next now."""
    enter_order(page, address, "R-STALE")
    open_set(page, address, "R-STALE")
    with page_of(browser) as other:
        other.goto(page.url)
        type_value(other, "0.1", "Site C")
    expect(page.locator("#value")).to_be_focused()
    page.keyboard.type("0.2")
    page.keyboard.press("Enter")
    expect(page.locator("#notice")).to_contain_text("moved on")
    expect(page.locator("#sheet-asked")).to_have_text("Site C")
    assert page.locator("#sheet-list tbody tr").count() == 1
