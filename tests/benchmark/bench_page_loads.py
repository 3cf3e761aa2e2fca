"""First answers of every page of a server that has just started, and its first load in a browser with an empty cache.

Over the laboratory of `laboratory`. A real server is started and asked for each page once, as soon as it answers, and
again once it has made itself ready; then by a real browser: time to the first contentful paint, and all that was
transferred, as it is sent: packed where it is large.
"""

import statistics
import time
from urllib.request import urlopen

from laboratory import laboratory

from lapwright.testing import page_list
from lapwright.testing.browsing import launched, page_of
from lapwright.testing.served import served

LOADED = 3  # first loads of a page, the median counts
MADE_READY = 30.0  # s after which a server has made ready what its first answers want
#: What is asked for by pages and programs and is none itself.
NO_PAGES = ("api:", "station_past", "station_readings", "practice_live", "document", "plate_shape", "health", "metrics",
            "board_state")  # fmt: skip


def rows():
    """Rows for the first answer, and for the first load, of each page that is read and not sent to."""
    with laboratory() as folder:
        asked = page_list.questions(page_list.shop(2 + LOADED))
        pages = {name: listed for name, listed in asked.items() if listed and listed[0].sent is None}
        return _first_answers(folder, pages) + _first_loads(folder, pages)


def _first_answers(folder, pages):
    """The first answer of each page of a server that has just started, and of one that has made itself ready."""
    found = []
    for when, waits in (("as soon as it answers", 0.0), (f"{MADE_READY:g} s after its start", MADE_READY)):
        with served(folder) as address:
            time.sleep(waits)
            for name, listed in pages.items():
                start = time.perf_counter()
                with urlopen(address + listed[0].address) as answer:
                    answer.read()
                took = time.perf_counter() - start
                found.append({"name": f"first answer: {name}", "ours_s": took, "reference_s": 0.1, "ratio": took / 0.1,
                              "conditions": f"{when}, all pages one after the other, loopback"})  # fmt: skip
    return found


def _first_loads(folder, pages):
    """First contentful paint and bytes of each page in a browser that has nothing in its cache."""
    found = []
    with served(folder) as address, launched() as browser:
        for name, listed in pages.items():
            if name.startswith(NO_PAGES):
                continue
            for other in listed[:2]:
                _loaded(browser, address + other.address)  # the server has its templates by then
            loads = [_loaded(browser, address + other.address) for other in listed[2 : 2 + LOADED]]
            paint = statistics.median(paint for paint, _bytes in loads)
            most = max(size for _paint, size in loads)
            conditions = f"{most / 1e3:.0f} kB transferred (asked: 300), median of {LOADED}, empty cache, loopback"
            found.append({"name": f"first paint: {name}", "ours_s": paint, "reference_s": 0.5, "ratio": paint / 0.5,
                          "conditions": conditions})  # fmt: skip
    return found


def _loaded(browser, address):
    with page_of(browser) as page:
        network = page.context.new_cdp_session(page)
        sizes = []
        network.on("Network.loadingFinished", lambda told: sizes.append(told["encodedDataLength"]))
        network.send("Network.enable")
        page.goto(address, wait_until="networkidle" if "/stations" not in address else "load")
        paint = page.evaluate(
            "async () => { for (let i = 0; i < 100; i += 1) {"
            " const found = performance.getEntriesByName('first-contentful-paint')[0];"
            " if (found) return found.startTime;"
            " await new Promise((done) => setTimeout(done, 50)); } return null; }"
        )
        return paint / 1e3, sum(sizes)
