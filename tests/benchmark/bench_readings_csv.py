"""Reading and validating a readings file of a million rows, against pandas in the same run.

The reference reads the file with `pandas.read_csv` (its C parser) and does the checks that are simple to write with it:
numbers above zero, and each site at one place. It neither names rows nor builds sets.
"""

import tempfile
import time
import tracemalloc
from pathlib import Path

import numpy as np
import pandas as pd

from lapwright.formats.readings_csv import read_readings

ROWS = 1_000_000
REPEATS = 3


def rows():
    """Three shapes of file: production (17 sites a wafer), maps (10 000 sites a wafer), and a German one."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "readings.csv"
        found = []
        for name, sites, foreign in (("17 sites a wafer", 17, False), ("10 000 sites a wafer", 10_000, False),
                                     ("17 sites, semicolons and decimal commas", 17, True)):  # fmt: skip
            _write(path, sites, foreign=foreign)
            found += _measured(path, name, foreign=foreign)
        return found


def _measured(path, name, *, foreign):
    reading, reference, sets = [], [], []
    for _ in range(REPEATS):
        reference.append(_seconds(lambda: _with_pandas(path, foreign=foreign))[0])
        seconds, file = _seconds(lambda: read_readings(path))
        reading.append(seconds)
        sets.append(_seconds(file.sets)[0])
    conditions = f"{ROWS:_} rows, best of {REPEATS}, peak {_peak(path):.0f} MB"
    return [
        _row(f"read and validate readings: {name}", min(reading), min(reference), conditions),
        _row(f"the same and build all sets: {name}", min(reading) + min(sets), min(reference), conditions),
    ]


def _row(name, ours, reference, conditions):
    return {"name": name, "ours_s": ours, "reference_s": reference, "ratio": ours / reference, "conditions": conditions}


def _seconds(work):
    start = time.perf_counter()
    result = work()
    return time.perf_counter() - start, result


def _peak(path):
    """Largest memory that reading holds at once, in MB."""
    tracemalloc.start()
    read_readings(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def _with_pandas(path, *, foreign):
    frame = pd.read_csv(path, sep=";", decimal=",") if foreign else pd.read_csv(path)
    places = frame.groupby(["wafer", "site"], sort=False)[["x_mm", "y_mm"]].nunique()
    return bool((frame["thickness_um"] > 0).all()), bool((places == 1).all(axis=None))


def _write(path, sites, *, foreign):
    values = (500 + np.random.default_rng(1).normal(0, 1, ROWS)).round(2).tolist()
    lines = (
        f"W{n // sites},P{n % sites},{n % sites % 7 * 10.5 - 30:.1f},{n % sites // 7 * 0.05:.2f},{value}\n"
        for n, value in enumerate(values)
    )
    if foreign:
        lines = (line.replace(",", ";").replace(".", ",") for line in lines)
    with path.open("w", encoding="utf-8") as stream:
        stream.write("wafer;site;x_mm;y_mm;thickness_um\n" if foreign else "wafer,site,x_mm,y_mm,thickness_um\n")
        stream.writelines(lines)
