"""A serial port opened for us alone; gauges and stop outputs share it."""

from __future__ import annotations

from typing import Any

from lapwright.errors import GaugeError, NotConnected
from lapwright.gauges.address import Option, Options, one_of, whole_between
from lapwright.gauges.extras import load_extra

WAIT = 0.2  # s that a read or a write may take before it is looked whether to go on

#: How a serial port is set.
PORT_OPTIONS = (
    Option(name="baud", read=whole_between(50, 4_000_000), default="9600", help="bits a second"),
    Option(name="bits", read=one_of("5", "6", "7", "8"), default="8", help="data bits"),
    Option(name="parity", read=one_of("none", "even", "odd", "mark", "space"), default="none", help="parity"),
    Option(name="stop", read=one_of("1", "1.5", "2"), default="1", help="stop bits"),
    Option(name="flow", read=one_of("none", "rtscts", "xonxoff", "dsrdtr"), default="none", help="flow control"),
)


def open_port(path: str, options: Options) -> Any:
    """A port of pyserial, locked. Raises `NotConnected` when it cannot be had now, `GaugeError` when never."""
    serial = load_extra("serial", package="pyserial", purpose="A serial port")
    try:
        return serial.Serial(
            path,
            baudrate=options["baud"],
            bytesize=int(options["bits"]),
            parity=options["parity"][0].upper(),
            stopbits=float(options["stop"]),
            rtscts=options["flow"] == "rtscts",
            xonxoff=options["flow"] == "xonxoff",
            dsrdtr=options["flow"] == "dsrdtr",
            timeout=WAIT,
            write_timeout=WAIT,
            exclusive=True,
        )
    except OSError as error:
        raise NotConnected(
            f"Serial port {path} cannot be opened ({error.strerror or error}). "
            "Check the cable, your right to use the port, and that no other program holds it."
        ) from error
    except ValueError as error:
        raise GaugeError(f"Serial port {path} cannot be set as asked: {error}.") from error
