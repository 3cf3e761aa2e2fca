"""Server time of every page over a shop of 2 000 orders, 20 000 wafers and more than 2 million readings.

Asked in the process, as the test client of Django asks. The reference is the sheet for a new order, which asks the
database nothing, in the same run; so a busy machine moves both. `LAPWRIGHT_BENCH_ORDERS` makes a smaller shop.
"""

import os
import random
import tempfile
import time
from pathlib import Path

from lapwright.app import wiring
from lapwright.settings import read_settings
from lapwright.testing import large_shop

ORDERS = int(os.environ.get("LAPWRIGHT_BENCH_ORDERS", "2000"))
WAITING = max(1, ORDERS // 250)  # orders at each of five points of the job
ASKED = 20


def rows():
    """One row a page: 95th percentile of the first answers after a write, each for another order where it has one."""
    with tempfile.TemporaryDirectory() as folder:
        wiring.start(read_settings({"data": Path(folder)}))
        large_shop.fill(finished=ORDERS - 5 * WAITING, waiting=WAITING)
        held = large_shop.counts()
        pages = _pages()
        for listed in pages.values():
            _seconds(listed[0])  # imports and templates are loaded
        reference = _p95(pages["new order"])
        conditions = f"p95 of {ASKED}, {held['order']} orders, {held['wafer']} wafers, {held['reading']} readings"
        return [
            {"name": f"page: {name}", "ours_s": found, "reference_s": reference, "ratio": found / reference,
             "conditions": conditions}
            for name, listed in pages.items()
            for found in (_p95(listed),)
        ]  # fmt: skip


def _pages():
    from lapwright.app import orders

    chance = random.Random(1)
    some = chance.sample([line.order_id for line in orders.list_orders()][: ORDERS - 1], ASKED)
    wafers = {name: chance.choice(orders.show_order(name).order.wafer_ids) for name in some}
    sets = {name: [one.set_id for one in orders.show_wafer(wafers[name]).sets] for name in some}
    fixed = {"new order": "/orders/new", "hands": "/", "orders": "/orders", "stations": "/stations",
             "countdown": "/stations/L1", "gauges": "/gauges", "gauge": "/gauges/G1", "drift": "/drift",
             "fringes": "/surfaces", "finish": "/profiles", "plates": "/plates"}  # fmt: skip
    return {name: [address] * ASKED for name, address in fixed.items()} | {
        "traveller": [f"/orders/{name}" for name in some],
        "wafer": [f"/orders/{name}/wafers/{wafers[name]}" for name in some],
        "job sheet": [f"/orders/{name}/wafers/{wafers[name]}/sheet" for name in some],
        "readings": [f"/orders/{name}/readings" for name in some],
        "set": [f"/orders/{name}/readings/{sets[name][-1]}" for name in some if sets[name]],
    }


def _p95(addresses):
    found = sorted(_seconds(address) for address in addresses)
    return found[min(len(found) - 1, round(0.95 * len(found)))]


def _seconds(address):
    from django.test import Client

    client = Client(HTTP_HOST="localhost")
    start = time.perf_counter()
    answer = client.get(address)
    took = time.perf_counter() - start
    assert answer.status_code == 200, (address, answer.status_code)
    return took
