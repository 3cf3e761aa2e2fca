"""Live readings in, permission to run out.

In short::

    async with open_source("tcp:127.0.0.1:4001?unit=um") as source:
        async for event in source:      # GaugeReading | BadFrames | Gap
            ...

    async with StopGuard(open_stop("mqtt:broker/station-1/permit")) as guard:
        guard.allow()                   # each time the judgement says "run"; silence means stop
        guard.stop("the target is reached")

Decoders are pure (`frames`); each way to a gauge is a folder in `drivers`, named in `registry`; `stream` owns the
connection. Nothing here is a safety function: the machine's own interlocks stay in charge.
"""

from lapwright.gauges.alive import first_reading
from lapwright.gauges.opening import open_source, open_stop
from lapwright.gauges.readings import BadFrames, Gap, GaugeEvent, GaugeReading, SourceStatus
from lapwright.gauges.roles import LengthGauge, StopOutput
from lapwright.gauges.stop.guard import StopGuard, StopState

__all__ = [
    "BadFrames",
    "Gap",
    "GaugeEvent",
    "GaugeReading",
    "LengthGauge",
    "SourceStatus",
    "StopGuard",
    "StopOutput",
    "StopState",
    "first_reading",
    "open_source",
    "open_stop",
]
