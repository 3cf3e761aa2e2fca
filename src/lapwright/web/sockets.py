"""The socket of a page: what the recorder shows of the stations, ten messages a second, for one station or for all.

With ``?records`` it tells instead that something was recorded, by anybody, so that a page looks again.

Nothing is taken in here: a page asks by its forms. A page that is slow gets fewer messages with the same points in
them, and past a limit fewer points; the recorder knows nothing of it.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
from contextlib import aclosing
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import parse_qs, urlsplit

from channels.db import database_sync_to_async
from channels.generic.websocket import AsyncWebsocketConsumer
from django.conf import settings
from django.contrib import auth
from django.contrib.sessions.backends.db import SessionStore
from django.core import signing
from django.http import HttpRequest, HttpResponse

from lapwright.app import accounts, changes, live, wiring
from lapwright.model.access import Right
from lapwright.web.live_fields import live_fields, merged

EVERY = 0.1  # s between messages
LOOK_FOR_WRITES = 1.0  # s between looks whether anything was recorded
LOOK_AGAIN = 30.0  # s between looks whether a page with an account may still watch
TICKET_COOKIE = "lapwright_live"
NOT_OURS = 4403  # close code: asked from elsewhere, or without the ticket that a page gives

_SALT = "lapwright.web.sockets"


def give_ticket(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """Let the page that is answered open the socket, for as long as the browser is open."""
    if not _is_ticket(request.COOKIES.get(TICKET_COOKIE, "")):
        ticket = signing.dumps("live", salt=_SALT)
        response.set_cookie(TICKET_COOKIE, ticket, httponly=True, samesite="Strict", secure=request.is_secure())
    return response


class LiveSocket(AsyncWebsocketConsumer):  # type: ignore[misc]  # channels carries no types
    """Batches of the stations to one page."""

    async def connect(self) -> None:
        """Take the page in when it is ours and has been here before."""
        self._waiting: dict[str, dict[str, Any]] = {}
        self._tasks: list[asyncio.Task[None]] = []
        await self.accept()
        headers = {name.decode("latin-1"): value.decode("latin-1") for name, value in self.scope["headers"]}
        if not (_is_own_page(headers) and _has_ticket(headers) and await self._may_watch(headers)):
            await self.close(code=NOT_OURS)
            return
        query = parse_qs(self.scope["query_string"].decode("latin-1"), keep_blank_values=True)
        asked = query.get("station", [])
        self._tasks = [asyncio.create_task(self._look_again(headers), name="live rights")]
        if "records" in query:
            self._tasks.append(asyncio.create_task(self._watch_records(), name="live records"))
            return
        self._tasks += [
            asyncio.create_task(self._listen(asked[0] if asked else None), name="live batches"),
            asyncio.create_task(self._tell(), name="live messages"),
        ]

    async def disconnect(self, code: int) -> None:  # noqa: ARG002  # channels gives it
        """Listen no more."""
        for task in self._tasks:
            task.cancel()
        if self._tasks:
            await asyncio.wait(self._tasks)

    async def receive(self, text_data: str | None = None, bytes_data: bytes | None = None) -> None:
        """Nothing is asked over the socket."""

    # ------------------------------------------------------------------------------------------------------------------

    async def _listen(self, station_id: str | None) -> None:
        async with aclosing(live.subscribe(station_id)) as batches:
            async for batch in batches:
                self._waiting[batch.station_id] = merged(self._waiting.get(batch.station_id), live_fields(batch))

    async def _watch_records(self) -> None:
        """Tell the number of the last write and the mark of the plans when the page comes, and whenever they change."""
        told: tuple[int, str] | None = None
        with contextlib.suppress(Exception):  # the page is gone, or the database just now; the page asks again
            while True:
                found = await database_sync_to_async(changes.marks)()
                if found != told:
                    await self.send(json.dumps({"written": found[0], "plan": found[1]}))
                    told = found
                await asyncio.sleep(LOOK_FOR_WRITES)
        await self.close()

    async def _may_watch(self, headers: dict[str, str]) -> bool:
        """Whether the asker may see: somebody of this machine, with accounts somebody with the right."""
        if accounts.are_demanded(wiring.current_settings()):
            return "see" in await database_sync_to_async(_rights)(headers)
        return accounts.is_loopback((self.scope.get("client") or ("localhost",))[0])

    async def _look_again(self, headers: dict[str, str]) -> None:
        """A page whose session or role has ended meanwhile is let go."""
        while accounts.are_demanded(wiring.current_settings()):
            await asyncio.sleep(LOOK_AGAIN)
            if not await self._may_watch(headers):
                await self.close(code=NOT_OURS)
                return

    async def _tell(self) -> None:
        with contextlib.suppress(Exception):  # the page is gone; `disconnect` follows
            while True:
                await asyncio.sleep(EVERY)
                if self._waiting:
                    told, self._waiting = self._waiting, {}
                    await self.send(json.dumps({"batches": list(told.values())}, allow_nan=False))


# ----------------------------------------------------------------------------------------------------------------------


def _is_own_page(headers: dict[str, str]) -> bool:
    """Whether a page of this very host and port asks; other ports of this machine are strangers."""
    return urlsplit(headers.get("origin", "")).netloc == headers.get("host")


def _rights(headers: dict[str, str]) -> frozenset[Right]:
    """What whoever logged in at this browser may do."""
    cookie = SimpleCookie(headers.get("cookie", "")).get(settings.SESSION_COOKIE_NAME)
    if cookie is None:
        return frozenset()
    request = HttpRequest()
    request.session = SessionStore(cookie.value)
    user = auth.get_user(request)
    return accounts.rights_of(user.get_username()) if user.is_authenticated else frozenset()


def _has_ticket(headers: dict[str, str]) -> bool:
    cookie = SimpleCookie(headers.get("cookie", "")).get(TICKET_COOKIE)
    return cookie is not None and _is_ticket(cookie.value)


def _is_ticket(text: str) -> bool:
    try:
        return bool(signing.loads(text, salt=_SALT) == "live")
    except signing.BadSignature:
        return False
