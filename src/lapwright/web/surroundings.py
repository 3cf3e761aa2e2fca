"""What every page needs around its own content: who asks, what time it is, and the frame it is shown in."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any, TypedDict
from urllib.parse import unquote

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from lapwright.app import accounts, wiring
from lapwright.web import navigation, tour
from lapwright.web.rights import words

#: Cookie that remembers who works at this screen, until somebody else says so.
PERSON_COOKIE = "lapwright_person"


class Signed(TypedDict):
    """The three things every write carries."""

    by: str
    reason: str
    at: datetime


def now() -> datetime:
    """The time, aware, in UTC."""
    return datetime.now(tz=UTC)


def person(request: HttpRequest) -> str:
    """The short name that writes from this screen carry."""
    if getattr(request, "rights", None) is not None:
        return str(getattr(request, "token_of", "") or request.user.get_username())
    chosen = request.COOKIES.get(PERSON_COOKIE, "")
    return chosen or wiring.current_settings().person


def signed(request: HttpRequest, reason: str) -> Signed:
    """Who, why and when, for a write."""
    return {"by": person(request), "reason": reason, "at": now()}


def shown(
    request: HttpRequest, template: str, *, here: str, order_id: str | None = None, status: int = 200, **content: Any
) -> HttpResponse:
    """A page in its frame; `here` names the place in the navigation."""
    rights = getattr(request, "rights", None)
    strip, number = tour.strip(request), tour.stop_of(request)
    context = {
        "here": here,
        "order_id": order_id,
        "person": person(request) if here != "login" else "",
        "this_address": _this_address(request),
        "with_accounts": rights is not None,
        "sections": navigation.SECTIONS,
        "section_here": navigation.section_of(here),
        "tour_strip": strip,
        "tour_offer": tour.offer(request) if here == "hands" else None,
        "may": words(accounts.ALL_RIGHTS if rights is None else rights),
        **content,
    }
    answer = render(request, f"lapwright/{template}", context, status=status)
    if number is not None:
        tour.remember(answer, number)
    return answer


# ----------------------------------------------------------------------------------------------------------------------


def _this_address(request: HttpRequest) -> str:
    """The address of a page, to come back to; "" for a form. Without its query where that names another host."""
    if request.method != "GET":
        return ""
    return request.path if "//" in unquote(request.META.get("QUERY_STRING", "")) else request.get_full_path()
