"""One suite over every registered source, each with a peer that really talks."""

import asyncio
import random
import time

import pytest

from lapwright.errors import GaugeError
from lapwright.gauges import open_source
from lapwright.gauges.drivers.opcua.simulator import Simulator as OpcuaServer
from lapwright.gauges.registry import DRIVERS, INTERFACE
from lapwright.testing.gauges import FOLDER, PATIENCE, Case, act, all_cases

RULES = {"reads", "units", "gap", "reconnects", "duplicates", "garbage", "closes", "bounded", "real_peer"}


@pytest.fixture(scope="session")
def opcua_server():
    """One OPC UA server for the session; it takes seconds to start."""
    server = OpcuaServer(stays=True)
    yield server
    asyncio.run(server.shut())


@pytest.fixture(params=all_cases(), ids=str)
def case(request):
    """A driver and its peer; left out only when a program is not installed."""
    if request.param.missing:
        pytest.skip(request.param.missing)
    return request.param


@pytest.fixture
def peer(case, request):
    """The peer of a case."""
    return request.getfixturevalue("opcua_server") if case.driver == "opcua" else case.simulator()


def must(case, rule):
    """Skip a rule from which the manifest exempts the driver, with its reason."""
    if case.exempt(rule):
        pytest.skip(case.exempt(rule))


def test_readings_arrive_in_order_and_in_metres(case, peer):
    """What is sent in µm is given in m, in order, each later than the one before."""

    async def script(stage):
        await stage.peer.send(1e-6, 412.7e-6, -3.25e-6)
        await stage.heard(3)

    stage = asyncio.run(act(peer, script))

    assert pytest.approx([one.length for one in stage.readings], abs=1e-12) == [1e-6, 412.7e-6, -3.25e-6]
    assert {"µm"} == {one.unit for one in stage.readings}
    times = [one.time for one in stage.readings]
    assert times == sorted(set(times))
    assert all((one.utc is None) == (case.driver == "replay") for one in stage.readings)


def test_an_unchanged_value_is_a_reading_each_time(peer):
    """A coarse gauge repeats itself, and is alive all the same."""

    async def script(stage):
        for _ in range(5):
            await stage.peer.send(7e-6)
            await stage.pause(0.02)
        await stage.heard(5)

    assert len(asyncio.run(act(peer, script)).readings) == 5


def test_the_sign_of_the_gauge_can_be_turned_round(peer):
    """A gauge that shrinks with removal."""

    async def script(stage):
        await stage.peer.send(4e-6)
        await stage.heard(1)

    (reading,) = asyncio.run(act(peer, script, options="&sign=-")).readings
    assert pytest.approx(reading.length) == -4e-6


def test_silence_is_told_as_a_gap(case, peer):
    """A gap opens while it lasts, where somebody waits, and closes with the next reading."""

    async def script(stage):
        await stage.peer.send(1e-6)
        await stage.heard(1)
        await stage.pause(0.8)
        await stage.peer.send(2e-6)
        await stage.heard(2)

    stage = asyncio.run(act(peer, script, options="&gap_s=0.3"))

    first, second = stage.readings
    closed = next(gap for gap in stage.gaps if gap.started == first.time and gap.ended is not None)
    assert closed.ended == second.time
    assert closed.ended - closed.started > 0.3
    assert any(gap.ended is None for gap in stage.gaps) == (case.driver != "replay")
    assert stage.source.status.gaps >= 1


def test_the_source_comes_back_when_the_peer_does(case, peer):
    """A dead peer is a gap with a reason; afterwards readings go on by themselves."""
    must(case, "reconnects")

    async def script(stage):
        await stage.peer.send(1e-6)
        await stage.heard(1)
        await stage.peer.die()
        await stage.until(lambda: stage.source.status.state == "lost")
        await stage.peer.revive()
        await stage.source.connected(PATIENCE)
        await asyncio.sleep(0.15)
        await stage.peer.send(2e-6)
        await stage.heard(2)

    stage = asyncio.run(act(peer, script))

    assert pytest.approx([one.length for one in stage.readings]) == [1e-6, 2e-6]
    assert stage.gaps[0].started == stage.readings[0].time
    assert stage.gaps[-1].ended == stage.readings[1].time
    assert stage.gaps[0].reason


