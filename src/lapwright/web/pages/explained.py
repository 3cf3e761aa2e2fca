"""Help: why a number is what it is, the words of the trade as used here, and a tour over the demonstration."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_safe

from lapwright.errors import LapwrightError, NotFound
from lapwright.web import glossary as words
from lapwright.web import tour as stops
from lapwright.web.surroundings import shown
from lapwright.web.why import WHY
from lapwright.web.why.cases import CASES
from lapwright.web.why.place import is_ours, place_of


@require_safe
def why(request: HttpRequest, name: str) -> HttpResponse:
    """Formula, inputs, source and uncertainty of one kind of number, and how the one on the page before came about."""
    if name not in WHY:
        raise NotFound(f"No number is called {name!r}. All that are explained stand on the page Help.")
    back = request.GET.get("from", "")
    place = place_of(back, request.GET.get("of", ""))
    case, not_told = None, ""
    if place is not None and name in CASES:
        try:
            case = CASES[name](place)
        except LapwrightError as error:
            not_told = error.sentence
    return shown(
        request, "why.html", here="help", name=name, one=WHY[name], back=back if is_ours(back) else "", case=case,
        not_told=not_told,
    )  # fmt: skip


@require_safe
def help_page(request: HttpRequest) -> HttpResponse:
    """The tour, all numbers that are explained, and the glossary."""
    wanted = request.GET.get("find", "").strip()
    listed = words.found(wanted)
    letters = () if wanted else tuple(dict.fromkeys(one.letter for one in listed))
    return shown(
        request, "help.html", here="help", numbers=sorted(WHY.items(), key=lambda one: str(one[1].title)),
        entries=listed, letters=letters, find=wanted,
        tour=None if stops.first_address() is None else stops.standing(request),
    )  # fmt: skip


@require_safe
def tour_end(request: HttpRequest) -> HttpResponse:
    """End the tour in this browser, and go on with the page it was left on."""
    back = request.GET.get("from", "")
    answer = redirect(back if is_ours(back) else "hands")
    stops.remember(answer, None)
    return answer


@require_safe
def tour(request: HttpRequest, number: int) -> HttpResponse:  # noqa: ARG001  the address carries all
    """To the page of a stop of the tour. Raises `NotFound` when there is none, or nothing to show it on."""
    return redirect(stops.address(number))
