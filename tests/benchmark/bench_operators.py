"""Fifty operators at once on PostgreSQL: one server process, the load from a second one, all on this machine.

An operator reads a wafer: types a value, looks at the wafer, at Hands, at the stations, and waits a while in between,
five seconds on average (from two to eight, drawn anew each time). Quicker than a probe is set down and a number typed;
common practice, no source. The reference is one operator of the same habits alone, in the same run.

Also as a program: ``python tests/benchmark/bench_operators.py --operators 50 --wait 5 --seconds 60 --servers 2``.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import random
import re
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path
from urllib.parse import urlencode

OPERATORS, WAIT, SECONDS = 50, 5.0, 60.0
PER_ORDER = 5
#: What an operator does next: share, and which address.
HABITS = ((0.5, "take"), (0.2, "wafer"), (0.15, "hands"), (0.1, "stations"), (0.05, "traveller"))


def rows():
    """All requests of fifty operators, and those that record a reading, against the same of one alone."""
    measured = measure(OPERATORS, wait=WAIT, seconds=SECONDS, servers=1)
    alone, crowd = measured["alone"], measured["crowd"]
    return [
        {"name": f"{len(_of(crowd, kinds))} requests: {name}", "ours_s": _p95(_of(crowd, kinds)),
         "reference_s": _p95(_of(alone, kinds)), "ratio": _p95(_of(crowd, kinds)) / _p95(_of(alone, kinds)),
         "conditions": f"p95, {OPERATORS} operators, {WAIT:g} s between, PostgreSQL, load {measured['load']:.1f} before"}
        for name, kinds in (("all", None), ("readings recorded", {"take"}))
    ]  # fmt: skip


def measure(operators, *, wait, seconds, servers):
    """Seconds of each request by kind: of one operator alone, then of all of them."""
    from lapwright.testing.postgresql import postgresql

    with tempfile.TemporaryDirectory() as folder, ExitStack() as stack:
        data = Path(folder) / "data"
        data.mkdir()
        address = stack.enter_context(postgresql())
        environment = {**os.environ, "LAPWRIGHT_DATA": str(data), "LAPWRIGHT_DATABASE": address}
        made = subprocess.run(
            [sys.executable, __file__, "--prepare", str(operators + 1)],
            env=environment,
            check=True,
            capture_output=True,
        )
        benches = json.loads(made.stdout.splitlines()[-1])
        served = [stack.enter_context(_served(environment)) for _ in range(servers)]
        ports = [port for port, _ in served]
        load = os.getloadavg()[0]
        alone = _crowd(benches[:1], ports, wait=min(wait, 0.5), seconds=15.0)
        before = sum(_processor_seconds(pid) for _, pid in served)
        crowd = _crowd(benches[1:], ports, wait=wait, seconds=seconds)
        spent = sum(_processor_seconds(pid) for _, pid in served) - before
        return {"alone": alone, "crowd": crowd, "load": load, "processor_s": spent / len(crowd)}


# ----------------------------------------------------------------------------------------------------------------------


def _prepare(count):
    """An order for every five operators, for each operator a wafer whose incoming set is open; all invented."""
    from lapwright.app import readings, wiring
    from lapwright.settings import read_settings
    from lapwright.testing.lot import ORDER, Lot

    wiring.start(read_settings({}))
    bench = Lot()
    bench.furnish()
    benches = []
    for number in range(-(-count // PER_ORDER)):
        order = replace(ORDER, order_id=f"OP-{number + 1}", quantity=PER_ORDER)
        bench.receive(order)
        for position in range(PER_ORDER):
            wafer = f"{order.order_id}-{position + 1:02d}"
            opened = readings.open_set(bench.request(wafer, "wafer", "incoming", repeats=20), **bench.why())
            benches.append({"order": order.order_id, "wafer": wafer, "set": opened.set_id})
    print(json.dumps(benches[:count]))


@contextmanager
def _served(environment):
    command = [sys.executable, "-m", "lapwright", "serve", "--port", "0", "--no-recorder", "--json"]
    process = subprocess.Popen(command, env=environment, stdout=subprocess.PIPE)
    try:
        told = json.loads(process.stdout.readline())
        yield int(re.search(r":(\d+)/$", told["result"]["address"])[1]), process.pid
    finally:
        process.terminate()
        process.wait(timeout=20.0)
        process.stdout.close()


def _crowd(benches, ports, *, wait, seconds):
    found, lock = [], threading.Lock()
    until = time.monotonic() + seconds
    threads = [
        threading.Thread(target=_operate, args=(bench, ports[number % len(ports)], number, wait, until, found, lock))
        for number, bench in enumerate(benches)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    failed = [one for one in found if not one[2]]
    assert not failed, failed[:3]
    return [(kind, took) for kind, took, _ in found]


def _operate(bench, port, number, wait, until, found, lock):
    chance = random.Random(number)
    page = f"/orders/{bench['order']}/readings/{bench['set']}"
    addresses = {
        "take": f"{page}/take", "wafer": f"/orders/{bench['order']}/wafers/{bench['wafer']}", "hands": "/",
        "stations": "/stations", "traveller": f"/orders/{bench['order']}",
    }  # fmt: skip
    time.sleep(chance.random() * wait)
    _, text, headers = _asked(port, "GET", page)
    form = {"csrfmiddlewaretoken": re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', text)[1]}
    cookie = "; ".join(one.split(";")[0] for one in headers.get_all("Set-Cookie", []))
    seen = 0
    while time.monotonic() < until:
        kind = chance.choices([name for _, name in HABITS], [share for share, _ in HABITS])[0]
        body = None
        if kind == "take":
            form |= {"seen": seen, "value": f"{500 + chance.gauss(0, 0.05):.2f}" if seen else "0.0"}
            body = urlencode(form)
        begun = time.perf_counter()
        status, answer, _ = _asked(port, "GET" if body is None else "POST", addresses[kind], body, cookie)
        took = time.perf_counter() - begun
        good = status == 200
        if kind == "take":
            seen += 1
            good = good and f'data-seen="{seen}"' in answer
        with lock:
            found.append((kind, took, good))
        time.sleep(wait * (0.4 + 1.2 * chance.random()))


def _asked(port, method, address, body=None, cookie=""):
    headers = {"Cookie": cookie}
    if body is not None:
        headers |= {"Content-Type": "application/x-www-form-urlencoded", "X-Part": "sheet"}
    client = http.client.HTTPConnection("127.0.0.1", port, timeout=30.0)
    client.request(method, address, body, headers)
    answer = client.getresponse()
    text = answer.read().decode()
    client.close()
    return answer.status, text, answer.headers


def _processor_seconds(pid):
    """What a process has used of the processors so far; a busy machine does not change it much."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _of(found, kinds):
    return [took for kind, took in found if kinds is None or kind in kinds]


