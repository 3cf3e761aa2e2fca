"""Campaign of the recorder's storage: four stations, 100 readings a second each, hours of them as fast as they go in.

Meanwhile a server of the pages works on the same database file, and clients ask it for page after page without a pause;
one of them records readings, so that two processes write.

Usage: campaign_recorder.py [HOURS]. Writes a report to docs/reference/campaign-recorder.md.
"""

import asyncio
import http.client
import json
import os
import re
import resource
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from urllib.parse import urlencode, urlsplit

import numpy as np

from lapwright.gauges.clock import SYSTEM_CLOCK
from lapwright.testing.live import open_streams, ready_lot
from lapwright.testing.lot import ORDER
from lapwright.testing.records import start_records

ROOT = Path(__file__).parents[2]
STATIONS, PER_SECOND = 4, 100
PORTION = 100  # readings of a station between commits; played fast, a second of the stream takes a tenth
CLIENTS = 4  # that ask without a pause
PAGES = (
    "/",
    "/stations",
    "/stations/L1",
    "/orders",
    "/orders/AP-1",
    "/orders/AP-1/wafers/AP-1-01",
    "/gauges",
    "/health",
)
SETS = 40  # of 182 readings each, for the client that records


def main(arguments):
    """Record everything, read it back, write the report."""
    hours = float(arguments[0]) if arguments else 8.0
    with tempfile.TemporaryDirectory() as folder:
        settings = start_records(Path(folder))
        lot = ready_lot(settings)
        sets, streams = open_sets(lot), open_streams(lot, STATIONS)
        count = round(hours * 3600 * PER_SECOND)
        with hammered(folder, sets) as asked:
            report = asyncio.run(record(settings, streams, count))
        wrong = check(streams, count)
        missing = sum(len(taken) for taken in asked["taken"].values()) - readings_of(asked["taken"])
        size = (Path(folder) / "lapwright.sqlite3").stat().st_size
    lines = [
        *_head(hours),
        *report,
        f"| read back other than taken | {wrong} |",
        *_pages_lines(asked, missing),
        f"| database | {size / 1e6:.0f} MB |",
    ]
    (ROOT / "docs" / "reference" / "campaign-recorder.md").write_text("\n".join(lines) + "\n", encoding="utf-8")
    print("\n".join(lines))
    return int(wrong > 0 or missing != 0 or bool(asked["failed"]))


def open_sets(lot):
    """Wafers of a further order, each with a set that is open and long."""
    from lapwright.app import readings

    lot.receive(replace(ORDER, order_id="AP-2", quantity=SETS))
    wafers = [f"AP-2-{number + 1:02d}" for number in range(SETS)]
    return [
        readings.open_set(lot.request(wafer, "wafer", "incoming", repeats=20), **lot.why()).set_id for wafer in wafers
    ]


@contextmanager
def hammered(folder, sets):
    """A server over the same folder and clients that ask it all the time; what they were answered."""
    environment = {**os.environ, "LAPWRIGHT_DATA": str(folder)}
    command = [sys.executable, "-m", "lapwright", "serve", "--port", "0", "--no-recorder", "--json"]
    server = subprocess.Popen(command, env=environment, stdout=subprocess.PIPE)
    told = {"seconds": [], "failed": [], "taken": {}}
    done = threading.Event()
    try:
        place = urlsplit(json.loads(server.stdout.readline())["result"]["address"]).netloc
        work = [threading.Thread(target=look, args=(place, done, told)) for _ in range(CLIENTS - 1)]
        work.append(threading.Thread(target=take, args=(place, done, told, sets)))
        for one in work:
            one.start()
        yield told
        done.set()
        for one in work:
            one.join()
    finally:
        done.set()
        server.terminate()
        server.wait(timeout=30.0)
        server.stdout.close()


def look(place, done, told):
    """One page after the other."""
    while not done.is_set():
        for page in PAGES:
            asked(place, told, "GET", page)


def take(place, done, told, sets):
    """One reading after the other, until the sets are full."""
    for set_id in sets:
        page = f"/orders/AP-2/readings/{set_id}"
        _, text, headers = asked(place, told, "GET", page)
        token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', text)[1]
        cookie = "; ".join(one.split(";")[0] for one in headers.get_all("Set-Cookie", []))
        taken = told["taken"].setdefault(set_id, [])
        while not done.is_set() and len(taken) < 181:
            value = f"{500 + len(taken) % 7 / 100:.2f}" if taken else "0.0"
            body = urlencode({"csrfmiddlewaretoken": token, "seen": len(taken), "value": value})
            status, answer, _ = asked(place, told, "POST", f"{page}/take", body, cookie)
            if status == 200 and f'data-seen="{len(taken) + 1}"' in answer:
                taken.append(value)
            else:
                told["failed"].append((status, "take"))
                return


