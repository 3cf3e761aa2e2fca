"""Server time and first load of every page over a shop of 2 000 orders, 20 000 wafers and 2.7 million readings.

Server time is asked in the process, as the test client of Django asks; after each answer something is written, so that
nothing kept until the next write is of use. Sixty answers a page, each for another order where it has one: the 57th in
the order of time is the 95th percentile, the slowest is told beside it. The reference is the sheet for a new order,
which asks the database nothing, in the same run; so a busy machine moves both. The Board is asked as a server asks it:
a planner works beside it, once after notes, and once while every answer finds the plan old and the planner at work.
Which pages there are says `lapwright.testing.page_list`; what stands in the shop besides its orders, `large_desk`.
Then a real server is started and asked for each page once, as soon as it answers and again once it has made itself
ready; then by a real browser with an empty cache: time to the first contentful paint, and all that was transferred;
nothing is compressed on the way.

`BENCH_ORDERS` makes a smaller shop; `BENCH_DATA` names a folder in which the shop is made once and found again;
`BENCH_CLOCK=processor` counts the processor's time of an answer instead, for a machine that others keep busy.
"""

import math
import os
import statistics
import tempfile
import time
from contextlib import contextmanager
from datetime import UTC, datetime
from importlib import import_module
from pathlib import Path
from urllib.request import urlopen

from lapwright.app import wiring
from lapwright.model.board import BoardPlace
from lapwright.settings import read_settings
from lapwright.testing import large_desk, large_shop, page_list
from lapwright.testing.browsing import launched, page_of
from lapwright.testing.served import served

ORDERS = int(os.environ.get("BENCH_ORDERS", "2000"))
WAITING = max(1, ORDERS // 250)  # orders at each of five points of the job
ASKED = 60
CLOCK = time.process_time if os.environ.get("BENCH_CLOCK") == "processor" else time.perf_counter
LOADED = 3  # first loads of a page, the median counts
MADE_READY = 30.0  # s after which a server has made ready what its first answers want
#: What is asked for by pages and programs and is none itself.
NO_PAGES = ("api:", "station_past", "station_readings", "practice_live", "document", "plate_shape", "health", "metrics",
            "board_state")  # fmt: skip


def rows():
    """One row a page: 95th percentile of the answers after a write, and the slowest."""
    with _shop() as folder:
        held = large_shop.counts()
        pages = page_list.questions(page_list.shop(ASKED))
        pages = {name: listed for name, listed in pages.items() if listed}
        _plan()
        for listed in pages.values():
            _seconds(listed[0])  # imports and templates are loaded
        note = _note_of()
        reference = _asked(pages["order_new"], note)[0]
        of = f"{held['order']} orders, {held['wafer']} wafers, {held['reading']} readings"
        found = []
        asked = [(name, listed, note) for name, listed in pages.items()]
        for name, listed, write in [*asked, ("board, planned anew", pages["board"], _new_place)]:
            p95, slowest = _asked(listed, write)
            found.append({
                "name": f"page: {name}", "ours_s": p95, "reference_s": reference, "ratio": p95 / reference,
                "conditions": f"p95 of {ASKED}, slowest {1e3 * slowest:.0f} ms, {of}",
            })  # fmt: skip
        return found + _first_answers(folder, pages) + _first_loads(folder, pages)


@contextmanager
def _shop():
    """The data folder of the shop, started in this process."""
    kept = os.environ.get("BENCH_DATA")
    with tempfile.TemporaryDirectory() as passing:
        folder = Path(kept or passing)
        is_made = (folder / "lapwright.sqlite3").exists()
        wiring.start(read_settings({"data": folder}), serving=True)
        if not is_made:
            large_shop.fill(finished=ORDERS - large_shop.WAITING_POINTS * WAITING, waiting=WAITING)
            large_desk.fill()
        import_module("lapwright.web.asgi").MADE_READY.join()  # what a server sets up when it starts
        yield folder


def _asked(listed, write):
    """95th percentile and slowest of the answers."""
    found = []
    for asked in listed:
        found.append(_seconds(asked))
        write()
    found.sort()
    return found[math.ceil(0.95 * len(found)) - 1], found[-1]


def _seconds(asked):
    from django.test import Client

    client = Client(HTTP_HOST="localhost")
    start = CLOCK()
    answer = client.get(asked.address) if asked.sent is None else client.post(asked.address, asked.sent)
    took = CLOCK() - start
    assert answer.status_code == 200, (asked, answer.status_code)
    return took


def _first_answers(folder, pages):
    """The first answer of each page of a server that has just started, and of one that has made itself ready."""
    found = []
    for when, waits in (("as soon as it answers", 0.0), (f"{MADE_READY:g} s after its start", MADE_READY)):
        with served(folder) as address:
            time.sleep(waits)
            for name, listed in pages.items():
                if listed[0].sent is not None:
                    continue
                start = time.perf_counter()
                with urlopen(address + listed[0].address) as answer:
                    answer.read()
                took = time.perf_counter() - start
                found.append({"name": f"first answer: {name}", "ours_s": took, "reference_s": 0.1, "ratio": took / 0.1,
                              "conditions": f"{when}, all pages one after the other, loopback"})  # fmt: skip
    return found


def _plan():
    """The Board worked out once, by the planner beside this process."""
    from lapwright.app import queue, queue_drafts
    from lapwright.app.queue_kept import Sought

    now = datetime.now(tz=UTC)
    queue_drafts.awaited(Sought(at=queue.moment(now), is_now=True), now)


def _note_of():
    """What writes one more note on one order, as a busy shop writes."""
    from lapwright.app import orders

    name = orders.list_orders(count=1)[0].order_id
    return lambda: orders.add_note(name, "Looked at.", by="local", reason="bench", at=datetime.now(tz=UTC))


def _new_place():
    """Something that the Board's plan rests on: it is old from then on."""
    from lapwright.app import queue_settings

    now = datetime.now(tz=UTC)
    place = BoardPlace(place_id="B1", name=f"bonder as of {now:%H:%M:%S.%f}", kind="bond")
    queue_settings.put_place(place, by="local", reason="bench", at=now)


def _first_loads(folder, pages):
    """First contentful paint and bytes of each page in a browser that has nothing in its cache."""
    found = []
    with served(folder) as address, launched() as browser:
        for name, listed in pages.items():
            if listed[0].sent is not None or name.startswith(NO_PAGES):
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
