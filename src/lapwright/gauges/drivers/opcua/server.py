"""A connection to an OPC UA server; gauges and stop outputs share it."""

from __future__ import annotations

import asyncio
import contextlib
import os
from collections.abc import AsyncIterator
from typing import Any

from lapwright.errors import GaugeError, NotConnected
from lapwright.gauges.address import Option, Options, split_host
from lapwright.gauges.extras import load_extra

CONNECTING = 5.0  # s
ANSWER = 2.0  # s that one request may take

#: How a server is reached.
SERVER_OPTIONS = (
    Option(name="node", read=str, needed=True, help="the variable, like ns=2;s=Length with = and ; percent-encoded"),
    Option(name="user", read=str, help="user name at the server"),
    Option(name="password_env", read=str, help="environment variable that holds the password"),
)


def endpoint(place: str) -> str:
    """The endpoint address of ``host:port/path``, with or without its scheme. Raises `BadInput`."""
    host, port, path = split_host(place.removeprefix("opc.tcp:"), default_port=4840)
    return f"opc.tcp://{f'[{host}]' if ':' in host else host}:{port}/{path}"


@contextlib.asynccontextmanager
async def server_client(url: str, options: Options) -> AsyncIterator[tuple[Any, Any]]:
    """A connected client and the node asked for. Raises `NotConnected`, also later, when the server is gone."""
    asyncua = load_extra("asyncua", package="asyncua", purpose="OPC UA")
    client = asyncua.Client(url, timeout=ANSWER, watchdog_intervall=1.0)
    if options["user"]:
        client.set_user(options["user"])
        client.set_password(os.environ.get(options["password_env"], ""))
    node = _node(client, options["node"])
    try:
        async with asyncio.timeout(CONNECTING):
            await client.connect()
    except (OSError, TimeoutError, asyncua.ua.UaError) as error:
        await _let_go(client)
        raise NotConnected(
            f"The OPC UA server {url} does not answer ({error or 'no answer in time'}). "
            "Check that it runs, the address, and that it takes connections without encryption."
        ) from error
    try:
        yield client, node
    except (OSError, TimeoutError, asyncua.ua.UaError) as error:
        raise NotConnected(f"The OPC UA server {url} is gone or refuses: {error!r}.") from error
    finally:
        await _let_go(client)


# ----------------------------------------------------------------------------------------------------------------------


def _node(client: Any, name: str) -> Any:
    try:
        return client.get_node(name)
    except Exception as error:
        raise GaugeError(f"{name!r} is no OPC UA node; write it like ns=2;s=Length or ns=2;i=5.") from error


async def _let_go(client: Any) -> None:
    """Disconnect as far as that still works."""
    with contextlib.suppress(Exception):
        async with asyncio.timeout(1.0):
            await client.disconnect()
    with contextlib.suppress(Exception):
        client.disconnect_socket()
