"""Notifications of a Bluetooth LE gauge: each is one frame.

Written against the interface of the library bleak; there was no device to try it on.
"""

from __future__ import annotations

import asyncio

from lapwright.errors import BadInput, Fault, NotConnected
from lapwright.gauges.address import Option, Options, number_between
from lapwright.gauges.extras import load_extra
from lapwright.gauges.frames.options import FRAME_OPTIONS, check_frame_options, text_decoder
from lapwright.gauges.roles import Link, Sink

OPTIONS = (
    *FRAME_OPTIONS,
    Option(name="characteristic", read=str, needed=True, help="UUID of the characteristic that notifies"),
    Option(name="connect_s", read=number_between(1, 120, "s"), default="15", help="time to find and connect [s]"),
)


def connect(place: str, options: Options) -> Link:
    """The link to a device address."""
    if not place:
        raise BadInput([Fault(sentence="A Bluetooth source needs its device: 'bluetooth:AA:BB:CC:DD:EE:FF?unit=um'.")])
    check_frame_options(options)
    return BluetoothLink(place, options)


class BluetoothLink:
    """One device, connected anew by each `run`."""

    has_own_time = False

    def __init__(self, device: str, options: Options) -> None:
        self._device, self._options = device, options

    async def run(self, sink: Sink) -> None:
        """Connect and hand on what is heard until the device is gone."""
        bleak = load_extra("bleak", package="bleak", purpose="A Bluetooth gauge")
        loop = asyncio.get_running_loop()
        gone: asyncio.Future[None] = loop.create_future()
        end = self._options["terminator"] or b"\n"

        def hear(_characteristic: object, data: bytearray) -> None:
            decoder = text_decoder(self._options)
            sink.frames(decoder.feed(bytes(data) if data.endswith(end) else bytes(data) + end), sink.now())

        def end_wait() -> None:
            if not gone.done():
                gone.set_result(None)

        def lost(_client: object) -> None:
            loop.call_soon_threadsafe(end_wait)

        try:
            async with bleak.BleakClient(
                self._device, disconnected_callback=lost, timeout=self._options["connect_s"]
            ) as client:
                await client.start_notify(self._options["characteristic"], hear)
                sink.connected()
                await gone
        except (OSError, TimeoutError, bleak.exc.BleakError) as error:
            raise NotConnected(
                f"The Bluetooth gauge {self._device} does not answer ({error or 'no answer in time'}). "
                "Check that it is on, near, and not connected elsewhere."
            ) from error
        raise NotConnected(f"The Bluetooth gauge {self._device} is gone. Check battery and distance.")
