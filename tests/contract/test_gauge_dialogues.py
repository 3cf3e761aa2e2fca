"""What only some sources do, with peers that really talk."""

import asyncio
import importlib.util
import os
import time

import pytest

from lapwright.errors import FileFormatError, FrameError, GaugeError, NotConnected, Stale
from lapwright.gauges import BadFrames, Gap, GaugeReading, first_reading, open_source
from lapwright.gauges.drivers.folder.simulator import Simulator as Folder
from lapwright.gauges.drivers.mqtt.simulator import TOPIC, mosquitto_program
from lapwright.gauges.drivers.mqtt.simulator import Simulator as Topic
from lapwright.gauges.drivers.opcua.simulator import Simulator as OpcuaServer
from lapwright.gauges.drivers.serial.simulator import Simulator as Terminal
from lapwright.gauges.drivers.tcp.simulator import Simulator as Socket
from lapwright.testing.gauges import PATIENCE, act

BROKER = "mosquitto" if mosquitto_program() else "amqtt"


async def every_event(address):
    """All events of a source that ends."""
    async with open_source(address) as source:
        return [event async for event in source]


class Talker(Socket):
    """A gauge that must be asked: a list of (asked, answer); anything else is a fault."""

    def __init__(self, dialogue):
        super().__init__()
        self.left, self.wrong = list(dialogue), []

    async def answer(self):
        """Answer what is asked, in order."""
        while True:
            while self.heard:
                asked, answer = self.left.pop(0) if self.left else (b"", b"")
                if not self.heard.startswith(asked) or not asked:
                    self.wrong.append(bytes(self.heard))
                    return
                del self.heard[: len(asked)]
                await self.send_raw(answer)
            await asyncio.sleep(0.005)


def test_a_gauge_that_must_be_asked_is_asked():
    """Every question as agreed, every answer read, nothing left over; the first answer counts, too."""
    talker = Talker([(b"P\r", b"1.0\r"), (b"P\r", b"ERR\r"), (b"P\r", b"2.5\r")])

    async def script(stage):
        answering = asyncio.create_task(talker.answer())
        await stage.until(lambda: not talker.left)
        await stage.heard(2)
        answering.cancel()

    stage = asyncio.run(act(talker, script, options="&request=P%0D&every_ms=30"))
    assert [one.length for one in stage.readings] == pytest.approx([1e-6, 2.5e-6])
    assert (stage.source.status.bad_frames, talker.wrong) == (1, [])


def test_a_serial_gauge_is_asked_alike():
    """The request goes out on the port."""

    async def script(stage):
        asked = b""
        while asked.count(b"?\r\n") < 3:
            asked += await stage.peer.heard()
            await asyncio.sleep(0.01)
        assert set(asked.split(b"\r\n")) == {b"?", b""}
        await stage.peer.send(7e-6)
        await stage.heard(1)

    asyncio.run(act(Terminal(), script, options="&request=%3F%0D%0A&every_ms=20"))


def test_a_line_joined_in_its_middle_is_no_reading():
    """A peer that is talking when we come: its first line may lack its beginning."""
    peer = Socket(greeting=b"2.7\r\n412.8\r\n")

    async def script(stage):
        await stage.heard(1)

    (reading,) = asyncio.run(act(peer, script)).readings
    assert reading.length == pytest.approx(412.8e-6)


def test_a_line_cut_by_the_end_of_the_connection_is_no_reading():
    """Half a line before the break, the other half after it: neither counts, and they are not put together."""

    async def script(stage):
        await stage.peer.send(1e-6)
        await stage.heard(1)
        await stage.peer.send_raw(b"41")
        await asyncio.sleep(0.05)
        await stage.peer.die()
        await stage.until(lambda: stage.source.status.state == "lost")
        await stage.peer.revive()
        await stage.source.connected(PATIENCE)
        await stage.peer.send_raw(b"2.7\r\n")
        await asyncio.sleep(0.1)
        await stage.peer.send(3e-6)
        await stage.heard(2)

    stage = asyncio.run(act(Socket(), script))
    assert [one.length for one in stage.readings] == pytest.approx([1e-6, 3e-6])
    assert stage.bad[0].reason == "cut off"


def test_a_serial_port_is_ours_alone():
    """A second reader is refused, by name, and comes in when the first has left."""

    async def script():
        async with Terminal() as peer:
            async with open_source(peer.address) as first:
                await first.connected(PATIENCE)
                async with open_source(peer.address) as second:
                    with pytest.raises(NotConnected) as caught:
                        await second.connected(0.5)
            async with open_source(peer.address) as third:
                await third.connected(PATIENCE)
            return caught.value.sentence

    assert "lock" in asyncio.run(script())


