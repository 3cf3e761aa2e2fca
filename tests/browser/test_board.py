"""The Board in a real browser: accepted, a load moved by keys and by the mouse, asked before anything moves."""

from urllib.request import urlopen

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from lapwright.testing.browsing import SIZES, complaints, page_of
from lapwright.testing.served import served

PLANNED_MS = 90_000  # a plan is worked out beside the pages, by a process that has yet to start

pytestmark = [pytest.mark.browser]


@pytest.fixture(scope="module")
def board(tmp_path_factory):
    """A server over a shop with an order of five wafers on the Board."""
    with served(tmp_path_factory.mktemp("board") / "data", furnished=True, board=True) as address:
        with urlopen(f"{address}/api/board", timeout=120.0) as answer:  # the first plan is waited for
            assert answer.status == 200
        yield f"{address}/board"


def load(page, name):
    """The link of a load."""
    return page.locator(f"[data-task='BOARD-1-01/{name}']").first


def test_a_schedule_is_accepted_and_nothing_moves_unasked(browser, board):
    """Proposal, accepted; a load moved by keys and by the mouse asks what would change; left, all is as before."""
    with page_of(browser) as page, complaints(page) as heard:
        page.goto(board)
        expect(page.locator("#proposal-head")).to_contain_text("Nobody has accepted")
        expect(page.locator(".board-orders")).to_contain_text("BOARD-1")
        page.click(".proposal button.main")
        expect(page.locator(".lead")).to_contain_text("is in force")

        link = load(page, "bond")
        before = link.get_attribute("data-start")
        link.focus()
        expect(link).to_be_focused()
        for _ in range(4):
            page.keyboard.press("ArrowRight")
        expect(page.locator("#ghost")).to_contain_text("BOARD-1-01/bond")
        page.keyboard.press("Escape")
        expect(page.locator("#ghost")).to_be_empty()
        page.keyboard.press("ArrowRight")
        expect(page.locator("#ghost")).not_to_be_empty()
        page.keyboard.press("Enter")
        expect(page.locator("#proposal-head")).to_contain_text("what would change", timeout=PLANNED_MS)
        assert "fix=BOARD-1-01%2Fbond" in page.url
        page.click(".proposal a.button")
        expect(page.locator(".lead")).to_contain_text("is in force")
        assert load(page, "bond").get_attribute("data-start") == before

        polish = load(page, "polish")
        polish.scroll_into_view_if_needed()
        box = polish.bounding_box()
        page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        page.mouse.down()
        page.mouse.move(box["x"] + box["width"] / 2 + 40, box["y"] + box["height"] / 2 + 2, steps=4)
        page.mouse.up()
        expect(page.locator("#proposal-head")).to_contain_text("what would change", timeout=PLANNED_MS)
        assert "fix=BOARD-1-01%2Fpolish" in page.url
        page.fill("#reason", "customer waits for the bond")
        page.click(".proposal button.main")
        expect(page.locator(".lead")).to_contain_text("is in force")
        assert not heard


def test_a_place_that_is_down_is_a_question_first_without_a_script_too(browser, board):
    """The form asks; a load is a link to its own form."""
    with page_of(browser, script=False) as page:
        page.goto(board)
        page.click("summary:has-text('An extra shift')")
        page.fill("[name=extra_from]", "2030-01-05T08:00")
        page.fill("[name=extra_until]", "2030-01-05T07:00")
        page.click("details[open] button:has-text('Show what would change')")
        expect(page.locator(".fault").first).to_contain_text("the later one last")
        page.goto(f"{board}?task=BOARD-1-02%2Fbond")
        expect(page.locator("#task-head")).to_contain_text("BOARD-1-02, bond")


def test_it_is_clean_on_every_screen(browser, board):
    """No fault found by axe in light and dark, nothing wider than the screen, on bench and phone."""
    axe = Axe()
    for size, dark in ((SIZES[0], True), (SIZES[1], False), (SIZES[2], False)):
        with page_of(browser, size=size, dark=dark) as page:
            for address in (board, f"{board}/shop"):
                page.goto(address)
                expect(page.locator("h1")).to_be_visible()
                assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
                if size == SIZES[2]:
                    continue
                found = axe.run(page)
                assert found.violations_count == 0, found.generate_report()
