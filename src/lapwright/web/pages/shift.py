"""Changeover, Handover, and Waste and cautions: what keeps a shop clean, safe and informed."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from lapwright.app import bench_advice, clean_checks, handover, shelf, waste
from lapwright.errors import TABLE, LapwrightError
from lapwright.formats.photographs import MOST_PHOTO_BYTES, photograph_name
from lapwright.model.clean_check import CLEAN_ITEMS
from lapwright.model.handover import Card
from lapwright.web.after_set import onward
from lapwright.web.pages.traveller import next_stage_of
from lapwright.web.surroundings import now, shown, signed
from lapwright.web.templatetags.drawn import drawn_once
from lapwright.web.words import CARD_PARTS, CLEAN_STEPS, LOOKS, tool_name


@require_http_methods(["GET", "HEAD", "POST"])
def changeover(request: HttpRequest, order_id: str, wafer_id: str) -> HttpResponse:
    """The look that the wafer's cleaning ends with; what was ticked comes back when it was refused."""
    bench_advice.wafer_story(order_id, wafer_id)
    fault, status = "", 200
    if request.method == "POST":
        try:
            done = _looked(request, wafer_id)
        except LapwrightError as error:
            fault = " ".join(one.sentence for one in error.faults) or error.sentence
            status = TABLE[error.code][1]
        else:
            messages.success(request, str(LOOKS[done]))
            if done == "not_clean":
                return redirect("changeover", order_id, wafer_id)
            return redirect(onward(order_id, wafer_id))
    return _changeover_page(request, order_id, wafer_id, fault=fault, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
def handovers(request: HttpRequest) -> HttpResponse:
    """The card as it stands now, of everything or of one station, and the last handovers."""
    station_id = (request.POST if request.method == "POST" else request.GET).get("station", "")
    fault, status = "", 200
    if request.method == "POST":
        try:
            handover.give(station_id, request.POST.get("note", ""), **signed(request, "end of shift"))
        except LapwrightError as error:
            fault, status = error.sentence, TABLE[error.code][1]
        else:
            messages.success(request, _("The handover is recorded; whoever takes over signs it below."))
            return redirect("handovers")
    card = [(CARD_PARTS[part], part, lines) for part, lines in handover.card_now(station_id, now=now())]
    return shown(
        request, "handover.html", here="handovers", status=status, card=card, station_id=station_id, fault=fault,
        note=request.POST.get("note", "") if fault else "", stations=[one.station for one in shelf.list_stations()],
        given=[(one, _as_it_stood(one.card)) for one in handover.latest()],
    )  # fmt: skip


@require_POST
def handover_taken(request: HttpRequest, handover_id: int) -> HttpResponse:
    """Sign that a handover was read."""
    try:
        handover.take(handover_id, **signed(request, "taken over"))
    except LapwrightError as error:
        messages.error(request, error.sentence)
    else:
        messages.success(request, _("Taken over."))
    return redirect("handovers")


@require_safe
def cautions(request: HttpRequest) -> HttpResponse:
    """What can hurt in each step of a job, and the label for its waste; of the order due first until one is chosen."""
    going = waste.orders_to_choose()
    order_id = request.GET.get("order") or next(iter(going), "")
    found = waste.waste_of(order_id) if order_id else None
    offered = tuple(dict.fromkeys((*going, order_id))) if order_id else ()
    return shown(
        request, "waste.html", here="waste", found=found, chosen=order_id, orders=offered, today=now()
    )  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _as_it_stood(card: Card) -> SafeString:
    """A card as it stood: it never changes, and may hold hundreds of lines."""
    parts = tuple((str(CARD_PARTS[part]), lines) for part, lines in card if lines)
    return drawn_once("lapwright/parts/card_as_it_stood.html", parts=parts)


def _looked(request: HttpRequest, wafer_id: str) -> str:
    due = clean_checks.look_due(wafer_id)
    sent = request.POST.get("stage", "")
    stage_id = int(sent) if sent.isascii() and sent.isdigit() else 0 if due is None else due.stage.stage_id
    outcome = request.POST.get("found", "")
    look = clean_checks.record_look(
        stage_id,
        outcome if outcome in LOOKS else "clean",  # type: ignore[arg-type]  # one of the three
        checked=request.POST.getlist("checked"),
        photograph=_photograph(request),
        **signed(request, request.POST.get("reason", "").strip()),
    )
    return look.outcome


def _photograph(request: HttpRequest) -> tuple[str, bytes] | None:
    sent = request.FILES.get("photograph")
    if sent is None:
        return None
    content = sent.read(MOST_PHOTO_BYTES + 1)
    return photograph_name(content, sent.name or ""), content


def _changeover_page(request: HttpRequest, order_id: str, wafer_id: str, *, fault: str, status: int) -> HttpResponse:
    due = clean_checks.look_due(wafer_id)
    ahead = next_stage_of(wafer_id)
    ticked = request.POST.getlist("checked")
    return shown(
        request,
        "changeover.html",
        here="traveller",
        order_id=order_id,
        wafer_id=wafer_id,
        status=status,
        due=due,
        before="" if due is None else tool_name(due.before, None),
        after="" if due is None else tool_name(due.after, None),
        steps=[(item, *CLEAN_STEPS[item], item in ticked) for item in CLEAN_ITEMS],
        cautions=() if ahead is None else ahead.cautions,
        looks=[(one, LOOKS[one.outcome]) for one in reversed(clean_checks.looks_of(wafer_id))],
        fault=fault,
        reason=request.POST.get("reason", "") if fault else "",
    )
