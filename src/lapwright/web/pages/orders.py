"""Orders: what have we promised? And the form by which an order comes in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from lapwright.app import odd_ones, order_changes, order_outlook, queue, route_searches
from lapwright.app import orders as use_cases
from lapwright.errors import TABLE, LapwrightError, NotFound
from lapwright.model.board import OrderPromise
from lapwright.model.job import RecordedOrder
from lapwright.model.order import Order
from lapwright.model.story import OrderLine
from lapwright.web.board_views import chance_text
from lapwright.web.forms import OrderForm
from lapwright.web.limits import limit_text
from lapwright.web.order_change import ChangeForm, change_start
from lapwright.web.order_fields import order_fields, reworked_fields
from lapwright.web.paging import page_number
from lapwright.web.sentences import day_form, printed
from lapwright.web.surroundings import now, shown, signed
from lapwright.web.words import material_choices, state_counts

PAGE = 50  # finished orders shown at once
#: What an outlook does not need, and what stands for it there.
_NOT_NEEDED = {"order_id": "X", "customer": "-"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One order as a row: the line, how far its wafers are in words, whether it is late, and what is promised of it."""

    line: OrderLine
    reached: str
    late: bool
    promise: OrderPromise | None = None

    @property
    def wanted(self) -> str:
        """From which thickness to which: "500 µm → 100.0 ± 2.0 µm"."""
        start = printed(self.line.start_thickness, "µm", "length", digits=0)
        return start if self.line.thickness is None else f"{start} → {limit_text(self.line.thickness)}"

    @property
    def chance(self) -> str:
        """The chance of its date by the schedule in force; empty without one."""
        return "" if self.promise is None or self.promise.chance is None else chance_text(self.promise.chance)


