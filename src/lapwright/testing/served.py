"""A real server in a process of its own, on a free port of this machine, over a data folder of its own.

As a program (``python -m lapwright.testing.served DATA PORT``) it is that process. With ``--furnished`` the shop has
a gauge, a carrier, a jig and stations, all invented, before the first page is asked for; with ``--board`` besides an
order on the Board, in a story that ended two days ago, so that its moment stands still.
"""

from __future__ import annotations

import argparse
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http.client import HTTPResponse
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

from lapwright.testing.empty import lay_empty_database

_PATIENCE_S = 30.0


@contextmanager
def served(data: Path, *, furnished: bool = False, board: bool = False, port: int | None = None) -> Iterator[str]:
    """The address of a server over `data`, for as long as the context lasts."""
    if "LAPWRIGHT_DATABASE" not in os.environ:
        lay_empty_database(data)
    port = free_port() if port is None else port
    command = [sys.executable, "-m", "lapwright.testing.served", str(data), str(port)]
    log = data.with_suffix(".log")
    with log.open("w", encoding="utf-8") as output:
        process = subprocess.Popen(  # noqa: S603  # our own module
            [*command, *(["--furnished"] if furnished else []), *(["--board"] if board else [])],
            stdout=output,
            stderr=subprocess.STDOUT,
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


def form_headers(page: HTTPResponse) -> dict[str, str]:
    """What a browser sends with a form of a page: its cookies, and the token that the page's forms carry."""
    cookies = dict(one.split(";")[0].partition("=")[::2] for one in page.headers.get_all("Set-Cookie") or [])
    return {
        "Cookie": "; ".join(f"{name}={value}" for name, value in cookies.items()),
        "X-CSRFToken": cookies["csrftoken"],
        "Content-Type": "application/x-www-form-urlencoded",
    }


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
    parser.add_argument("--board", action="store_true")
    given = parser.parse_args()

    import uvicorn
    from uvicorn.importer import import_from_string

    from lapwright.app import wiring
    from lapwright.settings import read_settings
    from lapwright.testing.board_shop import fill_board
    from lapwright.testing.lot import Lot

    wiring.start(read_settings({"data": given.data, "port": given.port}), serving=True)
    if given.furnished:
        lot = Lot(now=datetime.now(tz=UTC) - timedelta(days=2 if given.board else 0))
        lot.furnish()
        if given.board:
            fill_board(lot, simulated=True)
    http = import_from_string("lapwright.web.connections:BoundedHttp")
    uvicorn.run("lapwright.web.asgi:application", host="127.0.0.1", port=given.port, log_level="warning", http=http)


if __name__ == "__main__":
    _main()
