"""The socket of the pages: who is let in, what is told, and that a page that does not listen holds up nothing."""

import asyncio
import json
from datetime import UTC, datetime

import pytest

from lapwright.model.live import LiveBatch

BATCH = LiveBatch(
    station_id="L1", word="running", at=datetime(2026, 11, 25, 8, 0, tzinfo=UTC), run_id=1, target=20e-6, removed=1e-6
)


def ticket():
    """The cookie that Stations gives."""
    from django.test import Client

    from lapwright.web.sockets import TICKET_COOKIE

    answer = Client(HTTP_HOST="localhost").get("/stations")
    given = answer.cookies[TICKET_COOKIE]
    assert (given["httponly"], given["samesite"]) == (True, "Strict")
    return f"{TICKET_COOKIE}={given.value}"


def talk(address, headers, play, **more):
    """Open the socket with headers and play with it; what the play gives."""
    from asgiref.testing import ApplicationCommunicator

    from lapwright.web.asgi import application

    path, _, query = address.partition("?")
    scope = {
        "type": "websocket", "path": path, "query_string": query.encode(), "subprotocols": [],
        "headers": [(name.encode(), value.encode()) for name, value in headers.items()],
        **more,
    }  # fmt: skip

    async def main():
        socket = ApplicationCommunicator(application, scope)
        try:
            await socket.send_input({"type": "websocket.connect"})
            return await play(socket)
        finally:
            await socket.send_input({"type": "websocket.disconnect", "code": 1000})
            await socket.wait()

    return asyncio.run(main())


async def connected(socket):
    """Let in."""
    assert (await socket.receive_output(timeout=30.0))["type"] == "websocket.accept"


async def first_output(socket):
    """The first message or the closing."""
    told = await socket.receive_output(timeout=30.0)
    return await socket.receive_output(timeout=30.0) if told["type"] == "websocket.accept" else told


def own(**changes):
    """The headers of a page of ours."""
    return {"host": "localhost:8000", "origin": "http://localhost:8000", "cookie": ticket(), **changes}


@pytest.mark.usefixtures("records")
class TestWhoIsLetIn:
    """Origin and ticket."""

    def test_with_accounts_only_who_may_see_is_let_in(self, monkeypatch):
        """No session, a session without a role, a session with one; on this machine alone nobody from elsewhere."""
        from datetime import UTC, datetime

        from django.contrib.auth import get_user_model
        from django.test import Client

        from lapwright.app import accounts
        from lapwright.web.sockets import NOT_OURS

        why = {"by": "local", "reason": "", "at": datetime(2026, 11, 25, 8, 0, tzinfo=UTC)}
        headers = own()
        sessions = {}
        for role in ("none", "viewer"):
            accounts.open_account(role, "", role, **why)
            client = Client(HTTP_HOST="localhost")
            client.force_login(get_user_model().objects.get(username=role))
            sessions[role] = f"{headers['cookie']}; sessionid={client.cookies['sessionid'].value}"
        monkeypatch.setattr(accounts, "are_demanded", lambda _settings: True)
        for cookie in (headers["cookie"], sessions["none"]):
            told = talk("/live", {**headers, "cookie": cookie}, first_output)
            assert (told["type"], told["code"]) == ("websocket.close", NOT_OURS)
        talk("/live", {**headers, "cookie": sessions["viewer"]}, connected)
        monkeypatch.setattr(accounts, "are_demanded", lambda _settings: False)
        told = talk("/live", headers, first_output, client=("192.0.2.7", 5000))
        assert (told["type"], told["code"]) == ("websocket.close", NOT_OURS)

    def test_a_page_of_another_site_is_refused(self):
        """An origin that is no host of ours gets no socket at all."""
        told = talk("/live", own(origin="http://elsewhere.example"), first_output)
        assert told["type"] == "websocket.close"

    def test_a_page_of_another_port_is_closed(self):
        """Another program on this machine is a stranger, although cookies know no ports."""
        assert talk("/live", own(origin="http://localhost:9000"), first_output)["code"] == 4403

    @pytest.mark.parametrize("cookie", ["", "lapwright_live=live", "lapwright_live=made:up:ticket"])
    def test_without_the_ticket_of_a_page_it_is_closed(self, cookie):
        """No cookie, and cookies that were not signed here."""
        assert talk("/live", own(cookie=cookie), first_output)["code"] == 4403

    def test_without_a_recorder_the_page_hears_that(self):
        """A message says that nobody answers; the socket stays."""
        told = json.loads(talk("/live", own(), first_output)["text"])
        assert [batch["word"] for batch in told["batches"]] == ["recorder_away"]


@pytest.mark.usefixtures("records")
def test_batches_of_all_stations_come_in_one_message(started_records):
    """Two stations told within a tenth of a second are one message; with ?station= only that one comes."""
    from lapwright.app.recorder.broadcast import Broadcast

    headers = own()

    async def play(socket):
        async with Broadcast(started_records.data) as broadcast:
            await connected(socket)
            heard = []
            for _ in range(100):
                for station in ("L1", "L2"):
                    broadcast.tell(LiveBatch(station_id=station, word="idle", at=BATCH.at))
                await asyncio.sleep(0.02)
                if not await socket.receive_nothing(timeout=0.001, interval=0.001):
                    message = json.loads((await socket.receive_output())["text"])
                    heard.append({batch["station"] for batch in message["batches"]})
            return heard

    assert {"L1", "L2"} in talk("/live", headers, play)
    heard = talk("/live?station=L2", headers, play)
    assert heard
    assert set().union(*heard) == {"L2"}


@pytest.mark.usefixtures("records")
def test_a_page_that_takes_nothing_holds_up_nothing(started_records):
    """200 batches while nobody reads: the telling takes no time, and the page then gets the latest, not all."""
    from lapwright.app.recorder.broadcast import Broadcast

    headers = own()

    async def play(socket):
        async with Broadcast(started_records.data) as broadcast:
            await connected(socket)
            while not broadcast.listeners:  # noqa: ASYNC110  # nothing tells it
                await asyncio.sleep(0.01)
            begun = asyncio.get_running_loop().time()
            for _ in range(200):
                broadcast.tell(BATCH)
            return asyncio.get_running_loop().time() - begun

    assert talk("/live", headers, play) < 0.2


@pytest.mark.usefixtures("records")
def test_whatever_is_recorded_is_told(started_records):  # noqa: ARG001  the database
    """With ?records the number of the last write comes at once, and a greater one after a write of anybody."""
    from asgiref.sync import sync_to_async

    from lapwright.app import accounts

    headers = own()
    why = {"by": "local", "reason": "", "at": BATCH.at}

    async def play(socket):
        await connected(socket)
        first = json.loads((await socket.receive_output(timeout=30.0))["text"])["written"]
        await sync_to_async(accounts.open_account)("new", "", "viewer", **why)
        return first, json.loads((await socket.receive_output(timeout=15.0))["text"])["written"]

    first, second = talk("/live?records", headers, play)
    assert second > first