@require_safe
def orders(request: HttpRequest) -> HttpResponse:
    """Every order that goes on, the earliest due first, and the finished ones a page at a time, the latest first."""
    asked = request.GET.get("find", "").strip()[:100]
    page = page_number(request)
    going = use_cases.list_orders("going", find_text=asked) if page == 1 else ()
    finished = use_cases.list_orders("finished", find_text=asked, start=(page - 1) * PAGE, count=PAGE)
    promised = queue.promised() if going else {}
    count = use_cases.count_orders("finished", find_text=asked)
    return shown(
        request,
        "orders.html",
        here="orders",
        rows=[_row(line, promised.get(line.order_id)) for line in going],
        finished=[_row(line) for line in finished],
        asked=asked,
        page=page,
        pages=max(1, -(-count // PAGE)),
        count=count,
    )


@require_http_methods(["GET", "HEAD", "POST"])
def order_new(request: HttpRequest) -> HttpResponse:
    """The form; every fault at once beside its field, and what was typed stays."""
    form = OrderForm(request.POST or None, materials=material_choices(), initial=copied_fields(request))
    doubts: tuple[str, ...] = ()
    if request.method == "POST" and form.is_valid() and form.order is not None:
        doubts = use_cases.gauge_doubts(form.order, on=now().date())
        try:
            received = _received(request, form, form.order)
        except LapwrightError as error:
            form.take_in(error)
        else:
            messages.success(request, _("Order %(order)s is recorded.") % {"order": received.order.order_id})
            route_searches.ahead(received.order.order_id, now())
            for doubt in (*doubts, *_past_due(received.order, now().date())):
                messages.warning(request, doubt, extra_tags="doubt")
            return redirect("traveller", received.order.order_id)
    status = 422 if form.errors else 200
    return shown(request, "order_new.html", here="orders", form=form, doubts=doubts, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
def order_change(request: HttpRequest, order_id: str) -> HttpResponse:
    """New terms for an order under way; what waits to be worked follows a moved target."""
    recorded = use_cases.recorded_order(order_id)
    known = recorded.order
    form = ChangeForm(request.POST or None, known=known, initial=change_start(known, recorded.version))
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid() and form.order is not None:
            why = signed(request, form.cleaned_data["reason"].strip())
            try:
                changed = order_changes.change_terms(form.order, version=form.cleaned_data["version"], **why)
            except LapwrightError as error:
                form.take_in(error)
                status = TABLE[error.code][1]
            else:
                messages.success(request, _("The terms are changed."))
                for told in _what_follows(known, changed.order):
                    messages.warning(request, told, extra_tags="doubt")
                return redirect("traveller", order_id)
    return shown(
        request, "order_change.html", here="traveller", order_id=order_id, form=form, order=known, status=status
    )


@require_POST
def outlook(request: HttpRequest) -> HttpResponse:
    """What the order as typed so far would be like; nothing is recorded."""
    return render(request, "lapwright/parts/outlook.html", looked_at(request.POST.dict()))


def _what_follows(before: Order, after: Order) -> tuple[str, ...]:
    """What a person should look at after the terms of an order were changed."""
    told = list(use_cases.gauge_doubts(after, on=now().date()))
    if after.target_thickness != before.target_thickness:
        told.append(
            _("The chosen route and all stages that wait were moved along. Look whether another route is better.")
        )
    elif after.limits != before.limits:
        told.append(
            _("The route was chosen for the limits before. Look on the page Route whether it still keeps them.")
        )
    is_judged = any(one.state in ("judged", "certified") for one in use_cases.order_wafers(after.order_id))
    if is_judged and (after.limits, after.rule) != (before.limits, before.rule):
        told.append(_("What was judged before is judged by the terms of then: judge those wafers again."))
    return tuple(told)


def _past_due(order: Order, today: date) -> tuple[str, ...]:
    """That the day it is promised for is over already; an order may be entered late, but a slip of the year is told."""
    if order.due is None or order.due >= today:
        return ()
    words = _("It is due on %(day)s, which is past. Look at the year; the order is recorded all the same.")
    return (words % {"day": date_format(order.due, day_form("j F Y"))},)


def looked_at(typed: Mapping[str, Any]) -> dict[str, Any]:
    """A form as typed so far with its outlook, or what is missing, not understood or refused; for a template."""
    form = OrderForm(typed, materials=material_choices())
    missing = form.missing
    filled = {**typed, **{name: text for name, text in _NOT_NEEDED.items() if not typed.get(name)}}
    form = OrderForm(filled, materials=material_choices())
    found, sentence = None, ""
    if form.is_valid() and form.order is not None:
        try:
            found = order_outlook.order_outlook(form.order, at=now())
        except LapwrightError as error:
            sentence = error.sentence
    faulty = [str(form[name].label) for name in form.errors if name in form.fields and form[name].data]
    return {"form": form, "outlook": found, "sentence": sentence, "missing": missing, "faulty": faulty}


def copied_fields(request: HttpRequest) -> dict[str, Any]:
    """What is typed into the form beforehand: the terms of an earlier order; number, date and names are new.

    With a wafer to be worked again it is one piece, as thick as it was read last.
    """
    source_id, wafer_id = request.GET.get("from"), request.GET.get("rework")
    if not source_id:
        return {}
    source = use_cases.recorded_order(source_id)
    fields = {**order_fields(source.order), "copied_from": source_id}
    if not wafer_id:
        return fields
    if wafer_id not in source.wafer_ids:
        known = ", ".join(source.wafer_ids)
        raise NotFound(f"Order {source_id} has no wafer {wafer_id}; it has {known}. Begin from one of those.")
    return fields | reworked_fields(odd_ones.final_result(wafer_id), wafer_id)


# ----------------------------------------------------------------------------------------------------------------------


def _received(request: HttpRequest, form: OrderForm, order: Order) -> RecordedOrder:
    given, source = form.cleaned_data["wafer_names"], form.cleaned_data["copied_from"]
    why = signed(request, "entered on the order form")
    if source:
        return use_cases.copy_order(source, order, given=given, **why)
    return use_cases.receive_order(order, given=given, **why)


def _row(line: OrderLine, promise: OrderPromise | None = None) -> Row:
    finished = all(state in ("certified", "rejected") for state, _count in line.states)
    late = line.due is not None and line.due < now().date() and not finished
    return Row(line=line, reached=state_counts(line.states), late=late, promise=promise)