def test_a_retained_message_is_no_live_reading():
    """What the broker kept from yesterday is told as bad."""

    async def script():
        async with Topic(broker=BROKER) as peer:
            await peer.send_raw(b"99.0", retain=True)
            async with open_source(peer.address) as source:
                await source.connected(PATIENCE)
                await asyncio.sleep(0.1)
                await peer.send(1e-6)
                return [await anext(source), await anext(source)]

    bad, reading = asyncio.run(script())
    assert isinstance(bad, BadFrames)
    assert "kept from earlier" in bad.reason
    assert reading.length == pytest.approx(1e-6)


def test_each_topic_under_a_wildcard_is_a_channel():
    """Which gauge is speaking."""

    async def script():
        async with Topic(broker=BROKER) as peer:
            address = peer.address.replace(TOPIC, "shop/+")
            async with open_source(address) as source:
                await source.connected(PATIENCE)
                await peer.send(1e-6)
                return await first_reading(source, within=PATIENCE)

    assert asyncio.run(script()).channel == TOPIC


@pytest.fixture(scope="module")
def server():
    """One OPC UA server for all tests here."""
    simulator = OpcuaServer(stays=True)
    yield simulator
    asyncio.run(simulator.shut())


def test_the_value_held_from_before_is_no_live_reading(server):
    """The first notification of a subscription may be hours old."""

    async def script(stage):
        await stage.until(lambda: bool(stage.bad))
        await stage.peer.send(1e-6, 2e-6)
        await stage.heard(2)

    stage = asyncio.run(act(server, script))
    assert "held from earlier" in stage.bad[0].reason
    assert [one.length for one in stage.readings] == pytest.approx([1e-6, 2e-6])


def test_nothing_is_lost_between_two_publications(server):
    """Two hundred values, faster than they are told: the queue at the server holds them."""

    async def script(stage):
        await stage.peer.send(*(n * 1e-6 for n in range(200)))
        await stage.heard(200)

    stage = asyncio.run(act(server, script, options="&publish_ms=200"))
    assert [one.length for one in stage.readings] == pytest.approx([n * 1e-6 for n in range(200)])


def test_a_node_that_is_not_there_is_named(server):
    """The server's own word for it stands in the sentence."""

    async def script():
        async with server, open_source(server.address.replace("length_um", "depth")) as source:
            await source.connected(2.0)

    with pytest.raises(NotConnected, match="BadNodeIdUnknown"):
        asyncio.run(script())


def test_old_files_are_left_alone_and_new_ones_are_heard():
    """Also a second file, and a last line without an end once the file has settled."""

    async def script():
        peer = Folder()
        async with peer:
            await peer.send(1e-6)
            async with open_source(peer.address) as source:
                await source.connected(PATIENCE)
                await asyncio.sleep(0.05)
                await peer.send(2e-6)
                peer.next_file()
                await peer.send_raw(b"3")
                return [(await first_reading(source, within=PATIENCE)).length for _ in range(2)]

    assert asyncio.run(script()) == pytest.approx([2e-6, 3e-6])


def test_old_files_are_read_when_asked_for():
    """``existing=read``."""

    async def script():
        peer = Folder()
        async with peer:
            await peer.send(1e-6)
            async with open_source(peer.address + "&existing=read") as source:
                return await first_reading(source, within=PATIENCE)

    assert asyncio.run(script()).length == pytest.approx(1e-6)


def test_an_overwritten_file_is_read_anew_and_told():
    """A file that became shorter."""

    async def script(stage):
        await stage.peer.send(1e-6, 2e-6)
        await stage.heard(2)
        (stage.peer.path / "0001.txt").write_text("9\n")
        await stage.heard(3)

    stage = asyncio.run(act(Folder(), script))
    assert stage.readings[-1].length == pytest.approx(9e-6)
    assert "became shorter" in stage.bad[0].reason


def test_a_replay_keeps_the_time_of_the_file_at_any_speed(tmp_path):
    """One second of readings at fivefold speed takes 0.2 s and has the same stamps as without waiting."""
    file = tmp_path / "run.csv"
    file.write_text("# ours\ntime_s,length_um\n" + "".join(f"{n / 10},{n}\n" for n in range(11)))
    begun = time.monotonic()
    slow = asyncio.run(every_event(f"replay:{file}?speed=5"))
    took = time.monotonic() - begun

    assert took > 0.19
    assert [one.time for one in slow] == [n / 10 for n in range(11)]
    assert slow == asyncio.run(every_event(f"replay:{file}?speed=max"))


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", "no heading"),
        ("time,length\n1,2\n", "0 columns that begin with 'time_'"),
        ("time_s,length_um,length_mm\n", "2 columns"),
        ("time_s,length_kg\n", "length_kg"),
    ],
)
def test_a_file_that_is_no_stream_is_refused(tmp_path, text, word):
    """By what is wrong with its heading."""
    (tmp_path / "run.csv").write_text(text)
    with pytest.raises(FileFormatError, match=word):
        asyncio.run(every_event(f"replay:{tmp_path / 'run.csv'}"))


