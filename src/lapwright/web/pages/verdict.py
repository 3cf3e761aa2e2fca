"""Verdict: may it go? The wafers of an order against its limits, before anything leaves."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from lapwright.app import orders, standing
from lapwright.errors import NotFound
from lapwright.model.job import RecordedOrder
from lapwright.web.surroundings import now, shown
from lapwright.web.verdict_views import doubts_of, limit_drawings, rule_words, wafer_line


@require_safe
def verdict(request: HttpRequest, order_id: str) -> HttpResponse:
    """Every wafer that can be judged; with ``?wafer=`` that one alone."""
    chosen = request.GET.get("wafer", "")
    recorded = order_with(order_id, chosen)
    found = standing.order_standing(order_id, recorded.order, on=now().date())
    if chosen:
        found = tuple(one for one in found if one.wafer_id == chosen)
    return shown(
        request,
        "verdict.html",
        here="verdict",
        order_id=order_id,
        order=recorded.order,
        simulated=recorded.simulated,
        chosen=chosen,
        lines=[wafer_line(one) for one in found],
        drawings=limit_drawings(found),
        doubts=doubts_of(found),
        rule=rule_words(recorded.order.rule),
    )


def order_with(order_id: str, wafer_id: str) -> RecordedOrder:
    """An order that has this wafer, or any when none is named. Raises `NotFound`."""
    recorded = orders.recorded_order(order_id)
    if wafer_id and wafer_id not in recorded.wafer_ids:
        known = ", ".join(recorded.wafer_ids)
        raise NotFound(f"Order {order_id} has no wafer {wafer_id}; it has {known}. Open one of those.")
    return recorded
