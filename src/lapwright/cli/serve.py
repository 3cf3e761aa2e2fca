"""`lapwright serve`: the pages, for this machine, or with accounts for a laboratory."""

from __future__ import annotations

import signal
import socket
import ssl
import sys
from pathlib import Path
from typing import Annotated

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import DataOption
from lapwright.errors import SettingError
from lapwright.settings import Settings, read_settings

app = typer.Typer(add_completion=False)

GRACE = 5  # s that open connections have when the server ends; a TLS client that is silent would hold it for 30

PLAIN = (
    "warning: passwords and readings cross the network in plain text. Give --certificate and --key, or serve on this"
    " machine alone behind a reverse proxy with TLS.\n"
)


@app.command()
def serve(
    *,
    data: DataOption = None,
    host: Annotated[
        str | None, typer.Option(help="Address to listen on; another than this machine's demands accounts.")
    ] = None,
    port: Annotated[int | None, typer.Option(help="Port to listen on; 0 takes any free one.")] = None,
    certificate: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Certificate for serving over TLS, PEM.")
    ] = None,
    key: Annotated[Path | None, typer.Option(metavar="FILE", help="Private key of the certificate, PEM.")] = None,
    recorder: Annotated[
        bool, typer.Option("--recorder/--no-recorder", help="Keep a recorder at work as soon as a station has a gauge.")
    ] = True,
    as_json: JsonOption = False,
) -> None:
    """Serve the pages until interrupted, and keep a recorder at work beside them."""
    from lapwright.app import accounts, wiring

    files = {"certificate": certificate, "certificate_key": key}
    told = {name: str(path.absolute()) for name, path in files.items() if path is not None}
    settings = read_settings({"data": data, "host": host, "port": port, **told})
    _need_certificate(settings)
    with _listening(settings.host, settings.port) as listener:
        wiring.start(settings, serving=True)
        if accounts.are_demanded(settings):
            _need_an_admin()
            if not (settings.certificate or accounts.is_loopback(settings.host)):
                sys.stderr.write(PLAIN)
        chosen = listener.getsockname()[1]
        shown = f"[{settings.host}]" if ":" in settings.host else settings.host
        scheme = "https" if settings.certificate else "http"
        address = f"{scheme}://{shown}:{chosen}/"
        give(
            {"address": address, "data": str(settings.data)},
            as_json=as_json,
            show=lambda result: typer.echo(
                f"Lapwright serves {result['data']} at {result['address']} – stop with Ctrl-C"
            ),
        )
        if not recorder:
            _run(listener, settings)
            return
        _run_with_recorder(listener, settings)


# ----------------------------------------------------------------------------------------------------------------------


def _need_an_admin() -> None:
    """Others can reach the pages: somebody must be able to let them in, and to shut them out."""
    from lapwright.app import accounts

    if not accounts.has_an_admin():
        raise SettingError(
            "Other machines can reach the pages, so they need accounts, and nobody may open one: there is no admin with"
            " a password. Make one first: lapwright people add NAME --role admin"
        )


def _need_certificate(settings: Settings) -> None:
    """Both files or none, and fitting together."""
    given = [bool(settings.certificate), bool(settings.certificate_key)]
    if not any(given):
        return
    if not all(given):
        raise SettingError("A certificate and its key go together; give both --certificate and --key, or neither.")
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(settings.certificate, settings.certificate_key)
    except (OSError, ssl.SSLError) as error:
        raise SettingError(
            f"The certificate {settings.certificate} with the key {settings.certificate_key} cannot be used: {error}."
            " Give PEM files that belong together."
        ) from error


def _listening(host: str, port: int) -> socket.socket:
    listener = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
        listener.listen()  # whoever reads the address may ask at once, and waits until the server takes over
    except OSError as error:
        listener.close()
        raise SettingError(
            f"Port {port} on {host} cannot be used: {error.strerror}. Stop what uses it, or give another --port."
        ) from error
    return listener


def _run_with_recorder(listener: socket.socket, settings: Settings) -> None:
    """Serve, and watch over a recorder; it runs on when a run is going as the pages end."""
    from lapwright.app import live
    from lapwright.app.recorder.watchdog import Watchdog

    signal.signal(signal.SIGTERM, _leave)  # the server hands the signal on when it is done
    with Watchdog(settings.data, wanted=live.has_work) as watchdog:
        try:
            _run(listener, settings)
        finally:
            if watchdog.pid is not None and live.is_following():
                sys.stderr.write(f"The recorder (process {watchdog.pid}) runs on: a run is going.\n")
            else:
                watchdog.end()


def _leave(*_: object) -> None:
    raise SystemExit(0)


def _run(listener: socket.socket, settings: Settings) -> None:
    import uvicorn
    from uvicorn.importer import import_from_string

    config = uvicorn.Config(
        "lapwright.web.asgi:application",
        http=import_from_string("lapwright.web.connections:BoundedHttp"),
        log_level="warning",
        log_config=None,  # its words go where ours go
        server_header=False,
        timeout_graceful_shutdown=GRACE,
        ssl_certfile=settings.certificate or None,
        ssl_keyfile=settings.certificate_key or None,
    )
    uvicorn.Server(config).run(sockets=[listener])
