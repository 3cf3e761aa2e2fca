"""Two servers and two recorders, each of a machine of its own as far as they know, on one real PostgreSQL."""

import asyncio
import json
import os
import re
import subprocess
import sys
from contextlib import ExitStack
from urllib.request import Request, urlopen

import pytest
from websockets.asyncio.client import connect

from lapwright.gauges.drivers.tcp.simulator import Simulator
from lapwright.testing.postgresql import new_database

FURNISH = """
import sys
from lapwright.app import live, wiring
from lapwright.settings import read_settings
from lapwright.testing.live import feed_of, now_why
from lapwright.testing.lot import Lot
wiring.start(read_settings())
bench = Lot()
bench.furnish()
bench.receive()
live.set_feed(feed_of(sys.argv[1]), **now_why())
"""


@pytest.fixture
def machines(postgresql_server, tmp_path):
    """The surroundings of a program on each of two machines: a data folder of its own, one database."""
    address = new_database(postgresql_server, "several")
    folders = [tmp_path / "first", tmp_path / "second"]
    return [{**os.environ, "LAPWRIGHT_DATA": str(one), "LAPWRIGHT_DATABASE": address} for one in folders]


def begun(stack, machine, *words):
    """A program that has said it is ready; its process and what it said."""
    process = subprocess.Popen(
        [sys.executable, "-m", "lapwright", *words, "--json"], env=machine, stdout=subprocess.PIPE
    )
    stack.callback(process.stdout.close)
    stack.callback(process.wait)
    stack.callback(process.kill)
    return process, json.loads(process.stdout.readline())["result"]


def asked(address, cookies="", form=None):
    """A page, and the cookies it gave."""
    request = Request(address, form, {"Cookie": cookies})
    with urlopen(request, timeout=30.0) as answer:
        given = "; ".join(one.split(";")[0] for one in answer.headers.get_all("Set-Cookie", []))
        return answer.read().decode(), given


async def shown(socket, reading):
    """Wait until the page's socket tells of a reading [µm] of the station."""
    async with asyncio.timeout(60.0):
        while True:
            for batch in json.loads(await socket.recv())["batches"]:
                if batch["station"] == "L1" and batch["reading_um"] == reading:
                    return


async def sending(gauge, values):
    """The gauge shows the latest of the values, twenty times a second."""
    while True:
        await gauge.send(values[-1] * 1e-6)
        await asyncio.sleep(0.05)


@pytest.mark.timeout(300)
def test_pages_of_two_servers_follow_one_gauge_and_a_recorder_takes_over_from_another(machines):
    """Both pages show each reading, and what is written through either.

    A recorder that is killed leaves its station to the one that waited.
    """
    first, second = machines

    async def play():
        values = [11.1]
        async with Simulator() as gauge:
            done = await asyncio.to_thread(
                subprocess.run, [sys.executable, "-c", FURNISH, gauge.address], env=first, check=False
            )
            assert done.returncode == 0
            with ExitStack() as stack:
                servers = [
                    begun(stack, machine, "serve", "--port", "0", "--no-recorder")[1]["address"] for machine in machines
                ]
                recorder, _ = begun(stack, first, "record")
                sender = asyncio.create_task(sending(gauge, values))
                sockets = [await _socket(address) for address in servers]
                await asyncio.gather(*(shown(socket, 11.1) for socket in sockets))
                begun(stack, second, "record")
                values.append(22.2)
                await asyncio.gather(*(shown(socket, 22.2) for socket in sockets))

                await asyncio.to_thread(_write_here_read_there, *servers)

                recorder.kill()
                await asyncio.to_thread(recorder.wait)
                values.append(33.3)
                await asyncio.gather(*(shown(socket, 33.3) for socket in sockets))
                sender.cancel()
                await asyncio.gather(*(socket.close() for socket in sockets))

    asyncio.run(play())


async def _socket(address):
    _, cookies = await asyncio.to_thread(asked, f"{address}stations")
    host = re.sub(r"^http://|/$", "", address)
    return await connect(f"ws://{host}/live", additional_headers={"Cookie": cookies}, origin=f"http://{host}")


def _write_here_read_there(here, there):
    page, cookies = asked(f"{here}orders/AP-1")
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)[1]
    form = f"csrfmiddlewaretoken={token}&kind=note&text=seen+from+both".encode()
    asked(f"{here}orders/AP-1/note", cookies, form)
    assert "seen from both" in asked(f"{there}orders/AP-1")[0]
