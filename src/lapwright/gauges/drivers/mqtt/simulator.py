"""A gauge that publishes on a topic, with a broker of its own on the loopback address.

Two brokers can play: `amqtt` in this process (MQTT 3.1.1), or the `mosquitto` program in one of its own (3.1.1 and 5).
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import shutil
import tempfile
from typing import Any, Literal

from lapwright.errors import GaugeError
from lapwright.gauges.extras import load_extra
from lapwright.gauges.simulating import Peer, free_port, line_of

TOPIC = "shop/gauge-1"
_PLACES = os.pathsep.join((os.environ.get("PATH", ""), "/usr/sbin", "/usr/local/sbin"))


def mosquitto_program() -> str | None:
    """Where the mosquitto broker is installed, if it is."""
    return shutil.which("mosquitto", path=_PLACES)


class Broker:
    """A broker on the loopback address that can die and come back."""

    def __init__(self, kind: Literal["amqtt", "mosquitto"] = "mosquitto") -> None:
        self.kind, self.port = kind, free_port()
        self._inner: Any = None
        self._process: asyncio.subprocess.Process | None = None

    async def start(self) -> None:
        """Listen."""
        if self.kind == "amqtt":
            broker = load_extra("amqtt.broker", package="amqtt", purpose="A simulated broker")
            self._inner = broker.Broker(
                {
                    "listeners": {"default": {"type": "tcp", "bind": f"127.0.0.1:{self.port}"}},
                    "plugins": {"amqtt.plugins.authentication.AnonymousAuthPlugin": {"allow_anonymous": True}},
                }
            )
            await self._inner.start()
            return
        program = mosquitto_program()
        if program is None:
            raise GaugeError("The broker mosquitto is not installed. Install it with the packages of the system.")
        with tempfile.NamedTemporaryFile("w", suffix=".conf") as settings:
            settings.write(f"listener {self.port} 127.0.0.1\nallow_anonymous true\n")
            settings.flush()
            self._process = await asyncio.create_subprocess_exec(
                program, "-c", settings.name, stderr=asyncio.subprocess.DEVNULL, stdout=asyncio.subprocess.DEVNULL
            )
            await self._answers()

    async def stop(self) -> None:
        """Be gone; mosquitto is killed."""
        if self._inner is not None:
            inner, self._inner = self._inner, None
            await inner.shutdown()
        if self._process is not None:
            process, self._process = self._process, None
            with contextlib.suppress(ProcessLookupError):
                process.kill()
            await process.wait()

    async def _answers(self) -> None:
        async with asyncio.timeout(5.0):
            while True:
                try:
                    _, writer = await asyncio.open_connection("127.0.0.1", self.port)
                except OSError:
                    await asyncio.sleep(0.02)
                else:
                    writer.transport.abort()
                    return


class Simulator(Peer):
    """A broker and a gauge that publishes on it."""

    def __init__(self, *, broker: Literal["amqtt", "mosquitto"] = "mosquitto", version: str = "3.1.1") -> None:
        self._broker, self._version = Broker(broker), version
        self.address = f"mqtt:127.0.0.1:{self._broker.port}/{TOPIC}?unit=um&version={version}&keepalive_s=2"
        self._stack = contextlib.AsyncExitStack()
        self._client: Any = None

    async def revive(self) -> None:
        """Start the broker and connect the gauge to it."""
        aiomqtt = load_extra("aiomqtt", package="aiomqtt", purpose="MQTT")
        await self._broker.start()
        version = aiomqtt.ProtocolVersion.V5 if self._version == "5" else aiomqtt.ProtocolVersion.V311
        client = aiomqtt.Client("127.0.0.1", self._broker.port, protocol=version, timeout=2.0)
        self._client = await self._stack.enter_async_context(client)

    async def die(self) -> None:
        """Take gauge and broker away."""
        aiomqtt = load_extra("aiomqtt", package="aiomqtt", purpose="MQTT")
        with contextlib.suppress(aiomqtt.MqttError):
            await self._stack.aclose()
        await self._broker.stop()

    async def send(self, *lengths: float) -> None:
        """Publish readings [m], one a message."""
        for length in lengths:
            await self.send_raw(line_of(length).strip())

    async def send_raw(self, data: bytes, *, retain: bool = False) -> None:
        """Publish one message."""
        await self._client.publish(TOPIC, data, qos=1, retain=retain)