def asked(place, told, method, address, body=None, cookie=""):
    """One request, timed."""
    headers = {"Cookie": cookie}
    if body is not None:
        headers |= {"Content-Type": "application/x-www-form-urlencoded", "X-Part": "sheet"}
    client, begun = http.client.HTTPConnection(place, timeout=60.0), time.perf_counter()
    client.request(method, address, body, headers)
    answer = client.getresponse()
    text = answer.read().decode()
    client.close()
    told["seconds"].append(time.perf_counter() - begun)
    if answer.status != 200:
        told["failed"].append((answer.status, address))
    return answer.status, text, answer.headers


def readings_of(taken):
    """How many of the readings that a page acknowledged are on record as they were sent."""
    from lapwright.app import readings

    return sum(
        sum(one.reading.text == sent for one, sent in zip(readings.show_set(set_id).readings, values, strict=False))
        for set_id, values in taken.items()
    )


async def record(settings, streams, count):
    """All readings through the recorder's store, a commit for every second of the stream's time."""
    from lapwright.app.recorder.store import Store
    from lapwright.records import stream_queries, writer

    del settings
    slowest, begun, before = 0.0, time.perf_counter(), _memory()
    async with Store(writer.add_portions, clock=SYSTEM_CLOCK, leave=stream_queries.close_connection) as store:
        for first in range(0, count, PORTION):
            for number, stream_id in enumerate(streams):
                for moment, length in zip(*readings(number, first, PORTION), strict=True):
                    store.add(stream_id, moment, length)
            commit = time.perf_counter()
            await store.flush()
            slowest = max(slowest, time.perf_counter() - commit)
    took = time.perf_counter() - begun
    return [
        f"| readings taken | {count * STATIONS} |",
        f"| lost | {store.lost} |",
        f"| committed | {sum(store.stored.values())} |",
        f"| time | {took:.0f} s, {count / PER_SECOND / took:.1f} times as fast as they come |",
        f"| slowest commit | {slowest * 1e3:.0f} ms |",
        f"| growth of memory | {_memory() - before:.0f} MB |",
    ]


def readings(number, first, count):
    """Readings of a station, made anew whenever they are asked for."""
    rng = np.random.default_rng([number, first])
    times = np.round((np.arange(first, first + count) + 1.0 + 0.3 * rng.uniform(-1, 1, count)) / PER_SECOND, 6)
    lengths = np.round((2.0 / 60.0 * times + 0.5 * rng.standard_normal(count)) * 10.0) / 1e7
    return times.tolist(), lengths.tolist()


def check(streams, count):
    """Readings that did not come back as they were taken."""
    from lapwright.records import stream_queries

    wrong = 0
    for number, stream_id in enumerate(streams):
        times, lengths = stream_queries.stream_readings(stream_id)
        for first in range(0, count, PORTION):
            taken = readings(number, first, PORTION)
            back = (times[first : first + PORTION].tolist(), lengths[first : first + PORTION].tolist())
            wrong += 0 if back == tuple(taken) else PORTION
    return wrong


def _pages_lines(asked, missing):
    seconds = sorted(asked["seconds"])
    middle, p95 = (seconds[round(share * (len(seconds) - 1))] * 1e3 for share in (0.5, 0.95))
    recorded = sum(len(taken) for taken in asked["taken"].values())
    return [
        f"| pages asked for meanwhile | {len(seconds)}, by {CLIENTS} clients without a pause |",
        f"| their answers, median and p95 | {middle:.0f} ms, {p95:.0f} ms |",
        f"| answers other than 200 | {len(asked['failed'])} |",
        f"| readings recorded by a page meanwhile | {recorded} |",
        f"| of them missing afterwards | {missing} |",
        f"| load of the machine | {os.getloadavg()[1]:.1f} (two cores) |",
    ]


def _head(hours):
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.strip()
    return [
        "# Campaign: the recorder's storage",
        "",
        f"Made by `./dev campaign recorder {hours:g}` at commit {commit}: {STATIONS} stations, {PER_SECOND} readings a",
        f"second each, {hours:g} hours of them, as fast as they go in, with a commit for every second of the stream, while",
        "a server of the pages on the same SQLite file was asked without a pause.",
        "",
        "| what | found |",
        "| --- | --- |",
    ]


def _memory():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
