"""Somebody who types on a pseudo-terminal."""

from __future__ import annotations

from lapwright.gauges.drivers.serial.simulator import Simulator as Terminal


class Simulator(Terminal):
    """The pseudo-terminal of the serial simulator, typed on."""

    def __init__(self) -> None:
        super().__init__()
        self.address = f"keyboard:{self._name}?unit=um"
