"""Every kind of source and of stop output there is, one plain tuple each."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from lapwright.errors import BadInput, Fault
from lapwright.gauges.address import Option, Options, number_between, whole_between
from lapwright.gauges.drivers.bluetooth import driver as bluetooth
from lapwright.gauges.drivers.folder import driver as folder
from lapwright.gauges.drivers.keyboard import driver as keyboard
from lapwright.gauges.drivers.mqtt import driver as mqtt
from lapwright.gauges.drivers.opcua import driver as opcua
from lapwright.gauges.drivers.replay import driver as replay
from lapwright.gauges.drivers.serial import driver as serial
from lapwright.gauges.drivers.tcp import driver as tcp
from lapwright.gauges.roles import Link, StopOutput
from lapwright.gauges.stop import dry_run as stop_dry_run
from lapwright.gauges.stop import mqtt as stop_mqtt
from lapwright.gauges.stop import opcua as stop_opcua
from lapwright.gauges.stop import serial as stop_serial

#: Version of the roles `Link`, `Sink` and `StopOutput` that entries are written against.
INTERFACE = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """A kind of source: the word before the colon, version of the interface, factory, options, help."""

    name: str
    interface: int
    factory: Callable[[str, Options], Link]
    options: tuple[Option, ...]
    help: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StopKind:
    """A kind of stop output: the word before the colon, version of the interface, factory, options, help."""

    name: str
    interface: int
    factory: Callable[[str, Options], StopOutput]
    options: tuple[Option, ...]
    help: str


#: Options that every source takes.
STREAM_OPTIONS = (
    Option(
        name="gap_s",
        read=number_between(0.01, 3600.0, "s"),
        default="1",
        help="silence after which a gap is recorded [s]",
    ),
    Option(
        name="buffer",
        read=whole_between(10, 10_000_000),
        default="60000",
        help="events kept for a slow reader; beyond it the oldest are dropped and told as a gap",
    ),
)

DRIVERS: tuple[Driver, ...] = (
    Driver(name="serial", interface=1, factory=serial.connect, options=serial.OPTIONS, help="a gauge on a serial port"),
    Driver(name="tcp", interface=1, factory=tcp.connect, options=tcp.OPTIONS, help="a gauge that listens on a network"),
    Driver(name="mqtt", interface=1, factory=mqtt.connect, options=mqtt.OPTIONS, help="a topic of an MQTT broker"),
    Driver(
        name="opcua", interface=1, factory=opcua.connect, options=opcua.OPTIONS, help="a variable of an OPC UA server"
    ),
    Driver(name="replay", interface=1, factory=replay.connect, options=replay.OPTIONS, help="a recorded stream file"),
    Driver(
        name="folder", interface=1, factory=folder.connect, options=folder.OPTIONS, help="files written into a folder"
    ),
    Driver(
        name="keyboard",
        interface=1,
        factory=keyboard.connect,
        options=keyboard.OPTIONS,
        help="values typed, by hand or by a gauge that acts as a keyboard",
    ),
    Driver(
        name="bluetooth",
        interface=1,
        factory=bluetooth.connect,
        options=bluetooth.OPTIONS,
        help="notifications of a Bluetooth LE gauge (not tried on a device)",
    ),
)

STOP_KINDS: tuple[StopKind, ...] = (
    StopKind(
        name="mqtt",
        interface=1,
        factory=stop_mqtt.connect,
        options=stop_mqtt.OPTIONS,
        help="messages on an MQTT topic",
    ),
    StopKind(
        name="opcua",
        interface=1,
        factory=stop_opcua.connect,
        options=stop_opcua.OPTIONS,
        help="a count written to an OPC UA variable",
    ),
    StopKind(
        name="serial",
        interface=1,
        factory=stop_serial.connect,
        options=stop_serial.OPTIONS,
        help="lines on a serial port",
    ),
    StopKind(
        name="dry-run",
        interface=1,
        factory=stop_dry_run.connect,
        options=stop_dry_run.OPTIONS,
        help="nothing is stopped; messages are kept to look at",
    ),
)


def find_driver(name: str) -> Driver:
    """The kind of source of a name. Raises `BadInput`."""
    for driver in DRIVERS:
        if driver.name == name:
            return driver
    raise _unknown("source", name, [driver.name for driver in DRIVERS])


def find_stop_kind(name: str) -> StopKind:
    """The kind of stop output of a name. Raises `BadInput`."""
    for kind in STOP_KINDS:
        if kind.name == name:
            return kind
    raise _unknown("stop output", name, [kind.name for kind in STOP_KINDS])


# ----------------------------------------------------------------------------------------------------------------------


def _unknown(what: str, name: str, known: Sequence[str]) -> BadInput:
    near = difflib.get_close_matches(name, known, 1)
    hint = f" Did you mean '{near[0]}:'?" if near else ""
    listed = ", ".join(f"{word}:" for word in known)
    return BadInput([Fault(sentence=f"No {what} is called {name!r}; known: {listed}.{hint}")])
