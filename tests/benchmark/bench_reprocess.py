"""Recorded fringe pictures of one megapixel computed anew: two workers against one, and memory against their number.

`BENCH_FACES` sets how many pictures (200 unless given). Each is recorded once with its numbers; the pictures
are copies of a dozen different ones, so that the store stays small and every one is still read and computed.
"""

import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import psutil

SIDE = 1000
KINDS = 12
FEW = 24  # pictures of the run that memory is compared with


def rows():
    """Time of one worker over two, and the peak of memory with few pictures and with all."""
    count = int(os.environ.get("BENCH_FACES", "200"))
    with tempfile.TemporaryDirectory() as folder:
        few, many = Path(folder, "few"), Path(folder, "many")
        for place, faces in ((few, FEW), (many, count)):
            place.mkdir()
            subprocess.run([sys.executable, __file__, str(place), str(faces)], check=True)
        _, small = _run(few, 2)
        one, _ = _run(many, 1)
        two, large = _run(many, 2)
    size = f"{count} pictures of {SIDE * SIDE / 1e6:g} megapixel, tilt fringes, {os.cpu_count()} cores"
    memory = f"{size}; peak of all processes {large / 1e6:.0f} MB, with {FEW} pictures {small / 1e6:.0f} MB"
    return [
        {
            "name": "reprocess fringes on two workers; reference: one worker",
            "ours_s": two, "reference_s": one, "ratio": two / one, "conditions": f"{memory}; {one / two:.2f} times",
        }
    ]  # fmt: skip


def furnish(folder, count):
    """A data folder with so many recorded faces."""
    from lapwright.testing.records import close_records, start_records

    start_records(folder)
    from lapwright import __version__
    from lapwright.app import surface_readings
    from lapwright.app.documents import store_document
    from lapwright.model.readings import Signature
    from lapwright.model.surface_record import FringeSettings, SurfaceRequest
    from lapwright.model.wafer import Round
    from lapwright.records import writer
    from lapwright.records.writer.surfaces import NewSurface
    from lapwright.testing import faces
    from lapwright.testing.lot import Lot

    lot = Lot()
    lot.furnish()
    lot.receive()
    signature = Signature(**lot.why())
    settings = FringeSettings(outline=Round(diameter=faces.DIAMETER), fringe_height=faces.FRINGE)
    made = []
    for kind in range(KINDS):
        content = faces.fringe_file(height=(0.2 + 0.03 * kind) * 1e-6, fringes=20.0 + kind, side=SIDE)
        numbers = surface_readings.read_fringes((("face.png", content),), settings).numbers
        kept = store_document("AP-1", f"face-{kind}.png", content, kind="surface", wafer_id="AP-1-01", **lot.why())
        made.append((kept.document_id, numbers))
    with writer.transaction():
        for number in range(count):
            document, numbers = made[number % KINDS]
            new = NewSurface(
                kind="fringes", document_ids=(document,), settings=settings, numbers=numbers, sign_ambiguous=True,
                not_judged="", software_version=__version__,
            )  # fmt: skip
            writer.add_surface(SurfaceRequest(wafer_id="AP-1-01", moment="final", files=()), new, signature)
    close_records()


def _run(folder, workers):
    """Seconds that the command takes, and the most memory of it and its workers together [bytes]."""
    command = [sys.executable, "-m", "lapwright", "reprocess", "fringes", "--data", str(folder)]
    start = time.perf_counter()
    process = subprocess.Popen(
        [*command, "--workers", str(workers), "--json"],
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
    )  # fmt: skip
    peak = [0]
    watcher = threading.Thread(target=_watch, args=(process.pid, peak), daemon=True)
    watcher.start()
    answer = json.loads(process.communicate()[0])
    took = time.perf_counter() - start
    assert answer.get("result", {}).get("agrees"), answer
    return took, peak[0]


def _watch(pid, peak):
    try:
        root = psutil.Process(pid)
        while root.is_running():
            family = [root, *root.children(recursive=True)]
            peak[0] = max(peak[0], sum(one.memory_info().rss for one in family if one.is_running()))
            time.sleep(0.1)
    except psutil.Error:
        return


if __name__ == "__main__":
    furnish(Path(sys.argv[1]), int(sys.argv[2]))
