"""Verdict: may it go? The wafers of an order against its limits, before anything leaves."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from lapwright.app import orders, standing
from lapwright.errors import NotFound
from lapwright.web.surroundings import now, shown
from lapwright.web.verdict_views import doubts_of, limit_drawings, rule_words, wafer_line


@require_safe
def verdict(request: HttpRequest, order_id: str) -> HttpResponse:
    """Every wafer that can be judged; with ``?wafer=`` that one alone."""
    story = orders.show_order(order_id)
    found = standing.order_standing(story, on=now().date())
    chosen = request.GET.get("wafer", "")
    if chosen:
        found = tuple(one for one in found if one.wafer_id == chosen)
        if not found and chosen not in story.order.wafer_ids:
            known = ", ".join(story.order.wafer_ids)
            raise NotFound(f"Order {order_id} has no wafer {chosen}; it has {known}. Open one of those.")
    return shown(
        request,
        "verdict.html",
        here="verdict",
        order_id=order_id,
        order=story.order.order,
        simulated=story.order.simulated,
        chosen=chosen,
        lines=[wafer_line(one) for one in found],
        drawings=limit_drawings(found),
        doubts=doubts_of(found),
        rule=rule_words(story.order.order.rule),
    )
