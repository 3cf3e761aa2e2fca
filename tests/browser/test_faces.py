"""The Fringes and Finish pages in a real browser: looked at, the mask dragged, recorded; at two sizes, by axe."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from lapwright.testing import faces
from lapwright.testing.browsing import SIZES, complaints, enter_order, page_of

pytestmark = [pytest.mark.browser]


@pytest.fixture(scope="module")
def shop(browser, address, tmp_path_factory):
    """An order, and the files of a face on the disk."""
    folder = tmp_path_factory.mktemp("faces")
    (folder / "face.png").write_bytes(faces.fringe_file())
    (folder / "dark.png").write_bytes(faces.dark_file())
    (folder / "profile.csv").write_bytes(faces.profile_file())
    with page_of(browser) as page:
        enter_order(page, address, "FACE")
    return address, folder


def look(page, address, path, **fields):
    """Choose a file, fill fields, look at it."""
    page.goto(address)
    page.set_input_files("[name=files]", str(path))
    for name, text in fields.items():
        page.fill(f"[name={name}]", text)
    page.click("button[value=look]")


def found_by_axe(page):
    """What the accessibility engine finds, all groups opened."""
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    return [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in Axe().run(page).response["violations"]]


@pytest.mark.parametrize("size", SIZES[:2], ids=lambda size: f"{size[0]}x{size[1]}")
def test_fringes_are_looked_at_masked_and_recorded(browser, shop, size):
    """Picture to numbers; a circle dragged in the picture fills the fields; the record leads from the wafer's page."""
    address, folder = shop
    with page_of(browser, size=size, dark=size == SIZES[1]) as page, complaints(page) as heard:
        look(page, f"{address}/surfaces", folder / "face.png", fringe_height="0.5 um", diameter="50.8 mm")
        expect(page.locator("h2", has_text="5. The map")).to_be_visible()
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
        assert found_by_axe(page) == []
        page.select_option("[name=mask_kind]", "circle")
        before = int(page.input_value("[name=mask_radius]"))
        rim = page.locator("[data-grip=rim]")
        rim.scroll_into_view_if_needed()
        box = rim.bounding_box()
        page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        page.mouse.down()
        page.mouse.move(box["x"] - 30, box["y"] + box["height"] / 2, steps=4)
        page.mouse.up()
        assert int(page.input_value("[name=mask_radius]")) < before - 10
        page.select_option("[name=wafer]", "FACE-01")
        page.click("button[value=record]")
        page.wait_for_url("**/surfaces/*")
        assert found_by_axe(page) == []
        number = page.url.rpartition("/")[2]
        page.goto(f"{address}/orders/FACE/wafers/FACE-01")
        expect(page.locator(f"a[href='/surfaces/{number}']")).to_be_visible()
        assert heard == []


@pytest.mark.parametrize("size", SIZES[:2], ids=lambda size: f"{size[0]}x{size[1]}")
def test_a_finish_is_looked_at_and_recorded(browser, shop, size):
    """Profile in its parts, parameters with their filter, damage refused with its reason."""
    address, folder = shop
    with page_of(browser, size=size, dark=size == SIZES[1]) as page, complaints(page) as heard:
        look(page, f"{address}/profiles", folder / "profile.csv")
        expect(page.locator("h2", has_text="3. The damage below")).to_be_visible()
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
        assert found_by_axe(page) == []
        page.select_option("[name=wafer]", "FACE-01")
        page.click("button[value=record]")
        page.wait_for_url("**/profiles/*")
        assert found_by_axe(page) == []
        assert heard == []


def test_without_script_a_refusal_keeps_the_picture_and_a_circle_is_typed(browser, shop):
    """A dark picture is refused in full size with the picture; the fields of the mask are there to be typed."""
    address, folder = shop
    with page_of(browser, script=False) as page:
        look(page, f"{address}/surfaces", folder / "dark.png", fringe_height="0.5 um", diameter="50.8 mm")
        expect(page.locator("#refused .answer")).to_be_visible()
        expect(page.locator(".masker svg")).to_be_visible()
        page.select_option("[name=mask_kind]", "circle")
        for name, text in (("mask_x", "160"), ("mask_y", "160"), ("mask_radius", "120")):
            page.fill(f"[name={name}]", text)
        page.click("button[value=look]")
        expect(page.locator("#refused .answer")).to_be_visible()
        assert page.input_value("[name=mask_radius]") == "120"