def _p95(seconds):
    ordered = sorted(seconds)
    return ordered[min(len(ordered) - 1, round(0.95 * len(ordered)))]


def _main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--prepare", type=int)
    parser.add_argument("--operators", type=int, default=OPERATORS)
    parser.add_argument("--wait", type=float, default=WAIT)
    parser.add_argument("--seconds", type=float, default=SECONDS)
    parser.add_argument("--servers", type=int, default=1)
    given = parser.parse_args()
    if given.prepare:
        _prepare(given.prepare)
        return
    measured = measure(given.operators, wait=given.wait, seconds=given.seconds, servers=given.servers)
    spent = measured["processor_s"] * 1e3
    print(f"load before {measured['load']:.2f}, after {os.getloadavg()[0]:.2f}; {spent:.1f} ms of processor a request")
    for who in ("alone", "crowd"):
        for kinds in (None, *({name} for _, name in HABITS)):
            took = sorted(_of(measured[who], kinds))
            if took:
                name = "all" if kinds is None else next(iter(kinds))
                middle, p95 = took[len(took) // 2] * 1e3, _p95(took) * 1e3
                print(
                    f"{who:6} {name:10} n={len(took):5} median {middle:6.1f} ms  p95 {p95:6.1f} ms  max {took[-1] * 1e3:6.1f} ms"
                )


if __name__ == "__main__":
    _main()
