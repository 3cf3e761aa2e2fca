"""Clients that dribble, on real sockets: each is cut off in bounded time while others are answered."""

import asyncio
import http.client
import socket
import threading
import time
from contextlib import closing, contextmanager, suppress
from typing import ClassVar

import pytest
import uvicorn
from uvicorn.server import ServerState

from lapwright.web.connections import HEAD_WITHIN, LEAST, LOOK, STRIKES, BoundedHttp

LARGE = b"m" * (32 << 20)  # more than the systems on both ends hold in their buffers
HEAD = b"GET / HTTP/1.1\r\nHost: bench\r\n"
POST = b"POST / HTTP/1.1\r\nHost: bench\r\nContent-Length: 500000000\r\n\r\n"
PATIENCE = 15.0


class Hasty(BoundedHttp):
    """The same with less patience, so that the test is short."""

    head_within, look, most = 0.4, 0.05, 8
    ended: ClassVar[set[tuple[str, int]]] = set()

    def let_go(self, why):
        """Note whose connection it was."""
        self.ended.add(self.client)
        super().let_go(why)


async def application(scope, receive, send):
    """Answers with what was sent, or with much."""
    body, more = b"", True
    while more:
        message = await receive()
        if message["type"] != "http.request":
            return
        body, more = body + message["body"], message.get("more_body", False)
    said = LARGE if scope["path"] == "/large" else body or b"fine"
    length = [(b"content-length", str(len(said)).encode())]
    await send({"type": "http.response.start", "status": 200, "headers": length})
    await send({"type": "http.response.body", "body": said})


@pytest.fixture(scope="module")
def address():
    """Where the application is served."""
    listener = socket.create_server(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(application, http=Hasty, lifespan="off", log_level="critical"))
    thread = threading.Thread(target=lambda: asyncio.run(server.serve([listener])))
    thread.start()
    yield listener.getsockname()
    server.should_exit = True
    thread.join()


@contextmanager
def connected(address, first=b""):
    """A connection on which something was sent."""
    with socket.create_connection(address, timeout=PATIENCE) as line:
        line.sendall(first)
        yield line


def answer(address):
    """What a client that gets on is answered; once more if this machine held it up so long that it was cut off."""
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until:
        client = http.client.HTTPConnection(*address, timeout=PATIENCE)
        with suppress(ConnectionError, http.client.HTTPException), closing(client):
            client.request("GET", "/")
            return client.getresponse().read()
    return b""


def is_cut_off(line, sip=b""):
    """Whether the server ends the connection, meanwhile sipping at it now and then."""
    until = time.monotonic() + PATIENCE
    line.settimeout(0.02)
    while time.monotonic() < until:
        try:
            if sip:
                line.sendall(sip)
            if not line.recv(4096):
                return True
        except TimeoutError:
            continue
        except OSError:
            return True
    return False


@pytest.mark.parametrize("first", [b"", HEAD, b"GET /"], ids=["silent", "half a head", "half a line"])
def test_a_head_that_does_not_come_ends_the_connection(address, first):
    """Silent, or a letter at a time: there is an end to it, and somebody else is answered meanwhile."""
    with connected(address, first) as line:
        assert answer(address) == b"fine"
        assert is_cut_off(line, b"x" if first else b"")


def test_a_second_head_that_does_not_come_ends_the_connection_too(address):
    """After an answer the connection is kept for the next request; what dribbles then is cut off like a first one."""
    with connected(address, HEAD + b"\r\n" + HEAD) as line:
        assert line.recv(4096).startswith(b"HTTP/1.1 200") or is_cut_off(line)
        assert is_cut_off(line, b"G")


def test_a_body_that_dribbles_ends_the_connection(address):
    """A few bytes now and then of five million announced ones."""
    with connected(address, POST + b"some") as line:
        assert answer(address) == b"fine"
        assert is_cut_off(line, b"y")


def test_an_answer_that_is_not_taken_ends_the_connection(address):
    """A large answer that is not read: the server does not keep the rest for ever."""
    with connected(address, HEAD.replace(b"/ ", b"/large ") + b"\r\n") as line:
        until = time.monotonic() + PATIENCE
        while line.getsockname() not in Hasty.ended and time.monotonic() < until:
            time.sleep(Hasty.look)
        assert answer(address) == b"fine"
        taken = 0
        with suppress(ConnectionError):
            while got := line.recv(1 << 20):
                taken += len(got)
    assert taken < len(LARGE)


def test_whoever_gets_on_is_not_cut_off():
    """Enough bytes between two looks, for as long as it takes; too few at three in a row are the end."""
    asyncio.run(looked_at_by_hand())


class Wire(asyncio.Transport):
    """A transport that leads nowhere, and remembers how it ended."""

    aborted = False

    def abort(self):
        """The end, at once."""
        self.aborted = True

    def get_write_buffer_size(self):
        """Nothing waits here."""
        return 0

    def write(self, data):
        """Into the void."""

    def close(self):
        """The end, in order."""

    def pause_reading(self):
        """Nothing is read here."""

    def resume_reading(self):
        """Nothing is read here."""


async def looked_at_by_hand():
    """A large body with a look after each piece of it."""

    class Calm(BoundedHttp):
        look, least = 3600.0, 1.0

    config = uvicorn.Config(application, lifespan="off", log_level="critical")
    line = Calm(config, ServerState(), {})
    transport = Wire()
    line.connection_made(transport)
    line.data_received(POST)
    for _ in range(20):
        line.data_received(bytes(3600))
        await asyncio.sleep(0)  # the application takes it
        line.look_after()
    assert not transport.aborted
    for _ in range(STRIKES):
        line.look_after()
    assert transport.aborted
    line.connection_lost(None)


def test_those_without_a_request_make_room_for_others(address):
    """Many silent connections: those there first go first, and whoever asks is answered at once."""
    silent = [socket.create_connection(address, timeout=PATIENCE) for _ in range(3 * Hasty.most)]
    try:
        assert answer(address) == b"fine"
        assert all(is_cut_off(line) for line in silent[: 2 * Hasty.most])
    finally:
        for line in silent:
            line.close()


def test_patience_lasts_for_a_slow_line_and_no_longer():
    """A head of a few kilobytes over 9600 bits a second takes four seconds; nobody holds a place for half a minute."""
    assert 4096 * 10 / 9600 < HEAD_WITHIN < 30.0
    assert LEAST < 9600 / 10
    assert LOOK * (STRIKES + 1) < 30.0
