"""Orders: what have we promised? And the form by which an order comes in."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from lapwright.app import orders as use_cases
from lapwright.errors import LapwrightError
from lapwright.model.story import OrderLine
from lapwright.web.forms import OrderForm
from lapwright.web.surroundings import now, shown, signed
from lapwright.web.words import material_choices, state_counts

PAGE = 50  # finished orders shown at once


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One order as a row: the line, how far its wafers are in words, and whether it is late."""

    line: OrderLine
    reached: str
    late: bool


@require_safe
def orders(request: HttpRequest) -> HttpResponse:
    """Every order that goes on, the earliest due first, and the finished ones a page at a time, the latest first."""
    asked = request.GET.get("find", "").strip()[:100]
    number = request.GET.get("page", "1")
    page = max(1, int(number)) if number.isascii() and number.isdigit() and len(number) < 8 else 1
    going = use_cases.list_orders("going", find_text=asked) if page == 1 else ()
    finished = use_cases.list_orders("finished", find_text=asked, start=(page - 1) * PAGE, count=PAGE)
    count = use_cases.count_orders("finished", find_text=asked)
    return shown(
        request,
        "orders.html",
        here="orders",
        rows=[_row(line) for line in going],
        finished=[_row(line) for line in finished],
        asked=asked,
        page=page,
        pages=max(1, -(-count // PAGE)),
        count=count,
    )


@require_http_methods(["GET", "HEAD", "POST"])
def order_new(request: HttpRequest) -> HttpResponse:
    """The form; every fault at once beside its field, and what was typed stays."""
    form = OrderForm(request.POST or None, materials=material_choices())
    doubts: tuple[str, ...] = ()
    if request.method == "POST" and form.is_valid() and form.order is not None:
        doubts = use_cases.gauge_doubts(form.order, on=now().date())
        try:
            received = use_cases.receive_order(form.order, **signed(request, "entered on the order form"))
        except LapwrightError as error:
            form.take_in(error)
        else:
            messages.success(request, _("Order %(order)s is recorded.") % {"order": received.order.order_id})
            for doubt in doubts:
                messages.warning(request, doubt, extra_tags="doubt")
            return redirect("traveller", received.order.order_id)
    status = 422 if form.errors else 200
    return shown(request, "order_new.html", here="orders", form=form, doubts=doubts, status=status)


# ----------------------------------------------------------------------------------------------------------------------


def _row(line: OrderLine) -> Row:
    finished = all(state in ("certified", "rejected") for state, _count in line.states)
    late = line.due is not None and line.due < now().date() and not finished
    return Row(line=line, reached=state_counts(line.states), late=late)
