"""A form that is sent twice is done once, with and without script.

Each page gives its forms a token of their own against forgery; token and content together are the mark of a sending.
The mark is kept with the deed. The same form sent again, by a double press, the back button or a reload, is led to
where it led the first time. The same words written anew come from a page made anew, and are a deed of their own.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import Resolver404, resolve, reverse
from django.utils.translation import gettext as _

from lapwright.app import sent_forms
from lapwright.web.surroundings import now

AGAINST_FORGERY = "csrfmiddlewaretoken"
#: Addresses that take the same again and again: a reading says itself which one it is, and a stop is never held back.
EACH_COUNTS = ("take", "station_stop")
#: Addresses whose deed is not in the records.
BESIDE_RECORDS = ("practice",)
MOST_PLACE = 500  # characters of an address that is kept


class SentOnce:
    """Django middleware: a form that has led to a deed leads to no second one."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """The answer of the page; for a form sent before, the way to where that led."""
        response = self.get_response(request)
        sending: sent_forms.Sending | None = getattr(request, "sending", None)
        if sending is None:
            return response
        sent_forms.end()
        if sending.is_again:
            return _lead(request, sent_forms.awaited_place(sending.mark))
        place = response.headers.get("Location", "")
        if _name(request) in BESIDE_RECORDS and place:
            sent_forms.keep_alone(sending)
        if sending.is_kept and place and len(place) <= MOST_PLACE:
            sent_forms.note_place(sending.mark, place)
        return response

    def process_view(self, request: HttpRequest, view: object, args: object, given: object) -> HttpResponse | None:
        """None lets the form through to its page."""
        del view, args, given
        token = request.POST.get(AGAINST_FORGERY, "") if request.method == "POST" else ""
        if not token or _name(request) in EACH_COUNTS:
            return None
        mark = _mark(request)
        if sent_forms.place_of(mark) is not None:
            return _lead(request, sent_forms.awaited_place(mark))
        request.sending = sent_forms.begin(mark, now())  # type: ignore[attr-defined]
        return None


# ----------------------------------------------------------------------------------------------------------------------


def _name(request: HttpRequest) -> str:
    return request.resolver_match.view_name if request.resolver_match else ""


def _mark(request: HttpRequest) -> str:
    """SHA-256 over the address, the token and all that was sent; each part with its length, so that none runs over."""
    digest = hashlib.sha256()
    parts = [request.path, *(part for name, values in request.POST.lists() for part in (name, *values))]
    for part in parts:
        plain = part.encode(errors="surrogatepass")
        digest.update(b"%d:%b" % (len(plain), plain))
    for name, files in request.FILES.lists():
        for file in files:
            digest.update(f"{name}/{file.name}/{file.size}".encode(errors="surrogatepass"))
            _add(digest, file)
    return digest.hexdigest()


def _add(digest: hashlib._Hash, file: UploadedFile[Any]) -> None:
    for chunk in file.chunks():
        digest.update(chunk)
    file.seek(0)


def _lead(request: HttpRequest, place: str) -> HttpResponse:
    """Where the form led the first time, else to the page that it was sent from, and what is to be known there."""
    sentence = _(
        "This form was sent before and is recorded once; nothing more was recorded now. To record the same a second"
        " time, fill in the form anew."
    )
    messages.warning(request, sentence, extra_tags="doubt")
    return redirect(place or _page_before(request))


def _page_before(request: HttpRequest) -> str:
    """The page of this program that the form stood on; Hands where the browser does not say."""
    before = urlsplit(request.headers.get("Referer", ""))
    try:
        resolve(before.path)
    except Resolver404:
        return reverse("hands")
    same = before.netloc == request.get_host()
    return before.path + (f"?{before.query}" if before.query else "") if same else reverse("hands")
