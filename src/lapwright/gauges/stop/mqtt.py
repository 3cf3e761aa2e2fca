"""Stop output on an MQTT topic. Nothing is retained: a kept permission would permit for ever.

The broker holds a last will, so that a stop is told even when this program dies; the silence would do it, too.
"""

from __future__ import annotations

import contextlib
from types import TracebackType
from typing import Any, Self

from lapwright.errors import NotConnected
from lapwright.gauges.address import Options
from lapwright.gauges.drivers.mqtt.broker import BROKER_OPTIONS, broker_client, split_broker
from lapwright.gauges.extras import load_extra
from lapwright.gauges.roles import StopOutput
from lapwright.gauges.stop.messages import stop_message

OPTIONS = BROKER_OPTIONS


def connect(place: str, options: Options) -> StopOutput:
    """The machine that listens on ``host:port/topic``."""
    host, port, topic = split_broker(place, example="mqtt:broker.local/station-1/permit")
    return MqttStop(host, port, topic, options)


class MqttStop:
    """One connection, made anew by each ``async with``."""

    def __init__(self, host: str, port: int, topic: str, options: Options) -> None:
        self._host, self._port, self._topic, self._options = host, port, topic, options
        self._stack = contextlib.AsyncExitStack()
        self._client: Any = None

    async def __aenter__(self) -> Self:
        aiomqtt = load_extra("aiomqtt", package="aiomqtt", purpose="MQTT")
        will = aiomqtt.Will(self._topic, stop_message("the recorder is gone"), qos=1, retain=False)
        self._client = await self._stack.enter_async_context(
            broker_client(self._host, self._port, self._options, will=will)
        )
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with contextlib.suppress(NotConnected):
            await self._stack.aclose()

    async def send(self, message: bytes, *, sequence: int) -> None:  # noqa: ARG002  the message holds it
        """Publish one message. Raises `NotConnected`."""
        aiomqtt = load_extra("aiomqtt", package="aiomqtt", purpose="MQTT")
        try:
            await self._client.publish(self._topic, message, qos=int(self._options["qos"]), retain=False)
        except aiomqtt.MqttError as error:
            raise NotConnected(f"The MQTT broker at {self._host}:{self._port} took no message ({error}).") from error
