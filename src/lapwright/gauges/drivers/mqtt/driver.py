"""A topic of an MQTT broker: each message is one frame.

A retained message is an old one that the broker kept; it is told as a bad frame and never taken for a live reading.
With a wildcard in the topic, each topic that speaks is a channel.
"""

from __future__ import annotations

import dataclasses

from lapwright.gauges.address import Options
from lapwright.gauges.drivers.mqtt.broker import BROKER_OPTIONS, broker_client, split_broker
from lapwright.gauges.frames import FrameResult, Rubbish
from lapwright.gauges.frames.frame import shown
from lapwright.gauges.frames.numbers import plain_text
from lapwright.gauges.frames.options import FRAME_OPTIONS, check_frame_options, text_decoder
from lapwright.gauges.roles import Link, Sink

OPTIONS = (*BROKER_OPTIONS, *FRAME_OPTIONS)


def connect(place: str, options: Options) -> Link:
    """The link to ``host:port/topic``."""
    check_frame_options(options)
    host, port, topic = split_broker(place, example="mqtt:broker.local/shop/gauge-1?unit=um")
    return MqttLink(host, port, topic, options)


class MqttLink:
    """One subscription, made anew by each `run`."""

    has_own_time = False

    def __init__(self, host: str, port: int, topic: str, options: Options) -> None:
        self._host, self._port, self._topic, self._options = host, port, topic, options
        self._many = "+" in topic or topic.endswith("#")

    async def run(self, sink: Sink) -> None:
        """Subscribe and hand on what is heard until the broker is gone."""
        async with broker_client(self._host, self._port, self._options) as client:
            await client.subscribe(self._topic, qos=int(self._options["qos"]))
            sink.connected()
            async for message in client.messages:
                at = sink.now()
                channel = str(message.topic) if self._many else ""
                sink.frames(self.frames(message.payload, channel=channel, retained=message.retain), at)

    def frames(self, payload: object, *, channel: str, retained: bool) -> list[FrameResult]:
        """The frames in one message."""
        data = payload if isinstance(payload, bytes) else str(payload or "").encode()
        if retained:
            reason = "a message that the broker had kept from earlier"
            return [Rubbish(reason=reason, text=shown(plain_text(data)), channel=channel)]
        decoder = text_decoder(self._options)
        end = self._options["terminator"] or b"\n"
        found = decoder.feed(data if data.endswith(end) else data + end)
        return [dataclasses.replace(frame, channel=channel) for frame in found] if channel else found
