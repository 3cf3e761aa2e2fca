"""`lapwright serve`: the pages, for this machine."""

from __future__ import annotations

import ipaddress
import signal
import socket
import sys
from pathlib import Path
from typing import Annotated

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import DataOption
from lapwright.errors import SettingError
from lapwright.settings import read_settings

app = typer.Typer(add_completion=False)


@app.command()
def serve(
    *,
    data: DataOption = None,
    host: Annotated[str | None, typer.Option(help="Address to listen on; only this machine for now.")] = None,
    port: Annotated[int | None, typer.Option(help="Port to listen on; 0 takes any free one.")] = None,
    recorder: Annotated[
        bool, typer.Option("--recorder/--no-recorder", help="Keep a recorder at work as soon as a station has a gauge.")
    ] = True,
    as_json: JsonOption = False,
) -> None:
    """Serve the pages until interrupted, and keep a recorder at work beside them."""
    from lapwright.app import wiring

    settings = read_settings({"data": data, "host": host, "port": port})
    _need_loopback(settings.host)
    with _listening(settings.host, settings.port) as listener:
        wiring.start(settings)
        chosen = listener.getsockname()[1]
        shown = f"[{settings.host}]" if ":" in settings.host else settings.host
        address = f"http://{shown}:{chosen}/"
        give(
            {"address": address, "data": str(settings.data)},
            as_json=as_json,
            show=lambda result: typer.echo(
                f"Lapwright serves {result['data']} at {result['address']} – stop with Ctrl-C"
            ),
        )
        if not recorder:
            _run(listener)
            return
        _run_with_recorder(listener, settings.data)


# ----------------------------------------------------------------------------------------------------------------------


def _need_loopback(host: str) -> None:
    """Accounts come with a later version; until then nobody else may reach the records."""
    try:
        is_here = host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        is_here = False
    if not is_here:
        raise SettingError(
            f"The pages are served to this machine only; found host {host!r}, expected 127.0.0.1, ::1 or localhost."
            " There are no accounts yet, so nobody else may reach the records."
        )


def _listening(host: str, port: int) -> socket.socket:
    listener = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
    except OSError as error:
        listener.close()
        raise SettingError(
            f"Port {port} on {host} cannot be used: {error.strerror}. Stop what uses it, or give another --port."
        ) from error
    return listener


def _run_with_recorder(listener: socket.socket, folder: Path) -> None:
    """Serve, and watch over a recorder; it runs on when a run is going as the pages end."""
    from lapwright.app import live
    from lapwright.app.recorder.watchdog import Watchdog

    signal.signal(signal.SIGTERM, _leave)  # the server hands the signal on when it is done
    with Watchdog(folder, wanted=live.has_work) as watchdog:
        try:
            _run(listener)
        finally:
            if watchdog.pid is not None and live.is_following():
                sys.stderr.write(f"The recorder (process {watchdog.pid}) runs on: a run is going.\n")
            else:
                watchdog.end()


def _leave(*_: object) -> None:
    raise SystemExit(0)


def _run(listener: socket.socket) -> None:
    import uvicorn

    config = uvicorn.Config("lapwright.web.asgi:application", log_level="warning")
    uvicorn.Server(config).run(sockets=[listener])
