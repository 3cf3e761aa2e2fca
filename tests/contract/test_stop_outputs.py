"""One suite over every stop output, each with a peer that stops when the permissions cease."""

import asyncio
import contextlib
import os
import signal
import sys
import time
import tomllib

import pytest

from lapwright.gauges import StopGuard, open_stop
from lapwright.gauges.drivers.mqtt.simulator import Broker, mosquitto_program
from lapwright.gauges.drivers.opcua.simulator import Simulator as OpcuaServer
from lapwright.gauges.drivers.serial.simulator import Simulator as Terminal
from lapwright.gauges.registry import INTERFACE, STOP_KINDS
from lapwright.gauges.stop.messages import FarSide, read_message
from lapwright.testing.gauges import FOLDER, PATIENCE

LIMIT = 0.8  # s
LATE = 3.0  # s by which a busy machine may be late with anything
RECORDER = """
import asyncio, sys
from lapwright.gauges import StopGuard, open_stop
async def run():
    async with StopGuard(open_stop(sys.argv[1]), beat=0.1, limit=0.8) as guard:
        while True:
            guard.allow()
            await asyncio.sleep(0.05)
asyncio.run(run())
"""


class Machine:
    """What stands at the other end: it hears and may run, or not."""

    def __init__(self):
        self.side, self.address = FarSide(limit=LIMIT), ""

    def take(self, data):
        """Hear lines."""
        for line in data.splitlines():
            message = read_message(line)
            if message is not None:
                self.side.hear(message.sequence, time.monotonic(), limit=message.limit or None, reason=message.reason)

    @property
    def runs(self):
        """Whether it runs now."""
        return self.side.may_run(time.monotonic())

    async def until(self, *, runs):
        """Wait until it runs, or until it does not; how long that took."""
        begun = time.monotonic()
        async with asyncio.timeout(PATIENCE):
            while self.runs != runs:  # noqa: ASYNC110  the clock decides
                await asyncio.sleep(0.01)
        return time.monotonic() - begun


@contextlib.asynccontextmanager
async def hearing(listen):
    """Run a listener beside the test."""
    task = asyncio.create_task(listen())
    try:
        yield
    finally:
        task.cancel()
        await asyncio.wait([task])


@contextlib.asynccontextmanager
async def serial_machine():
    """A machine at the end of a pty pair."""
    async with Terminal() as terminal:
        machine = Machine()
        machine.address = terminal.address.partition("?")[0]

        async def listen():
            while True:
                machine.take(await terminal.heard())
                await asyncio.sleep(0.01)

        async with hearing(listen):
            yield machine


@contextlib.asynccontextmanager
async def mqtt_machine(kind):
    """A machine that listens on a topic."""
    import aiomqtt

    broker = Broker(kind)
    await broker.start()
    try:
        async with aiomqtt.Client("127.0.0.1", broker.port) as client:
            await client.subscribe("station/permit", qos=1)
            machine = Machine()
            machine.address = (
                f"mqtt:127.0.0.1:{broker.port}/station/permit?version={'5' if kind == 'mosquitto' else '3.1.1'}"
            )

            async def listen():
                async for message in client.messages:
                    machine.take(message.payload)

            async with hearing(listen):
                yield machine
    finally:
        await broker.stop()


@contextlib.asynccontextmanager
async def opcua_machine(server):
    """A machine whose program looks at a count."""
    async with server:
        machine = Machine()
        machine.address = server.permit_address
        await server.clear_permit()

        async def listen():
            last = 0
            while True:
                count = await server.permit()
                if count != last:
                    machine.side.hear(count, time.monotonic())
                last = count
                await asyncio.sleep(0.01)

        async with hearing(listen):
            yield machine


@pytest.fixture(scope="module")
def opcua_server():
    """One OPC UA server for all tests here."""
    server = OpcuaServer(stays=True)
    yield server
    asyncio.run(server.shut())


@pytest.fixture(params=["serial", "mqtt-amqtt", "mqtt-mosquitto", "opcua"])
def machine(request):
    """A machine behind each stop output, not yet entered."""
    if request.param == "serial":
        return serial_machine()
    if request.param == "opcua":
        return opcua_machine(request.getfixturevalue("opcua_server"))
    kind = request.param.partition("-")[2]
    if kind == "mosquitto" and mosquitto_program() is None:
        pytest.skip("the broker mosquitto is not installed")
    return mqtt_machine(kind)


