"""Large answers packed on their way: a phone at the bench waits for the network longer than for the server."""

from __future__ import annotations

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware

LEAST = 10_000  # bytes from which on it is worth the while


class SlimAnswers(GZipMiddleware):
    """Django's own packing, of whole answers of some size; a stream goes out as it comes."""

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        """The answer, packed where whoever asks for it can unpack it."""
        if response.streaming or len(response.content) < LEAST:  # type: ignore[attr-defined]  # of answers that are no stream
            return response
        packed: HttpResponseBase = super().process_response(request, response)
        return packed
