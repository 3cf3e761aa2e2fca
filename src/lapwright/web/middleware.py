"""What every answer carries, and how an error of ours becomes one.

Headers keep a page from loading, framing or sending anything elsewhere. A `LapwrightError` that a view lets through
becomes a page or a JSON object with the HTTP status of `errors.TABLE`.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed

from lapwright.app import changes
from lapwright.errors import LapwrightError
from lapwright.web import faults
from lapwright.web.measures import ANSWERS

LOG = logging.getLogger("lapwright.web.requests")
POLICY = (
    "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")


class PageRules:
    """Django middleware: headers on every answer, errors of ours as answers."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """The answer of the page, with the headers; counted, and told in the log."""
        begun = time.perf_counter()
        response = faults.not_found(request) if _names_nothing(request) else self._answer(request)
        _note(request, response, time.perf_counter() - begun)
        if isinstance(response, HttpResponseNotAllowed):
            response = faults.not_done_here(request, response)
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        if request.is_secure():
            for cookie in response.cookies.values():
                cookie["secure"] = True
            response.headers.setdefault("Strict-Transport-Security", "max-age=31536000")
        if not request.path.startswith("/static/"):
            response.headers.setdefault("Cache-Control", "no-store")
        return response

    def _answer(self, request: HttpRequest) -> HttpResponse:
        if request.method not in ("GET", "HEAD"):
            return self.get_response(request)
        with changes.one_look():
            return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """An answer for an error of ours; None leaves any other to Django."""
        if isinstance(exception, LapwrightError):
            return faults.told(request, exception)
        return None


# ----------------------------------------------------------------------------------------------------------------------


def _names_nothing(request: HttpRequest) -> bool:
    """Whether the address holds U+0000, plain or encoded, which no name holds and not every database can look for."""
    return "\0" in request.path or "%00" in request.META.get("QUERY_STRING", "")


def _note(request: HttpRequest, response: HttpResponse, seconds: float) -> None:
    """The page by its name alone: an address may hold a token, and what was asked is nobody's business."""
    if request.path.startswith("/static/"):
        return
    page = request.resolver_match.view_name if request.resolver_match else "none"
    method = request.method if request.method in METHODS else "other"
    ANSWERS.note(page, method, response.status_code, seconds)
    told = {"page": page, "method": method, "status": response.status_code, "took_ms": round(seconds * 1e3, 1)}
    LOG.info("answered", extra=told)