async def allow_for(guard, seconds):
    """Ask for permission, as a recorder does."""
    for _ in range(round(seconds / 0.05)):
        guard.allow()
        await asyncio.sleep(0.05)


def test_the_machine_runs_while_it_is_permitted_and_stops_when_told(machine):
    """From the first permission to the stop, and no further."""

    async def script():
        async with machine as far, StopGuard(open_stop(far.address), beat=0.1, limit=LIMIT) as guard:
            before = far.runs
            allowing = asyncio.create_task(allow_for(guard, 8.0))
            await far.until(runs=True)
            await asyncio.sleep(3 * LIMIT)
            during = far.runs
            guard.stop("the target is reached")
            took = await far.until(runs=False)
            allowing.cancel()
            return before, during, took, far.side.stopped

    before, during, took, reason = asyncio.run(script())
    assert (before, during) == (False, True)
    assert took < LATE
    assert reason in ("the target is reached", "stop asked for")


def test_the_machine_stops_when_the_asking_ceases(machine):
    """The judging part hangs; the guard says stop after its hold."""

    async def script():
        async with machine as far, StopGuard(open_stop(far.address), beat=0.1, hold=0.3, limit=LIMIT) as guard:
            await allow_for(guard, 1.0)
            await far.until(runs=True)
            await allow_for(guard, 0.1)
            return await far.until(runs=False)

    assert asyncio.run(script()) < 0.3 + LATE


def test_the_machine_stops_when_the_program_is_killed(machine):
    """No word, only silence: the machine stops within its limit by itself."""

    async def script():
        async with machine as far:
            recorder = await asyncio.create_subprocess_exec(sys.executable, "-c", RECORDER, far.address)
            try:
                await far.until(runs=True)
                await asyncio.sleep(2 * LIMIT)
                during = far.runs
                os.kill(recorder.pid, signal.SIGKILL)
                took = await far.until(runs=False)
            finally:
                with contextlib.suppress(ProcessLookupError):
                    recorder.kill()
                await recorder.wait()
            return during, took

    during, took = asyncio.run(script())
    assert during
    assert took < LIMIT + LATE


def test_a_program_that_hangs_is_silence_too(machine):
    """Stopped by a signal, the process lives and says nothing."""

    async def script():
        async with machine as far:
            recorder = await asyncio.create_subprocess_exec(sys.executable, "-c", RECORDER, far.address)
            try:
                await far.until(runs=True)
                os.kill(recorder.pid, signal.SIGSTOP)
                took = await far.until(runs=False)
                os.kill(recorder.pid, signal.SIGCONT)
                await asyncio.sleep(0.5)
                return took, far.runs
            finally:
                recorder.kill()
                await recorder.wait()

    took, runs_again = asyncio.run(script())
    assert took < LIMIT + LATE
    assert not runs_again


def test_a_dry_run_keeps_what_it_would_have_said():
    """Nothing is stopped; the messages are there to look at."""

    async def script():
        output = open_stop("dry-run:")
        async with StopGuard(output, beat=0.05, limit=0.5) as guard:
            await allow_for(guard, 0.3)
        return list(output.messages)

    messages = asyncio.run(script())
    assert messages[0].startswith(b"RUN 1 ")
    assert messages[-1].startswith(b"STOP 0 ")


def test_an_unreachable_machine_is_told_and_nothing_is_permitted():
    """The guard opens all the same, says so, and goes on trying."""

    async def script():
        async with StopGuard(open_stop("serial:/dev/no-such-port"), beat=0.05, limit=0.5) as guard:
            guard.allow()
            await asyncio.sleep(0.2)
            return guard.state

    state = asyncio.run(script())
    assert (state.word, state.sent) == ("unreachable", 0)
    assert "/dev/no-such-port" in state.sentence


@pytest.mark.parametrize("kind", STOP_KINDS, ids=lambda kind: kind.name)
def test_the_manifest_agrees_with_the_registry(kind):
    """Interface and summary once; the caution stands."""
    manifest = tomllib.loads((FOLDER / "stop" / "manifest.toml").read_text(encoding="utf-8"))

    assert (kind.interface, kind.help) == (manifest[kind.name]["interface"], manifest[kind.name]["summary"])
    assert kind.interface == INTERFACE
    assert "interlocks stay in charge" in manifest["caution"]
