"""A variable of an OPC UA server, by subscription.

We ask to be told of every new source time stamp, not only of every new value: a gauge of 1 µm resolution shows the
same value for minutes, and must not look dead. The queue at the server is set, so that nothing is lost between two
publications. The value that the server holds at the start may be old; it is told as a bad frame.
"""

from __future__ import annotations

import asyncio
import math
from datetime import UTC, datetime
from typing import Any

from lapwright.errors import NotConnected
from lapwright.gauges.address import Option, Options, number_between, whole_between
from lapwright.gauges.drivers.opcua.server import SERVER_OPTIONS, endpoint, server_client
from lapwright.gauges.extras import load_extra
from lapwright.gauges.frames import Frame, FrameResult, Rubbish
from lapwright.gauges.frames.numbers import LengthFormat
from lapwright.gauges.frames.options import LENGTH_OPTIONS, length_format, need_unit
from lapwright.gauges.roles import Link, Sink

OPTIONS = (
    *SERVER_OPTIONS,
    *LENGTH_OPTIONS,
    Option(name="sampling_ms", read=number_between(0, 10_000, "ms"), default="0", help="how often the server looks"),
    Option(name="publish_ms", read=number_between(10, 10_000, "ms"), default="50", help="how often it tells"),
    Option(name="queue", read=whole_between(1, 100_000), default="1000", help="values kept between two tellings"),
)


def connect(place: str, options: Options) -> Link:
    """The link to ``host:port/path``."""
    need_unit(options)
    return OpcuaLink(endpoint(place), options)


class OpcuaLink:
    """One subscription, made anew by each `run`."""

    has_own_time = False

    def __init__(self, url: str, options: Options) -> None:
        self._url, self._options = url, options

    async def run(self, sink: Sink) -> None:
        """Subscribe and hand on what is heard until the server is gone."""
        ua = load_extra("asyncua.ua", package="asyncua", purpose="OPC UA")
        async with server_client(self._url, self._options) as (client, node):
            await node.read_value()
            heard = _Heard(sink, length_format(self._options))
            gone: asyncio.Future[None] = asyncio.get_running_loop().create_future()

            async def lost(error: Exception) -> None:
                if not gone.done():
                    gone.set_exception(NotConnected(f"The OPC UA server {self._url} is gone: {error!r}."))

            client.connection_lost_callback = lost
            subscription = await client.create_subscription(
                self._options["publish_ms"], heard, queue_maxsize=self._options["queue"]
            )
            (item,) = await subscription.create_monitored_items([_request(ua, node, self._options)])
            if isinstance(item, ua.StatusCode):
                raise NotConnected(f"The OPC UA server {self._url} does not let us subscribe: {item.name}.")
            sink.connected()
            await gone


class _Heard:
    """What asyncua calls with each value."""

    def __init__(self, sink: Sink, form: LengthFormat) -> None:
        self._sink, self._form, self._first = sink, form, True

    def datachange_notification(self, _node: object, _value: object, data: Any) -> None:
        """Take one value, unless it is the one held from before."""
        frame = value_frame(data.monitored_item.Value, self._form)
        if self._first:
            self._first = False
            text = frame.text
            frame = Rubbish(reason="the value that the server held from earlier", text=text)
        self._sink.frames([frame], self._sink.now())


def value_frame(value: Any, form: LengthFormat) -> FrameResult:
    """The frame in one OPC UA data value."""
    number = value.Value.Value if value.Value is not None else None
    text = repr(number)[:80]
    if value.StatusCode is not None and not value.StatusCode.is_good():
        return Rubbish(reason=f"the server says {value.StatusCode.name}", text=text)
    if isinstance(number, bool) or not isinstance(number, int | float) or not math.isfinite(number):
        return Rubbish(reason="no number", text=text)
    try:
        length, unit = form.length(float(number), "")
    except ValueError as error:
        return Rubbish(reason=str(error), text=text)
    return Frame(length=length, text=text, unit=unit, device_time=_seconds(value.SourceTimestamp))


# ----------------------------------------------------------------------------------------------------------------------


def _seconds(stamp: datetime | None) -> float | None:
    """A time stamp of the server as seconds; stamps without a zone are UTC by the standard."""
    if stamp is None:
        return None
    return (stamp if stamp.tzinfo else stamp.replace(tzinfo=UTC)).timestamp()


def _request(ua: Any, node: Any, options: Options) -> Any:
    """A monitored item with a queue, triggered by status, value or time stamp."""
    told_by = ua.DataChangeFilter()
    told_by.Trigger = ua.DataChangeTrigger.StatusValueTimestamp
    watch = ua.ReadValueId()
    watch.NodeId, watch.AttributeId = node.nodeid, ua.AttributeIds.Value
    how = ua.MonitoringParameters()
    how.ClientHandle, how.SamplingInterval = 1, options["sampling_ms"]
    how.QueueSize, how.DiscardOldest, how.Filter = options["queue"], True, told_by
    request = ua.MonitoredItemCreateRequest()
    request.ItemToMonitor, request.MonitoringMode, request.RequestedParameters = watch, ua.MonitoringMode.Reporting, how
    return request
