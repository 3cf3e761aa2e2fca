"""What every answer carries, and how an error of ours becomes one.

Headers keep a page from loading, framing or sending anything elsewhere. A `LapwrightError` that a view lets through
becomes a page or a JSON object with the HTTP status of `errors.TABLE`.
"""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed

from lapwright.errors import LapwrightError
from lapwright.web import faults

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


class PageRules:
    """Django middleware: headers on every answer, errors of ours as answers."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """The answer of the page, with the headers."""
        response = self.get_response(request)
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

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """An answer for an error of ours; None leaves any other to Django."""
        if isinstance(exception, LapwrightError):
            return faults.told(request, exception)
        return None
