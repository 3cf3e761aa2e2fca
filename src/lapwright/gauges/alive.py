"""Whether a gauge is alive, asked before a run may start."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator

from lapwright.errors import FrameError, Stale
from lapwright.gauges.readings import BadFrames, GaugeEvent, GaugeReading
from lapwright.gauges.roles import LengthGauge


async def first_reading(source: LengthGauge, *, within: float) -> GaugeReading:
    """The next reading of a source that is listening; what comes before it is passed over.

    Raises
    ------
    NotConnected
        Not connected after `within` s.
    FrameError
        Something came in that time, but nothing that could be read as a length.
    Stale
        Connected, but nothing came in that time.
    """
    await source.connected(within)
    bad: BadFrames | None = None
    with contextlib.suppress(TimeoutError, StopAsyncIteration):
        async with asyncio.timeout(within):
            events: AsyncIterator[GaugeEvent] = aiter(source)
            while True:
                event = await anext(events)
                if isinstance(event, GaugeReading) and not event.late:
                    return event
                if isinstance(event, BadFrames):
                    bad = bad or event
    address = source.status.address
    if bad is not None:
        raise FrameError(
            f"{address} sends nothing that could be read as a length: {bad.reason} ({bad.text!r}). "
            "Compare with unit, decimal mark, pattern and line end of the address."
        )
    raise Stale(
        f"{address} has sent nothing for {within:g} s. Check the cable, and that the gauge is set to send by itself."
    )
