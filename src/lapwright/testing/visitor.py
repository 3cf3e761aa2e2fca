"""Somebody at a browser without script: asks for pages of a real server and sends their forms, cookies kept."""

from __future__ import annotations

from collections.abc import Sequence
from email.message import Message
from http.client import HTTPResponse
from http.cookiejar import CookieJar
from typing import Any
from urllib.error import HTTPError
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, HTTPRedirectHandler, Request, build_opener

_PATIENCE_S = 60.0


class Answer:
    """What came: status, headers, text."""

    def __init__(self, came: HTTPResponse | HTTPError) -> None:
        self.status = int(came.status or 0)
        self.headers: Message = came.headers
        self.text = str(came.read(), "utf-8", "replace")

    @property
    def place(self) -> str:
        """Where it leads; "" where it leads nowhere."""
        return str(self.headers.get("Location", ""))


class Visitor:
    """A browser at an address, that follows nothing by itself."""

    def __init__(self, address: str) -> None:
        self._address = address
        self._opener = build_opener(_Staying, HTTPCookieProcessor(CookieJar()))

    def get(self, place: str) -> Answer:
        """A page."""
        return self._ask(Request(self._address + place))  # noqa: S310  # an address of this machine

    def page(self, place: str) -> str | None:
        """The text of a page, None for what is no page."""
        answer = self.get(place)
        is_page = answer.status == 200 and "text/html" in answer.headers.get("Content-Type", "")
        return answer.text if is_page else None

    def send(self, place: str, sent: Sequence[tuple[str, str]], *, page: str = "/") -> Answer:
        """A form of a page."""
        body = urlencode(sent, errors="surrogatepass").encode()
        headers = {"Referer": self._address + page, "Content-Type": "application/x-www-form-urlencoded"}
        return self._ask(Request(self._address + place, data=body, headers=headers))  # noqa: S310  # as above

    def _ask(self, request: Request) -> Answer:
        try:
            with self._opener.open(request, timeout=_PATIENCE_S) as came:
                return Answer(came)
        except HTTPError as refused:
            with refused:
                return Answer(refused)


class _Staying(HTTPRedirectHandler):
    def redirect_request(self, *_: Any, **__: Any) -> None:
        """Stay: where an answer leads is looked at, not followed."""