def test_a_repeated_frame_counts_once(case, peer):
    """The same count, or the same time and value, is the same reading."""
    must(case, "duplicates")

    async def script(stage):
        await stage.peer.send(1e-6)
        if case.driver == "opcua":
            from datetime import UTC, datetime

            stamp = datetime.now(UTC)
            await stage.peer.write(2.0, stamp=stamp)
            await stage.peer.write(2.0, stamp=stamp)
        elif case.driver == "replay":
            await stage.peer.send_raw(b"9.5,2\n9.5,2\n")
        else:
            for number in (61, 62, 62, 61):
                await stage.peer.send_raw(b'{"length_um": 2.0, "sequence": %d}\n' % number)
        await stage.peer.send_raw(b"")
        await stage.heard(2)
        await stage.pause(0.2)

    text = case.driver not in ("opcua", "replay")
    stage = asyncio.run(act(peer, script, options="&frame=json" if text else ""))

    assert (2 if text else 1) == sum(one.length == pytest.approx(2e-6) for one in stage.readings)
    assert case.driver == "opcua" or stage.source.status.duplicates == (2 if text else 1)


def test_rubbish_is_counted_and_passed_over(peer):
    """Whatever is sent, the next good frame is read."""
    rubbish = bytes(random.Random(4).choices([*range(0x21), *range(0x3A, 0x100)], k=3000)).replace(b"\x03", b"") + b"\n"

    async def script(stage):
        await stage.peer.send(1e-6)
        await stage.heard(1)
        await stage.peer.send_raw(rubbish)
        await stage.peer.send(2e-6)
        await stage.heard(2)

    stage = asyncio.run(act(peer, script))

    assert pytest.approx([one.length for one in stage.readings]) == [1e-6, 2e-6]
    assert stage.source.status.bad_frames > 0
    assert stage.bad[-1].reason


def test_closing_is_prompt_and_lets_go_of_the_device(peer):
    """The same address can be opened again at once."""

    async def script():
        took = []
        async with peer:
            for _ in range(2):
                source = open_source(peer.address)
                async with source:
                    await source.connected(PATIENCE)
                    begun = time.monotonic()
                took.append(time.monotonic() - begun)
                assert source.status.state == "closed"
        return took

    assert max(asyncio.run(script())) < 5.0


def test_a_slow_reader_costs_the_oldest_and_is_told(case, peer):
    """Memory is bounded: of 200 readings in a buffer of 20 the last 20 are there, and a gap says what went."""

    async def script():
        async with peer, open_source(peer.address + "&buffer=20") as source:
            await source.connected(PATIENCE)
            await asyncio.sleep(0.08)
            await peer.send(*(n * 1e-6 for n in range(1, 201)))
            async with asyncio.timeout(PATIENCE):
                while source.status.readings < 200:  # noqa: ASYNC110  a source tells no event of its own
                    await asyncio.sleep(0.005)
            return [await anext(source) for _ in range(21)], source.status

    async def replayed():
        async with peer:
            await peer.send(*(n * 1e-6 for n in range(1, 201)))
            async with open_source(peer.address + "&buffer=20") as source:
                return [event async for event in source], source.status

    if case.driver == "replay":
        events, status = asyncio.run(replayed())
        assert (len(events), status.dropped) == (200, 0)
        return
    events, status = asyncio.run(script())
    assert 180 <= events[0].lost == status.dropped
    assert pytest.approx(events[-1].length) == 200e-6


def test_a_peer_that_is_not_there_is_one_clear_sentence(case):
    """The device is named, and what to do."""
    simulator = case.simulator()

    async def script():
        if case.driver == "bluetooth":
            await simulator.__aenter__()
            await simulator.die()
        try:
            async with open_source(simulator.address) as source:
                await source.connected(3.0 if case.driver == "opcua" else 0.3)
        finally:
            if case.driver == "bluetooth":
                await simulator.__aexit__(None, None, None)

    with pytest.raises(GaugeError) as caught:
        asyncio.run(script())
    place = simulator.address.partition(":")[2].partition("?")[0].partition("/shop")[0]
    assert place in caught.value.sentence.replace("opc.tcp://", "")
    assert caught.value.sentence.endswith(".")


@pytest.mark.parametrize("driver", DRIVERS, ids=lambda driver: driver.name)
def test_manifest_and_page_agree_with_the_registry(driver):
    """Name, interface and summary once; every rule answered; the caution stands."""
    manifest = Case(driver=driver.name).manifest()
    page = (FOLDER / "drivers" / driver.name / "README.md").read_text(encoding="utf-8")

    assert (driver.name, INTERFACE) == (manifest["name"], manifest["interface"])
    assert driver.interface == INTERFACE
    assert driver.help.partition(" (")[0] == manifest["summary"]
    assert set(manifest["quality"]) == RULES
    assert all(words.partition(":")[0] in ("done", "exempt", "to do") for words in manifest["quality"].values())
    assert "interlocks stay in charge" in manifest["caution"]
    assert manifest["caution"] in page


def test_names_are_unique():
    """One word, one driver."""
    names = [driver.name for driver in DRIVERS]
    assert sorted(set(names)) == sorted(names)
