"""How do you know? From a certified number down to the readings it rests on."""

from __future__ import annotations

from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_safe

from lapwright.app import answers as known
from lapwright.errors import NotFound
from lapwright.web.surroundings import shown

_SALT = "lapwright.web.answers"


@require_safe
def answers(request: HttpRequest, order_id: str) -> HttpResponse:
    """Every judged number of an order, each a link to how it is known."""
    return shown(request, "answers.html", here="answer", order_id=order_id, wafers=known.list_answers(order_id))


@require_safe
def answer(request: HttpRequest, order_id: str, wafer_id: str, quantity: str) -> HttpResponse:
    """The chain from one number to its readings; `?again` computes it anew."""
    told = known.answer(order_id, wafer_id, quantity, recompute="again" in request.GET)
    token = signing.dumps([order_id, wafer_id, quantity], salt=_SALT)
    given = request.build_absolute_uri(reverse("answer_given", args=[token]))
    return shown(request, "answer.html", here="answer", order_id=order_id, told=told, given=given)


@require_safe
def answer_given(request: HttpRequest, token: str) -> HttpResponse:
    """The same for whoever was given its address: this number and nothing else, without a log-in."""
    try:
        order_id, wafer_id, quantity = signing.loads(token, salt=_SALT)
    except (signing.BadSignature, ValueError):
        raise NotFound("No answer has this address. Ask the laboratory for it again.") from None
    told = known.answer(order_id, wafer_id, quantity, recompute="again" in request.GET)
    return shown(request, "answer.html", here="login", told=told)
