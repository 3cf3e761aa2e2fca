"""Sources and their peers, acted out: the contract suite writes one script for all drivers."""

from __future__ import annotations

import asyncio
import importlib
import tomllib
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import lapwright.gauges
from lapwright.gauges import BadFrames, Gap, GaugeEvent, GaugeReading, open_source
from lapwright.gauges.drivers.mqtt.simulator import mosquitto_program
from lapwright.gauges.registry import DRIVERS

PATIENCE = 30.0  # s; on a busy machine
FOLDER = Path(lapwright.gauges.__file__).parent


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A driver and the peer that it is tried on."""

    driver: str
    peer: dict[str, str] = field(default_factory=dict)

    def __str__(self) -> str:
        return "-".join([self.driver, *self.peer.values()])

    @property
    def missing(self) -> str | None:
        """Why the peer cannot be had here, if it cannot."""
        if self.peer.get("broker") == "mosquitto" and mosquitto_program() is None:
            return "the broker mosquitto is not installed"
        return None

    def simulator(self) -> Any:
        """A new peer."""
        module = importlib.import_module(f"lapwright.gauges.drivers.{self.driver}.simulator")
        return module.Simulator(**self.peer)

    def manifest(self) -> dict[str, Any]:
        """The manifest of the driver."""
        return tomllib.loads((FOLDER / "drivers" / self.driver / "manifest.toml").read_text(encoding="utf-8"))

    def exempt(self, rule: str) -> str | None:
        """Why a rule does not hold for the driver, by its manifest; None when it must hold."""
        words: str = self.manifest()["quality"][rule]
        return None if words.startswith("done") else words


#: Peers beside the one that a driver has by default.
OTHER_PEERS = {
    "mqtt": (
        {"broker": "amqtt", "version": "3.1.1"},
        {"broker": "mosquitto", "version": "3.1.1"},
        {"broker": "mosquitto", "version": "5"},
    )
}


def all_cases() -> list[Case]:
    """Every registered driver with each of its peers."""
    return [Case(driver=driver.name, peer=peer) for driver in DRIVERS for peer in OTHER_PEERS.get(driver.name, ({},))]


class Stage:
    """A peer to act with, and what the source gave so far."""

    def __init__(self, peer: Any, events: list[GaugeEvent]) -> None:
        self.peer, self.events = peer, events
        self.source: Any = None
        self.live = not hasattr(peer, "time")

    @property
    def readings(self) -> list[GaugeReading]:
        """Readings so far."""
        return [event for event in self.events if isinstance(event, GaugeReading)]

    @property
    def gaps(self) -> list[Gap]:
        """Gaps so far."""
        return [event for event in self.events if isinstance(event, Gap)]

    @property
    def bad(self) -> list[BadFrames]:
        """Reports of bad frames so far."""
        return [event for event in self.events if isinstance(event, BadFrames)]

    async def pause(self, seconds: float) -> None:
        """Let time go by; in a file that is its own time."""
        if self.live:
            await asyncio.sleep(seconds)
        else:
            self.peer.time += seconds

    async def until(self, fact: Callable[[], bool]) -> None:
        """Wait until something is so; a file is heard later. Raises `TimeoutError`."""
        if self.live:
            async with asyncio.timeout(PATIENCE):
                while not fact():  # noqa: ASYNC110  facts of many kinds
                    await asyncio.sleep(0.005)

    async def heard(self, count: int) -> None:
        """Wait for so many readings."""
        await self.until(lambda: len(self.readings) >= count)


async def act(peer: Any, script: Callable[[Stage], Awaitable[None]], *, options: str = "") -> Stage:
    """Play a script on a peer with a source listening; the stage as it was at the end."""
    events: list[GaugeEvent] = []
    stage = Stage(peer, events)
    async with peer:
        if not stage.live:
            await script(stage)
        async with open_source(peer.address + options) as source:
            stage.source = source
            await source.connected(PATIENCE)

            async def listen() -> None:
                async for event in source:
                    events.append(event)  # noqa: PERF401  seen as they come

            listening = asyncio.create_task(listen())
            if stage.live:
                await asyncio.sleep(0.08)  # a line begins after a silence
                await script(stage)
                listening.cancel()
            await asyncio.wait([listening], timeout=PATIENCE)
    return stage