def test_a_file_that_is_not_there_is_named(tmp_path):
    """No retry: a replay either has its file or not."""
    with pytest.raises(GaugeError, match="No such file"):
        asyncio.run(every_event(f"replay:{tmp_path / 'run.csv'}"))


def test_a_row_without_an_end_of_line_fills_no_memory(tmp_path):
    """A megabyte in one row is one bad frame."""
    (tmp_path / "run.csv").write_text("time_s,length_um\n0,1\n" + "7" * 1_000_000 + "\n1,2\n")
    events = asyncio.run(every_event(f"replay:{tmp_path / 'run.csv'}?gap_s=10"))
    assert [one.time for one in events if isinstance(one, GaugeReading)] == [0.0, 1.0]
    assert [one.count for one in events if isinstance(one, BadFrames)] == [1]


def test_standard_input_ends_the_source(monkeypatch):
    """A pipe that is closed is the end, not a fault."""
    ours, theirs = os.pipe()
    monkeypatch.setattr(os, "dup", lambda _: ours)
    os.write(theirs, b"1.5\n2.5\n")
    os.close(theirs)
    assert [one.length for one in asyncio.run(every_event("keyboard:?unit=um"))] == pytest.approx([1.5e-6, 2.5e-6])


@pytest.mark.skipif(importlib.util.find_spec("bleak") is not None, reason="the library bleak is installed here")
def test_a_missing_library_is_one_clear_sentence():
    """What is missing, and how to get it."""

    async def script():
        async with open_source("bluetooth:00:00:5E:00:53:01?unit=um&characteristic=1") as source:
            await source.connected(PATIENCE)

    with pytest.raises(GaugeError, match="pip install bleak"):
        asyncio.run(script())


@pytest.mark.parametrize(
    ("sent", "error", "word"),
    [
        (b"", Stale, "nothing for 0.4 s"),
        (b"ERR 4\r\n", FrameError, "'ERR 4'"),
        (None, NotConnected, "Nothing answers"),
    ],
)
def test_a_gauge_that_is_not_alive_says_why(sent, error, word):
    """Silent, unreadable, and not there are three different faults."""

    async def script():
        peer = Socket()
        if sent is not None:
            await peer.revive()
        try:
            async with open_source(peer.address) as source:
                if sent:
                    await source.connected(PATIENCE)
                    await asyncio.sleep(0.08)
                    await peer.send_raw(sent)
                await first_reading(source, within=0.4)
        finally:
            await peer.die()

    with pytest.raises(error, match=word):
        asyncio.run(script())


def test_four_gauges_at_a_hundred_hertz_lose_nothing():
    """Two seconds of four live sources, each reading in its place."""

    async def one():
        peer = Socket()
        async with peer, open_source(peer.address) as source:
            await source.connected(PATIENCE)
            await asyncio.sleep(0.08)

            async def send():
                for n in range(200):
                    await peer.send(n * 1e-6)
                    await asyncio.sleep(0.01)

            sending = asyncio.create_task(send())
            found = [await anext(source) for _ in range(200)]
            await sending
            return found

    async def script():
        return await asyncio.gather(one(), one(), one(), one())

    for found in asyncio.run(script()):
        assert [round(one.length * 1e6) for one in found if isinstance(one, GaugeReading)] == list(range(200))
        assert not [one for one in found if isinstance(one, Gap)]


def test_minutes_of_four_channels_are_replayed_without_loss(tmp_path):
    """Four channels at 100 Hz for two minutes through a buffer of 50: 48 000 of 48 000."""
    rows = (f"{n / 100},{n},{channel}\n" for n in range(12_000) for channel in range(4))
    (tmp_path / "run.csv").write_text("time_s,length_um,channel\n" + "".join(rows))
    events = asyncio.run(every_event(f"replay:{tmp_path / 'run.csv'}?buffer=50"))

    assert len(events) == 48_000
    assert all(isinstance(one, GaugeReading) and not one.late for one in events)


def test_a_port_that_takes_no_request_is_opened_anew():
    """Else a gauge that must be asked would be silent for ever."""
    from lapwright.gauges.byte_stream import ask

    async def send(_request):
        raise TimeoutError

    told = []
    asyncio.run(ask(send, {"request": b"P", "every_ms": 10.0}, failed=told.append))
    assert len(told) == 1
