"""From an address as text to a source or a stop output, ready to be entered."""

from __future__ import annotations

from lapwright.gauges.address import option_values, parse_address
from lapwright.gauges.clock import SYSTEM_CLOCK, Clock
from lapwright.gauges.registry import STREAM_OPTIONS, find_driver, find_stop_kind
from lapwright.gauges.roles import StopOutput
from lapwright.gauges.stream import GaugeStream


def open_source(address: str, *, clock: Clock = SYSTEM_CLOCK) -> GaugeStream:
    """The live source at an address, not yet listening: ``async with`` starts it.

    Addresses: ``serial:/dev/ttyUSB0?unit=um&baud=9600``, ``tcp:host:port?unit=um``, ``mqtt:host:port/topic?unit=um``,
    ``opcua:host:port/path?node=ns%3D2;s%3DLength&unit=um``, ``replay:FILE?speed=max``, ``folder:PATH?unit=um``,
    ``keyboard:?unit=um``, ``bluetooth:ADDRESS?characteristic=UUID&unit=um``; all options are in
    docs/reference/gauge-sources.md.

    Raises
    ------
    BadInput
        An address or options that cannot be meant, all faults at once.
    """
    parsed = parse_address(address)
    driver = find_driver(parsed.kind)
    options = option_values(parsed, (*STREAM_OPTIONS, *driver.options))
    return GaugeStream(parsed.without_secrets, driver.factory(parsed.place, options), options=options, clock=clock)


def open_stop(address: str) -> StopOutput:
    """The way to tell the machine at an address that it may run, not yet reached: ``async with`` reaches it.

    Addresses: ``mqtt:host:port/topic``, ``opcua:host:port/path?node=...``, ``serial:/dev/ttyUSB0?baud=9600``,
    ``dry-run:``. Raises `BadInput` like `open_source`.
    """
    parsed = parse_address(address)
    kind = find_stop_kind(parsed.kind)
    return kind.factory(parsed.place, option_values(parsed, kind.options))
