"""Route: how shall we do it? Alternatives side by side, one to choose."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from lapwright.app import orders, routes
from lapwright.errors import TABLE, CannotAnswer
from lapwright.model.plan import Plan
from lapwright.reports.drawing.rulers import route_rulers
from lapwright.web.surroundings import shown, signed


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """A route on offer, with the mark by which it is asked for.

    `chosen` is the one the order follows; `moved` when readings have changed its figures since.
    """

    plan: Plan
    mark: str
    chosen: bool
    moved: bool
    warnings: tuple[str, ...]


@require_http_methods(["GET", "HEAD", "POST"])
def route(request: HttpRequest, order_id: str) -> HttpResponse:
    """The page; a POST chooses one of the routes it showed."""
    order = orders.show_order(order_id).order.order
    chosen = routes.chosen_route(order_id)
    try:
        plans = routes.propose_routes(order_id)
    except CannotAnswer as error:
        return shown(
            request, "route.html", here="route", order_id=order_id, order=order, chosen=chosen,
            impossible=error.sentence, status=TABLE[error.code][1],
        )  # fmt: skip
    refused = ""
    if request.method == "POST":
        refused = _choose(request, order_id, plans)
        if not refused:
            return redirect("traveller", order_id)
    common = _common_warnings(plans)
    offered = [
        Alternative(
            plan=plan,
            mark=_mark(plan),
            chosen=chosen is not None and plan.name == chosen.plan.name,
            moved=chosen is not None and plan.stages != chosen.plan.stages,
            warnings=tuple(text for text in plan.warnings if text not in common),
        )
        for plan in plans
    ]
    return shown(
        request, "route.html", here="route", order_id=order_id, order=order, chosen=chosen, alternatives=offered,
        common=common, rulers=route_rulers(plans), refused=refused, status=409 if refused else 200,
    )  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _choose(request: HttpRequest, order_id: str, plans: tuple[Plan, ...]) -> str:
    """Record the choice; a sentence when what was chosen is no longer on offer."""
    wanted = request.POST.get("route", "")
    plan = next((one for one in plans if _mark(one) == wanted), None)
    if plan is None:
        return _(
            "The routes have changed since the page was made, because something was recorded meanwhile. "
            "Nothing was chosen. Look at them as they are now and choose again."
        )
    reason = request.POST.get("reason", "").strip() or _("chosen on the Route page")
    routes.choose_route(order_id, plan, **signed(request, reason))
    messages.success(request, _("Route “%(name)s” is chosen.") % {"name": plan.name})
    return ""


def _common_warnings(plans: tuple[Plan, ...]) -> list[str]:
    """Warnings that every route carries; with one route alone they are its own."""
    if len(plans) < 2:
        return []
    return [text for text in plans[0].warnings if all(text in plan.warnings for plan in plans)]


def _mark(plan: Plan) -> str:
    return hashlib.sha256(repr(plan).encode()).hexdigest()[:16]
