"""A shop with several running stations for tests of pages: wafers ready for the plate, gauges that send, a recorder.

As a program (``python -m lapwright.testing.live_shop DATA L1=ADDRESS …``) it furnishes a data folder: for each station
named one wafer, bonded and ready for its first lap, and a gauge at that address (or for ``clock`` one ready for its
polish, and no gauge; ``clock:500,512`` two of these thicknesses in µm on two places of one carrier). All invented.
"""

from __future__ import annotations

import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Self

from lapwright.testing.empty import lay_empty_database
from lapwright.testing.lot import BOND_THICKNESS, CARRIER_THICKNESS, ORDER, Lot, flat

EVERY = 0.1  # s between readings
CLOCK = "clock"  # in place of an address: a wafer ready for its polish, on a station without a gauge
PATIENCE = 30.0  # s for the recorder to come up


class SendingGauge:
    """A gauge on a port of this machine that sends a line ten times a second.

    `rate` [m/s] is how fast its length grows, from `length` [m] on; `is_mute` says nothing, `is_frozen` repeats itself.
    """

    def __init__(self, *, length: float = 0.1e-6) -> None:
        self.length, self.rate = length, 0.0
        self.is_mute = self.is_frozen = False
        self._server = socket.create_server(("127.0.0.1", 0))
        self._server.settimeout(EVERY)
        self.address = f"tcp:127.0.0.1:{self._server.getsockname()[1]}?unit=um"
        self._clients: list[socket.socket] = []
        self._leave = threading.Event()
        self._thread = threading.Thread(target=self._send, name="sending gauge", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def press(self, length: float) -> None:
        """Send one reading [m], as a send key or a foot switch does; meant for a mute gauge."""
        self.length = length
        self._tell()

    def __exit__(self, *_: object) -> None:
        self._leave.set()
        self._thread.join()
        for one in (*self._clients, self._server):
            one.close()

    # ------------------------------------------------------------------------------------------------------------------

    def _send(self) -> None:
        last = time.monotonic()
        while not self._leave.is_set():
            with suppress(TimeoutError):
                self._clients.append(self._server.accept()[0])
            now = time.monotonic()
            if not self.is_frozen:
                self.length += self.rate * (now - last)
            last = now
            if not self.is_mute:
                self._tell()

    def _tell(self) -> None:
        line = f"{self.length * 1e6:.2f}\n".encode()
        for client in self._clients:
            with suppress(OSError):
                client.sendall(line)


def furnish(data: Path, sources: dict[str, str]) -> None:
    """Furnish a data folder, in a process of its own."""
    lay_empty_database(data)
    pairs = [f"{station}={address}" for station, address in sources.items()]
    subprocess.run(  # noqa: S603  # our own module
        [sys.executable, "-m", "lapwright.testing.live_shop", str(data), *pairs], check=True
    )


@contextmanager
def recording(data: Path) -> Iterator[subprocess.Popen[bytes]]:
    """A real recorder over a data folder, for as long as the context lasts."""
    log = data.with_suffix(".recorder.log")
    with log.open("w", encoding="utf-8") as output:
        process = subprocess.Popen(  # noqa: S603  # our own command
            [sys.executable, "-m", "lapwright", "record", "--data", str(data)], stdout=output, stderr=subprocess.STDOUT
        )
        try:
            _await(data / "recorder.json", process, log)
            yield process
        finally:
            process.terminate()
            process.wait(timeout=PATIENCE)


# ----------------------------------------------------------------------------------------------------------------------


def _await(file: Path, process: subprocess.Popen[bytes], log: Path) -> None:
    patience = time.monotonic() + PATIENCE
    while not file.exists():
        if process.poll() is not None or time.monotonic() > patience:
            raise RuntimeError(f"The recorder did not come up:\n{log.read_text(encoding='utf-8')}")
        time.sleep(0.05)


def _main(data: str, pairs: list[str]) -> None:
    from lapwright.app import wiring
    from lapwright.settings import read_settings

    wiring.start(read_settings({"data": data}))
    sources = dict(pair.split("=", 1) for pair in pairs)
    lot = Lot(now=datetime.now(tz=UTC) - timedelta(days=1))
    lot.furnish()
    pieces = [(carrier, *piece) for carrier, pair in enumerate(sources.items(), start=1) for piece in _pieces(*pair)]
    lot.receive(replace(ORDER, quantity=len(pieces)))
    for number, (carrier, place, station, source, thickness) in enumerate(pieces, start=1):
        _ready(lot, f"{ORDER.order_id}-{number:02d}", f"K{carrier}{place}", station, source, thickness)


def _pieces(station: str, source: str) -> list[tuple[str, str, str, float]]:
    """Place on the carrier, station, source and thickness [m] of each wafer that waits for a station."""
    if not source.startswith(f"{CLOCK}:"):
        return [("", station, source, 500e-6)]
    thicknesses = [float(one) * 1e-6 for one in source.removeprefix(f"{CLOCK}:").split(",")]
    return [(f"/{place}", station, CLOCK, thickness) for place, thickness in enumerate(thicknesses, start=1)]


def _ready(lot: Lot, wafer_id: str, carrier_id: str, station_id: str, source: str, thickness: float) -> None:
    """A wafer on its carrier, judged, with its abrasive on the station and the gauge named."""
    from lapwright.app import bonding, live, runs, shelf
    from lapwright.model.live import Feed
    from lapwright.model.request import BondRequest
    from lapwright.model.shelf import Station
    from lapwright.model.wafer import Carrier

    carrier = Carrier(carrier_id=carrier_id, material="glass", diameter=0.0762, nominal_thickness=CARRIER_THICKNESS)
    shelf.receive_carrier(carrier, **lot.why())
    lot.read(carrier_id, "carrier", "carrier", flat(CARRIER_THICKNESS), repeats=1)
    lot.read(wafer_id, "wafer", "incoming", flat(thickness), repeats=1, is_sure=True)
    if carrier_id == "K1":
        lot.route()
    request = BondRequest(wafer_id=wafer_id, carrier_id=carrier_id, adhesive="mounting-wax")
    bond = bonding.record_bond(request, **lot.why())
    lot.read(wafer_id, "stack", "stack", flat(CARRIER_THICKNESS + BOND_THICKNESS + thickness), repeats=1, is_sure=True)
    bonding.judge_bond(bond.bond_id, **lot.why())
    bonding.decide_bond(bond.bond_id, "keep", **lot.why())
    ahead = runs.next_stage(wafer_id)
    while source == CLOCK and ahead is not None and ahead.planned.kind != "polish":
        runs.skip_stage(ahead.stage.stage_id, **lot.why("left out for the test"))
        ahead = runs.next_stage(wafer_id)
    assert ahead is not None
    known = {one.station.station_id: one.version for one in shelf.list_stations()}
    station = Station(
        station_id=station_id, name=station_id, kind="polish" if source == CLOCK else "lap",
        plate=ahead.planned.plate, abrasive=ahead.planned.abrasive,
    )  # fmt: skip
    shelf.set_up_station(station, version=known.get(station_id), **lot.why())
    if source == CLOCK:
        return
    feed = Feed(station_id=station_id, source=source, gauge_id="G1", resolution=1e-8, noise=1e-8)
    live.set_feed(feed, **lot.why())


if __name__ == "__main__":
    _main(sys.argv[1], sys.argv[2:])
