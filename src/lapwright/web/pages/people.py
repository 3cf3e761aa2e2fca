"""Who works at this screen? Every record carries that name."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from lapwright.app import people
from lapwright.errors import NotFound
from lapwright.web.surroundings import PERSON_COOKIE, shown

_A_SHIFT_S = 12 * 3600


@require_http_methods(["GET", "HEAD", "POST"])
def who(request: HttpRequest) -> HttpResponse:
    """The people who may sign; a POST says which of them is here."""
    if getattr(request, "rights", None) is not None:
        return redirect("account")
    known = people.list_people()
    if request.method != "POST":
        return shown(request, "who.html", here="who", people=known)
    name = request.POST.get("name", "")
    if name not in {card.name for card in known}:
        raise NotFound(f"Nobody here signs as {name!r}. Choose one of {', '.join(card.name for card in known)}.")
    answer = redirect("hands")
    answer.set_cookie(PERSON_COOKIE, name, max_age=_A_SHIFT_S, httponly=True, samesite="Lax")
    return answer
