"""A real browser for tests and pictures: started, sized, and moved by keys as a person would."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Browser, ConsoleMessage, Page, expect, sync_playwright

ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
#: What is awaited may take this long on a slow, busy machine [ms].
PATIENCE_MS = 30_000
expect.set_options(timeout=PATIENCE_MS)
#: A bench screen, a phone upright, a phone held sideways.
SIZES = ((1024, 768), (390, 844), (844, 390))


@contextmanager
def launched() -> Iterator[Browser]:
    """The system's Chromium without a window."""
    path = shutil.which("chromium")
    if path is None:
        raise RuntimeError("No Chromium is installed. Run ./dev test, which installs it.")
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=path, args=list(ARGUMENTS))
        try:
            yield browser
        finally:
            browser.close()


@contextmanager
def page_of(
    browser: Browser,
    *,
    size: tuple[int, int] = SIZES[0],
    dark: bool = False,
    script: bool = True,
    touch: bool = False,
) -> Iterator[Page]:
    """A page in a fresh profile; with `touch` on a phone, where fingers are the pointer."""
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme="dark" if dark else "light",
        java_script_enabled=script,
        has_touch=touch,
        is_mobile=touch,
        locale="en-GB",
    )
    context.set_default_timeout(PATIENCE_MS)
    try:
        yield context.new_page()
    finally:
        context.close()


@contextmanager
def complaints(page: Page) -> Iterator[list[str]]:
    """What the browser complains of while the context lasts: blocked styles, broken scripts, missing files."""
    heard: list[str] = []

    def hear(message: ConsoleMessage) -> None:
        if message.type in ("error", "warning") and "Unprocessable" not in message.text:
            heard.append(message.text)

    page.on("console", hear)
    page.on("pageerror", lambda error: heard.append(str(error)))
    yield heard


ORDER = {
    "customer": "Fennbach Filters",
    "quantity": "3",
    "spares": "1",
    "diameter": "50.8 mm",
    "flat_length": "16 mm",
    "start_thickness": "500 µm",
    "start_ttv": "3 µm",
    "target_thickness": "100 µm",
    "tolerance": "2 µm",
    "ttv_limit": "2 µm",
    "edge_exclusion": "2 mm",
    "value_per_wafer": "400",
}
CHOICES = {"material": "LiTaO3", "mark": "flat", "hold": "free"}


def fill_order(page: Page, order_id: str, **changes: str) -> None:
    """Fill the order form with the invented order, changed where told; what is chosen first, for it shows fields."""
    for name, value in CHOICES.items():
        page.select_option(f"[name={name}]", value)
    for name, text in {"order_id": order_id, **ORDER, **changes}.items():
        page.fill(f"[name={name}]", text)


def enter_order(page: Page, address: str, order_id: str, **changes: str) -> None:
    """Enter an order by the form; ends on its Traveller."""
    page.goto(f"{address}/orders/new")
    fill_order(page, order_id, **changes)
    page.click("button:has-text('Record the order')")
    page.wait_for_url(f"**/orders/{order_id}")


def open_set(page: Page, address: str, order_id: str, wafer: str = "") -> None:
    """Open a set of readings with what the form proposes."""
    page.goto(f"{address}/orders/{order_id}/readings" + (f"?wafer={wafer}" if wafer else ""))
    page.click("button:has-text('Open the set')")
    page.wait_for_url("**/readings/*")


def type_value(page: Page, text: str, then: str) -> None:
    """Type a value and Enter, once the box has the focus; wait until the page asks for `then`."""
    box = page.locator("#value")
    expect(box).to_be_focused()
    expect(box).to_have_value("")
    page.wait_for_load_state()  # without its script the page sends one value and loads anew
    page.keyboard.type(text)
    page.keyboard.press("Enter")
    expect(page.locator("#sheet-asked")).to_have_text(then)
