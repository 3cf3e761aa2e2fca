"""A connection to an MQTT broker; gauges and stop outputs share it."""

from __future__ import annotations

import contextlib
import os
import ssl
from collections.abc import AsyncIterator
from typing import Any

from lapwright.errors import BadInput, Fault, GaugeError, NotConnected
from lapwright.gauges.address import Option, Options, number_between, one_of, split_host
from lapwright.gauges.extras import load_extra

QUEUE = 100_000  # messages between the network and our own ring, which is emptied at once

#: How a broker is reached.
BROKER_OPTIONS = (
    Option(name="version", read=one_of("3.1.1", "5"), default="3.1.1", help="version of MQTT"),
    Option(name="qos", read=one_of("0", "1", "2"), default="1", help="quality of service"),
    Option(name="keepalive_s", read=number_between(1, 600, "s"), default="5", help="time between signs of life [s]"),
    Option(name="client", read=str, help="our name at the broker; by default a random one"),
    Option(name="user", read=str, help="user name at the broker"),
    Option(name="password_env", read=str, help="environment variable that holds the password"),
    Option(name="tls", read=one_of("no", "yes"), default="no", help="encrypt, and check the broker's certificate"),
)


def split_broker(place: str, *, example: str) -> tuple[str, int, str]:
    """Host, port and topic. Raises `BadInput`."""
    host, port, topic = split_host(place, default_port=1883)
    if not topic:
        raise BadInput([Fault(sentence=f"{place!r} names no topic; write it like {example!r}.")])
    return host, port, topic


@contextlib.asynccontextmanager
async def broker_client(host: str, port: int, options: Options, *, will: Any = None) -> AsyncIterator[Any]:
    """A connected client. Raises `NotConnected`, also later, when the broker is gone."""
    aiomqtt = load_extra("aiomqtt", package="aiomqtt", purpose="MQTT")
    version = aiomqtt.ProtocolVersion.V5 if options["version"] == "5" else aiomqtt.ProtocolVersion.V311
    try:
        async with aiomqtt.Client(
            host,
            port,
            protocol=version,
            identifier=options["client"] or None,
            username=options["user"] or None,
            password=_password(options["password_env"]),
            tls_context=ssl.create_default_context() if options["tls"] == "yes" else None,
            keepalive=int(options["keepalive_s"]),
            max_queued_incoming_messages=QUEUE,
            timeout=2.0,
            will=will,
        ) as client:
            yield client
    except aiomqtt.MqttError as error:
        raise NotConnected(
            f"The MQTT broker at {host}:{port} does not answer or is gone ({error}). Check it and the address."
        ) from error


# ----------------------------------------------------------------------------------------------------------------------


def _password(variable: str) -> str | None:
    if not variable:
        return None
    if variable not in os.environ:
        raise GaugeError(f"The environment variable {variable!r} with the broker's password is not set.")
    return os.environ[variable]
