"""Pictures of all pages: ``python -m lapwright.testing.screenshots OUT_DIR --data DIR``.

The pages are served over a copy of the data folder, so that taking pictures leaves no trace in it. Every page that the
head leads to is taken, by the address it has there; then those of an order and of a wafer: of the wafer with the most
sets. One more order is entered by the form, so that something waits for a hand. Pictures are kept in few colours and
are cut below four screens, so that they stay small. Where a page still works something out beside itself, routes or a
plan, the picture waits for it; Order entry and Intake are shown with a request typed in.
"""

from __future__ import annotations

import argparse
import io
import json
import shutil
import sys
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from urllib.error import HTTPError
from urllib.request import urlopen

from playwright.sync_api import Browser, Page, expect

from lapwright.testing.browsing import CHOICES, ORDER, SIZES, enter_order, launched, open_set, page_of, type_value
from lapwright.testing.served import served

#: Number of the invented order that is entered for the pictures.
NEW_ORDER = "AP-2410"
#: Colours a picture is kept in, and its greatest height in screens.
COLOURS = 64
MOST_SCREENS = 4
#: What is still being worked out may take this long [ms].
WORKED_OUT_MS = 300_000
#: Pages of the head whose picture has another name than its address.
NAMES = {"/": "hands", "/orders/new": "new-order", "/surfaces": "fringes", "/profiles": "finish", "/odd": "odd-ones"}
#: Lists, and the pictures of what their first line leads to.
FIRST_OF = {
    "/gauges": "gauge", "/plates": "plate", "/surfaces": "fringe-map", "/profiles": "profile", "/recipes": "recipe",
    "/stations": "countdown", "/rates": "learned-rate",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """One picture: its name, the address of the page, and the screen it is taken on."""

    name: str
    address: str
    size: tuple[int, int] = SIZES[0]
    dark: bool = False
    whole: bool = False


def pictures_of(order_id: str, wafer_id: str, set_id: int | None) -> list[Picture]:
    """All pages, and the ones used in the hand on small screens and in the dark, too."""
    order = f"/orders/{order_id}"
    wafer = f"{order}/wafers/{wafer_id}"
    listed = [
        Picture(name="new-order", address="/orders/new", whole=True),
        Picture(name="traveller", address=order, whole=True),
        Picture(name="wafer", address=wafer, whole=True),
        Picture(name="bond-line", address=f"{wafer}/bond", whole=True),
        Picture(name="tilt", address=f"{wafer}/tilt", whole=True),
        Picture(name="damage", address=f"{wafer}/damage", whole=True),
        Picture(name="changeover", address=f"{wafer}/changeover"),
        Picture(name="job-sheet", address=f"{wafer}/sheet", whole=True),
        Picture(name="readings", address=f"{order}/readings"),
        Picture(name="route", address=f"{order}/route", whole=True),
        Picture(name="verdict", address=f"{order}/verdict", whole=True),
        Picture(name="answers", address=f"{order}/answers"),
        Picture(name="answer", address=f"{wafer}/answers/ttv", whole=True),
        Picture(name="who", address="/who"),
        Picture(name="fault", address="/nowhere"),
        Picture(name="hands-phone", address="/", size=SIZES[1]),
        Picture(name="traveller-phone-sideways", address=order, size=SIZES[2]),
        Picture(name="traveller-dark", address=order, dark=True),
    ]
    if set_id is not None:
        listed.append(Picture(name="set", address=f"{order}/readings/{set_id}", whole=True))
    return listed


def take_pictures(address: str, folder: Path, browser: Browser) -> list[Path]:
    """Take all pictures into a folder; the paths written."""
    folder.mkdir(parents=True, exist_ok=True)
    order_id, wafer_id, set_id = _shown(address)
    with page_of(browser) as page:
        taken = [_half_a_set(page, address, folder)]
        _wait_for_the_board(address)
        everywhere = [*_pages_of_the_head(page, address), *_first_of_lists(page, address)]
    known = {one.name for one in pictures_of(order_id, wafer_id, set_id)}
    everywhere = [one for one in everywhere if one.name not in known]
    for picture in [*everywhere, *pictures_of(order_id, wafer_id, set_id)]:
        with page_of(browser, size=picture.size, dark=picture.dark) as page:
            answer = page.goto(address + picture.address)
            if answer is None or (answer.status != 200 and picture.name != "fault"):
                sys.stderr.write(f"No picture of {picture.name}: {picture.address} does not answer with a page.\n")
                continue
            offer = page.locator("nav.tour a:has-text('Not now')")
            if offer.count():
                offer.click()
                expect(offer).to_have_count(0)
            if picture.name in ("new-order", "intake"):
                _type_a_request(page)
            taken.append(_shot(page, folder / f"{picture.name}.png", whole=picture.whole))
    return taken


def main(arguments: list[str]) -> int:
    """Serve a copy of the data folder and take the pictures; gives the exit status."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path, help="Folder for the pictures.")
    parser.add_argument("--data", type=Path, default=Path("demo-data"), help="Data folder to show.")
    given = parser.parse_args(arguments)
    if not given.data.is_dir():
        sys.stderr.write(f"There is no data folder {given.data}; run './dev demo' first.\n")
        return 2
    with TemporaryDirectory(prefix="lapwright-") as folder:
        copy = Path(folder) / "data"
        shutil.copytree(given.data, copy)
        with served(copy) as address, launched() as browser:
            for path in take_pictures(address, given.out, browser):
                sys.stdout.write(f"{path}\n")
    return 0


# ----------------------------------------------------------------------------------------------------------------------


def _shown(address: str) -> tuple[str, str, int | None]:
    """The order, the wafer and the last closed set that are shown: of the order with most sets."""
    best: tuple[int, str, str, int | None] | None = None
    for line in _result(address, "/api/orders")["orders"]:
        story = _result(address, f"/api/orders/{line['order']}")
        for wafer in story["wafers"]:
            closed = [one["set"] for one in wafer["sets"] if one["state"] == "closed"]
            if best is None or len(closed) > best[0]:
                best = (len(closed), line["order"], wafer["wafer"], closed[-1] if closed else None)
    if best is None:
        raise RuntimeError("This data folder holds no order; there is nothing to show.")
    return best[1:]


def _result(address: str, path: str) -> dict[str, Any]:
    with urlopen(address + path) as answer:  # noqa: S310  # an address of this machine
        told: dict[str, dict[str, Any]] = json.load(answer)
    return told["result"]


def _wait_for_the_board(address: str) -> None:
    """Have the schedule worked out, beside the pages; without the solver the page says what is missing."""
    with suppress(HTTPError):
        _result(address, "/api/board")


def _pages_of_the_head(page: Page, address: str) -> list[Picture]:
    """Every page that the head leads to: the sections, and what stands below each."""
    found: dict[str, None] = {}
    page.goto(address)
    sections = _links(page, "header nav a")
    for section in sections:
        page.goto(address + section)
        found |= dict.fromkeys([section, *_links(page, "header .of-section a")])
    return [Picture(name=NAMES.get(path) or _name(path), address=path, whole=path != "/") for path in found]


def _first_of_lists(page: Page, address: str) -> list[Picture]:
    """What the first line of each list leads to."""
    pictures = []
    for path, name in FIRST_OF.items():
        page.goto(address + path)
        below = [one for one in _links(page, "main a") if one.startswith((f"{path}/", f"{path}?"))]
        pictures += [Picture(name=name, address=one, whole=True) for one in below[:1]]
    return pictures


def _links(page: Page, selector: str) -> list[str]:
    """Where the links of a part of the page lead, within these pages."""
    found = [one.get_attribute("href") or "" for one in page.locator(selector).all()]
    return [one.partition("#")[0] for one in found if one.startswith("/")]


def _name(path: str) -> str:
    return path.strip("/").replace("/", "-")


def _shot(page: Page, path: Path, *, whole: bool) -> Path:
    """A picture of the page, few screens high and in few colours."""
    from PIL import Image

    size = page.viewport_size
    assert size is not None
    page.wait_for_load_state("load")
    expect(page.locator("[data-going]")).to_have_count(0, timeout=WORKED_OUT_MS)
    page.evaluate("scrollTo(0, 0)")
    held = io.BytesIO(page.screenshot(full_page=whole))
    with Image.open(held) as picture:
        shown = picture.crop((0, 0, picture.width, min(picture.height, MOST_SCREENS * size["height"])))
        shown.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE).save(path, "PNG", optimize=True)
    return path


def _type_a_request(page: Page) -> None:
    """The invented request, as far as the page shows boxes for it; until it says what the order would be like."""
    for name, value in CHOICES.items():
        box = page.locator(f"select[name={name}]")
        if box.is_visible():
            box.select_option(value)
    for name, text in {"order_id": "AP-2412", **ORDER}.items():
        box = page.locator(f"input[name={name}]")
        if box.is_visible():
            box.fill(text)
    expect(page.locator(".facts dd").first).to_be_visible(timeout=WORKED_OUT_MS)
    page.evaluate("document.activeElement.blur(); scrollTo(0, 0)")


def _half_a_set(page: Page, address: str, folder: Path) -> Path:
    """A new order entered by the form, and a set of its first wafer half typed; in the copy of the data alone."""
    enter_order(page, address, NEW_ORDER)
    open_set(page, address, NEW_ORDER, f"{NEW_ORDER}-01")
    for text, then in (("0.1", "Site C"), ("500.1", "Site A1"), ("500.4", "Site A2"), ("500.9", "Site A3"),
                       ("501.2", "Site A4")):  # fmt: skip
        type_value(page, text, then)
    return _shot(page, folder / "set-being-read.png", whole=False)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
