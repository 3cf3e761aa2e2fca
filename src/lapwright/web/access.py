"""Who asks, and may they: asked of every request before a page sees it.

On this machine alone there are no accounts: the pages answer to requests from it and to nobody else. As soon as others
can reach the pages every request needs an account or a token with the right for it, and a page shows no form whose
sending would be refused: what you may do is what you see.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import Resolver404, resolve, reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from lapwright.app import accounts, wiring
from lapwright.web import faults, kept_form
from lapwright.web.rights import OPEN, SAFE, needed
from lapwright.web.surroundings import now, shown

_FORM = re.compile(r'<form\b(?=[^>]*\bmethod="post")([^>]*)>.*?</form>', re.DOTALL)
_ACTION = re.compile(r'\baction="([^"]*)"')
_LINK = re.compile(r'<a\b[^>]*\bhref="([^"#?]*)[^"]*"[^>]*>.*?</a>', re.DOTALL)


class Access:
    """Django middleware: lets a request through to its page, or refuses it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """The answer of the page, without the forms that the asker may not send."""
        response = self.get_response(request)
        rights = getattr(request, "rights", None)
        if rights is not None and rights != accounts.ALL_RIGHTS and _is_page(response):
            response.content = _without_forms(response.content.decode(), request.path, rights).encode()
        return response

    def process_view(
        self, request: HttpRequest, view: object, args: object, given: Mapping[str, Any]
    ) -> HttpResponse | None:
        """None lets the request through to its page; an answer takes the place of the page's."""
        del view, args
        name = request.resolver_match.view_name if request.resolver_match else ""
        if not accounts.are_demanded(wiring.current_settings()):
            return None if _is_here(request) else _elsewhere(request)
        if name in OPEN:
            return None
        rights = _rights(request)
        if not rights:
            return _ask(request)
        request.rights = rights  # type: ignore[attr-defined]
        if needed(name, request.method or "", given) not in rights:
            return faults.denied(request)
        return None


# ----------------------------------------------------------------------------------------------------------------------


def _is_here(request: HttpRequest) -> bool:
    return accounts.is_loopback(request.META.get("REMOTE_ADDR", ""))


def _rights(request: HttpRequest) -> frozenset[str]:
    """What the asker may do: by the token of a program, else by the session of a person."""
    kind, _sep, token = request.headers.get("Authorization", "").partition(" ")
    is_api = _is_for_programs(request)
    if kind.lower() == "bearer":
        held = accounts.holder_of(token.strip(), at=now()) if is_api else None
        if held is None:
            return frozenset()
        request.token_of = held[0]  # type: ignore[attr-defined]
        return held[1]
    if not request.user.is_authenticated or (is_api and request.method not in SAFE):
        return frozenset()  # the API takes no form's token, so a session alone must not write there
    return accounts.rights_of(request.user.get_username())


def _is_for_programs(request: HttpRequest) -> bool:
    return request.path.startswith("/api/") or request.path == "/metrics"


def _ask(request: HttpRequest) -> HttpResponse:
    """To the log-in, or 401 for whoever is no person at a page."""
    if _is_for_programs(request):
        sentence = _("This needs a token that holds: send it as 'Authorization: Bearer …'.")
        answer = faults.answer(request, 401, sentence, code="request.no_account")
        answer.headers["WWW-Authenticate"] = "Bearer"
        return answer
    if request.method in SAFE and request.headers.get("HX-Request") is None:
        return redirect(f"{reverse('login')}?{urlencode({'next': request.get_full_path()})}")
    if "text/html" in request.headers.get("Accept", ""):
        sentence = _("You are not logged in, or no longer. Log in here and send it again; what you typed is kept.")
        content = {"next": request.get_full_path(), "refusal": sentence, "kept": kept_form.pack(request.POST)}
        return shown(request, "login.html", here="login", status=401, **content)
    sentence = _("You are not logged in, or no longer. Log in and send it again; nothing was recorded.")
    return faults.answer(request, 401, sentence, code="request.no_account")


def _elsewhere(request: HttpRequest) -> HttpResponse:
    sentence = _(
        "These pages answer to their own machine alone, because there are no accounts. Serve them with"
        ' accounts = "always", or on another address; nothing was recorded.'
    )
    return faults.answer(request, 403, sentence, code="request.denied")


def _is_page(response: HttpResponse) -> bool:
    return not response.streaming and response.headers.get("Content-Type", "").startswith("text/html")


def _without_forms(page: str, path: str, rights: frozenset[str]) -> str:
    def form(found: re.Match[str]) -> str:
        action = _ACTION.search(found[1])
        return found[0] if _may(action[1] if action else path, "POST", rights) else ""

    def link(found: re.Match[str]) -> str:
        return found[0] if not found[1].startswith("/") or _may(found[1], "GET", rights) else ""

    return _LINK.sub(link, _FORM.sub(form, page))


def _may(address: str, method: str, rights: frozenset[str]) -> bool:
    try:
        found = resolve(address.split("#", maxsplit=1)[0].split("?", maxsplit=1)[0])
    except Resolver404:
        return True
    return found.view_name in OPEN or needed(found.view_name, method, found.kwargs) in rights
