"""A backup of a large database: time and memory at two sizes, and what follows from them for 10 GB.

The database is filled with blocks of raw readings, which are what a large one consists of, each told in the audit
chain. Time is compared with a plain copy of the same file in the same run. Memory is the largest resident size of the
process and of the one that verifies the restored copy. `BENCH_MB` sets the sizes, as in ``100,400``.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SIZES = tuple(int(one) for one in os.environ.get("BENCH_MB", "100,400").split(","))
CLASS_MB = 10_000
AT_ONCE = 5_000  # blocks in one transaction


def rows():
    """One row for each size with and without the trial restoration; the last two say what 10 GB would take."""
    measured = {mega: _measured(mega) for mega in SIZES}
    found = []
    for mega, (size, plain, both) in measured.items():
        for name, (seconds, peak) in both.items():
            found.append(_row(f"{name} of {mega} MB", seconds, plain, f"{size / 1e6:.0f} MB, peak {peak:.0f} MB"))
    small, large = (measured[one] for one in (min(SIZES), max(SIZES)))
    for name in ("backup", "backup with its trial"):
        slope = (large[2][name][0] - small[2][name][0]) / (large[0] - small[0])
        growth = (large[2][name][1] - small[2][name][1]) / (large[0] - small[0])
        seconds = large[2][name][0] + slope * (CLASS_MB * 1e6 - large[0])
        peak = large[2][name][1] + growth * (CLASS_MB * 1e6 - large[0])
        plain = large[1] * CLASS_MB * 1e6 / large[0]
        found.append(_row(f"{name} of 10 GB, extrapolated", seconds, plain, f"straight line; peak {peak:.0f} MB"))
    return found


# ----------------------------------------------------------------------------------------------------------------------


def _row(name, seconds, plain, conditions):
    return {"name": name, "ours_s": seconds, "reference_s": plain, "ratio": seconds / plain, "conditions": conditions}


def _measured(mega):
    """Bytes of the database, seconds of a plain copy, and for each way of backing up the seconds and the peak in MB."""
    with tempfile.TemporaryDirectory() as place:
        data = Path(place) / "data"
        subprocess.run([sys.executable, __file__, str(data), str(mega)], check=True)
        database = data / "lapwright.sqlite3"
        ways = {
            "backup": _run(data, Path(place) / "first", "--no-trial"),
            "backup with its trial": _run(data, Path(place) / "second"),
        }
        return database.stat().st_size, _plain_copy(database, Path(place) / "copy"), ways


def _run(data, folder, *options):
    command = [sys.executable, "-m", "lapwright", "backup", "--data", str(data), "--to", str(folder), *options]
    begun = time.perf_counter()
    bare = {name: value for name, value in os.environ.items() if not name.startswith("LAPWRIGHT_")}
    process = subprocess.Popen(command, env=bare, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0
    took = time.perf_counter() - begun
    shutil.rmtree(folder)
    return took, used.ru_maxrss / 1024.0


def _plain_copy(source, target):
    begun = time.perf_counter()
    with source.open("rb") as reading, target.open("wb") as writing:
        shutil.copyfileobj(reading, writing, 1 << 20)
        writing.flush()
        os.fsync(writing.fileno())
    return time.perf_counter() - begun


def _fill(data, mega):
    """One stream of an invented run, until the file is large enough."""
    from lapwright.app import wiring
    from lapwright.settings import read_settings

    wiring.start(read_settings({"data": data}, environ={}))
    _fill_started(data, mega)


def _fill_started(data, mega):
    import numpy as np

    from lapwright.model.readings import Signature
    from lapwright.records import models, writer
    from lapwright.records.faults import one_transaction
    from lapwright.records.stream_blocks import packed
    from lapwright.records.writer.streams import NewStream
    from lapwright.testing.lot import Lot

    bench = Lot()
    bench.furnish()
    bench.receive()
    why = bench.why()
    wafer, station = models.Wafer.objects.get(wafer_id="AP-1-01"), models.Station.objects.get(station_id="L1")
    route = models.Route.objects.create(order=wafer.order, plan={}, **why)
    stage = models.Stage.objects.create(wafer=wafer, route=route, number=1, planned={}, state="running", **why)
    run = models.Run.objects.create(stage=stage, wafer=wafer, station=station, **why)
    new = NewStream(run_id=run.pk, feed=None, target=None, time=None, zero=0.0, rate=None)
    stream = writer.begin_stream(new, Signature(**why))
    noise, number = np.random.default_rng(1), 0
    while (data / "lapwright.sqlite3").stat().st_size < mega * 1e6:
        with one_transaction():
            blocks = []
            for _ in range(AT_ONCE):
                times = np.round(np.arange(200) * 0.02, 6)
                lengths = np.round(1e-6 * number + noise.normal(0.0, 0.35e-6, 200), 8)
                blocks.append(
                    models.StreamBlock(stream_id=stream, number=number, count=200, data=packed(times, lengths))
                )
                number += 1
            models.StreamBlock.objects.bulk_create(blocks)


if __name__ == "__main__":
    _fill(Path(sys.argv[1]), int(sys.argv[2]))
