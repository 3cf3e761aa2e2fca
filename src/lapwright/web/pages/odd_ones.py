"""Odd ones, the wafers that do not keep their limits: what shall we do with these."""

from __future__ import annotations

from typing import get_args

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from lapwright.app import odd_ones as use
from lapwright.errors import TABLE, LapwrightError
from lapwright.model.odd_ones import OddChoice
from lapwright.web.odd_views import customer_letter, odd_card, option_cards
from lapwright.web.pages.verdict import order_with
from lapwright.web.sentences import said, with_what_was_typed
from lapwright.web.surroundings import now, shown, signed

DECIDED = 20  # of those that wait for nothing any more
MOST = 60  # of those that are still here, the longest waiting


@require_safe
def odd_ones(request: HttpRequest) -> HttpResponse:
    """All that wait, the longest first, then those that were decided about."""
    found = [odd_card(one) for one in use.odd_wafers(most=MOST)]
    count = use.odd_count()
    return shown(
        request,
        "odd_ones.html",
        here="odd_ones",
        waiting=[card for card in found if card.odd.is_waiting],
        underway=[card for card in found if not card.odd.is_waiting],
        over=[odd_card(one) for one in use.decided_wafers(DECIDED)],
        count=count if count > MOST else 0,
        most=MOST,
    )


@require_safe
def odd_one(request: HttpRequest, order_id: str, wafer_id: str) -> HttpResponse:
    """One wafer with what can be done about it."""
    return _page(request, order_id, wafer_id)


@require_POST
def decide(request: HttpRequest, order_id: str, wafer_id: str, choice: str) -> HttpResponse:
    """Record a decision; a refusal stands beside its button, and the reason that was typed stays."""
    if choice not in get_args(OddChoice):
        raise Http404
    order_with(order_id, wafer_id)
    reason = request.POST.get("reason", "")
    try:
        use.decide(
            wafer_id,
            choice,  # type: ignore[arg-type]  # one of them, looked at above
            seen=request.POST.get("seen", ""),
            **signed(request, reason),
        )
    except LapwrightError as error:
        fault = " ".join(fault.sentence for fault in error.faults) or error.sentence
        return _page(
            request, order_id, wafer_id, sent=choice, reason=reason, fault=fault, status=TABLE[error.code][1]
        )  # fmt: skip
    messages.success(request, _("The decision about %(wafer)s is recorded.") % {"wafer": wafer_id})
    return redirect("odd_one", order_id, wafer_id)


# ----------------------------------------------------------------------------------------------------------------------


def _page(
    request: HttpRequest,
    order_id: str,
    wafer_id: str,
    *,
    sent: str = "",
    reason: str = "",
    fault: str = "",
    status: int = 200,
) -> HttpResponse:
    order = order_with(order_id, wafer_id).order
    odd = use.show_odd(wafer_id)
    is_open = odd.wafer.state == "set_aside" or (odd.wafer.state == "judged" and bool(odd.failed))
    found = use.options(odd, order, on=now().date()) if is_open else ()
    cards = option_cards(found, odd, sent=sent, reason=reason, fault=fault)
    if fault and not any(card.fault and card.is_possible for card in cards):
        fault = with_what_was_typed(str(said(fault)), reason.strip())
    return shown(
        request,
        "odd_one.html",
        here="odd_ones",
        order_id=order_id,
        status=status,
        order=order,
        card=odd_card(odd),
        odd=odd,
        mark=use.odd_mark(odd),
        options=cards,
        fault=fault,
        letter=customer_letter(odd, order) if odd.failed else "",
        is_open=is_open,
    )
