"""Campaign of the recorder's storage: four stations, 100 readings a second each, hours of them as fast as they go in.

Usage: campaign_recorder.py [HOURS]. Writes a report to docs/reference/campaign-recorder.md.
"""

import asyncio
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from lapwright.gauges.clock import SYSTEM_CLOCK
from lapwright.testing.live import open_streams, ready_lot
from lapwright.testing.records import start_records

ROOT = Path(__file__).parents[2]
STATIONS, PER_SECOND = 4, 100
PORTION = 100  # readings of a station between commits; played fast, a second of the stream takes a tenth


def main(arguments):
    """Record everything, read it back, write the report."""
    hours = float(arguments[0]) if arguments else 8.0
    with tempfile.TemporaryDirectory() as folder:
        settings = start_records(Path(folder))
        streams = open_streams(ready_lot(settings), STATIONS)
        report = asyncio.run(record(settings, streams, round(hours * 3600 * PER_SECOND)))
        wrong = check(streams, round(hours * 3600 * PER_SECOND))
        size = (Path(folder) / "lapwright.sqlite3").stat().st_size
    lines = [*_head(hours), *report, f"| read back other than taken | {wrong} |", f"| database | {size / 1e6:.0f} MB |"]
    (ROOT / "docs" / "reference" / "campaign-recorder.md").write_text("\n".join(lines) + "\n", encoding="utf-8")
    print("\n".join(lines))
    return int(wrong > 0)


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


def _head(hours):
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.strip()
    return [
        "# Campaign: the recorder's storage",
        "",
        f"Made by `./dev campaign recorder {hours:g}` at commit {commit}: {STATIONS} stations, {PER_SECOND} readings a",
        f"second each, {hours:g} hours of them, as fast as they go in, with a commit for every second of the stream.",
        "",
        "| what | found |",
        "| --- | --- |",
    ]


def _memory():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
