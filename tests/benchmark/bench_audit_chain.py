"""What the audit chain costs: writing with it against the same writing without, on the same disk in the same run.

Three ways of writing: one reading typed at the gauge, a file of readings imported, and batches of the recorder. The
chain is taken out by leaving the notes of rows unwritten, so that all else is the same.
"""

import contextlib
import tempfile
import time
from pathlib import Path

import numpy as np

READINGS = 60
IMPORTED = 5_000
BATCHES = 300
ROUNDS = 5


def rows():
    """A line for each way of writing."""
    from lapwright.testing.records import close_records, start_records

    with tempfile.TemporaryDirectory() as folder:
        settings = start_records(Path(folder))
        try:
            return [
                _row(settings, f"{READINGS} readings typed, one commit each", _typed),
                _row(settings, f"{IMPORTED} readings imported, one commit", _imported),
                _row(settings, f"{BATCHES} batches of the recorder, 20 readings each", _batches),
            ]
        finally:
            close_records()


def _row(settings, name, write):
    with_chain, without = [], []
    for _ in range(ROUNDS):
        with_chain.append(_seconds(settings, write))
        with _no_chain():
            without.append(_seconds(settings, write))
    ours, reference = min(with_chain), min(without)
    conditions = f"SQLite, synchronous=FULL, best of {ROUNDS}"
    return {"name": name, "ours_s": ours, "reference_s": reference, "ratio": ours / reference, "conditions": conditions}


def _seconds(settings, write):
    from lapwright.testing.lot import Lot
    from lapwright.testing.records import empty_records

    empty_records(settings)
    lot = Lot()
    lot.furnish()
    lot.receive()
    prepared = write(lot)
    start = time.perf_counter()
    prepared()
    return time.perf_counter() - start


@contextlib.contextmanager
def _no_chain():
    from lapwright.records import chain
    from lapwright.records.writer import base

    kept, kept_there = chain.note, base.note
    chain.note = base.note = lambda _rows: None
    try:
        yield
    finally:
        chain.note, base.note = kept, kept_there


def _typed(lot):
    from lapwright.model.readings import Reading, Signature
    from lapwright.records import writer
    from lapwright.records.writer.readings import NewReading

    opened = _open(lot)

    def write():
        for number in range(READINGS):
            reading = Reading(site="1", x=0.0, y=0.0, thickness=500e-6, text="500.0", unit="µm", repeat=number + 1)
            writer.add_reading(opened, NewReading(reading=reading, kind="site"), Signature(**lot.why()))

    return write


def _imported(lot):
    from lapwright.model.readings import Reading, Signature
    from lapwright.records import writer
    from lapwright.records.writer.readings import NewReading, NewSet

    request = lot.request("AP-1-01", "wafer", "incoming")
    new = NewSet(request=request, pattern=_pattern(request))
    readings = [
        NewReading(
            reading=Reading(site="1", x=0.0, y=0.0, thickness=500e-6 + n * 1e-9, text=f"{500 + n / 1000}", unit="µm"),
            kind="site",
        )
        for n in range(IMPORTED)
    ]
    return lambda: writer.import_sets([(new, readings)], Signature(**lot.why()))


def _batches(lot):
    from lapwright.model.readings import Signature
    from lapwright.records import models, writer
    from lapwright.records.stream_blocks import Portion
    from lapwright.records.writer.streams import NewStream

    signature = Signature(**lot.why())
    station = models.Station.objects.get(station_id="L1")
    wafer = models.Wafer.objects.get(wafer_id="AP-1-01")
    signed = {"by": "local", "reason": "", "at": lot.now}
    route = models.Route.objects.create(order=wafer.order, plan={}, **signed)
    stage = models.Stage.objects.create(wafer=wafer, route=route, number=1, planned={}, state="running", **signed)
    run = models.Run.objects.create(stage=stage, wafer=wafer, station=station, **signed)
    stream = writer.begin_stream(
        NewStream(run_id=run.pk, feed=None, target=None, time=None, zero=0.0, rate=None), signature
    )

    def write():
        for number in range(BATCHES):
            times = np.round((number * 20 + np.arange(20)) * 0.01, 6)
            writer.add_portions(
                [Portion(stream_id=stream, times=times, lengths=np.round(times * 10) * 1e-7, events=())]
            )

    return write


def _open(lot):
    from lapwright.app import readings

    return readings.open_set(lot.request("AP-1-01", "wafer", "incoming"), **lot.why()).set_id


def _pattern(request):
    from lapwright.app.set_values import pattern_of

    return pattern_of(request)
