"""A real server in a process of its own, on a free port of this machine, over a data folder of its own.

As a program (``python -m lapwright.testing.served DATA PORT``) it is that process. With ``--furnished`` the shop has
people, gauges, carriers, a jig and stations, all invented, before the first page is asked for.
"""

from __future__ import annotations

import argparse
import math
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

_PATIENCE_S = 30.0


@contextmanager
def served(data: Path, *, furnished: bool = False) -> Iterator[str]:
    """The address of a server over `data`, for as long as the context lasts."""
    port = free_port()
    command = [sys.executable, "-m", "lapwright.testing.served", str(data), str(port)]
    log = data.with_suffix(".log")
    with log.open("w", encoding="utf-8") as output:
        process = subprocess.Popen(  # noqa: S603  # our own module
            [*command, "--furnished"] if furnished else command, stdout=output, stderr=subprocess.STDOUT
        )
        address = f"http://127.0.0.1:{port}"
        try:
            _await(address, process, log)
            yield address
        finally:
            process.terminate()
            try:
                process.wait(timeout=10.0)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def free_port() -> int:
    """A port that nothing listens on just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def furnish() -> None:
    """A small invented shop: one drop gauge, four carriers, one jig, two stations."""
    from lapwright.app import gauges, shelf
    from lapwright.model.readings import Gauge
    from lapwright.model.shelf import Jig, Station
    from lapwright.model.wafer import Carrier

    def why() -> dict[str, object]:
        return {"by": "local", "reason": "furnished for a test", "at": datetime.now(tz=UTC)}

    gauge = Gauge(gauge_id="G1", name="drop gauge", limit=1e-6, resolution=1e-7, local=3e-7, repeatability=3e-7)
    gauges.register_gauge(gauge, **why())  # type: ignore[arg-type]
    for number in range(1, 5):
        carrier = Carrier(carrier_id=f"C{number}", material="glass", diameter=0.0762, nominal_thickness=6e-3)
        shelf.receive_carrier(carrier, **why())  # type: ignore[arg-type]
    jig = Jig(
        jig_id="J1",
        name="jig of station L1",
        adjuster_radius=0.07,
        adjuster_azimuths=tuple(math.radians(a) for a in (90.0, 210.0, 330.0)),
        advance_per_division=2e-6,
        mass=2.0,
    )
    shelf.register_jig(jig, **why())  # type: ignore[arg-type]
    for station in (
        Station(station_id="L1", name="lapping", kind="lap", plate_diameter=0.3),
        Station(station_id="P1", name="polishing", kind="polish", plate_diameter=0.3),
    ):
        shelf.set_up_station(station, **why())  # type: ignore[arg-type]


# ----------------------------------------------------------------------------------------------------------------------


def _await(address: str, process: subprocess.Popen[bytes], log: Path) -> None:
    patience = time.monotonic() + _PATIENCE_S
    while time.monotonic() < patience:
        if process.poll() is not None:
            raise RuntimeError(f"The server ended at once:\n{log.read_text(encoding='utf-8')}")
        try:
            with urlopen(f"{address}/health", timeout=1.0):  # noqa: S310  # an address of this machine
                return
        except (URLError, OSError):
            time.sleep(0.1)
    raise RuntimeError(f"The server did not answer within {_PATIENCE_S:g} s:\n{log.read_text(encoding='utf-8')}")


def _main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("data")
    parser.add_argument("port", type=int)
    parser.add_argument("--furnished", action="store_true")
    given = parser.parse_args()

    import uvicorn

    from lapwright.app import wiring
    from lapwright.settings import read_settings

    wiring.start(read_settings({"data": given.data, "port": given.port}))
    if given.furnished:
        furnish()
    uvicorn.run("lapwright.web.asgi:application", host="127.0.0.1", port=given.port, log_level="warning")


if __name__ == "__main__":
    _main()
