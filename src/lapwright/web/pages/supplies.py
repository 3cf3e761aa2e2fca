"""Shelf: what do we have, and may I use it? Carriers, jigs and gauges beside what is used up."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from lapwright.app import gauge_care, gauges, partners, plates, shelf, supplies
from lapwright.errors import TABLE, LapwrightError
from lapwright.web.supply_forms import LotForm, RenameForm, UseForm, initial_of, new_lot, shelf_day
from lapwright.web.surroundings import now, shown, signed

SHOWN = 50  # of a lot's runs and bonds, the latest


@require_http_methods(["GET", "HEAD", "POST"])
def overview(request: HttpRequest) -> HttpResponse:
    """Everything on the shelf, and the form for a lot that came."""
    today = shelf_day()
    form = LotForm(request.POST) if request.method == "POST" else LotForm(initial=new_lot(today))
    status = 200
    cards = supplies.lot_cards(on=today)
    if form.is_bound and form.is_valid() and form.cleaned_data["lot_id"] in {one.recorded.lot.lot_id for one in cards}:
        form.add_error("lot_id", _("A lot of that name is recorded already. Open it, or take another name."))
    if form.is_bound and form.is_valid():
        try:
            supplies.record_lot(form.lot(), **signed(request, "came"))
        except LapwrightError as error:
            _tell(form, error)
        else:
            messages.success(request, _("The lot is recorded."))
            if form.own_name:
                messages.warning(request, form.own_name, extra_tags="doubt")
            return redirect("shelf")
    if form.is_bound:
        status = 422
    carriers = shelf.list_carriers()
    wedges = partners.carrier_wedges(carriers)
    held, fitness = gauges.list_gauges(on=today), gauge_care.fitness_of_all(on=today)
    return shown(
        request, "shelf.html", here="shelf", status=status, form=form, cards=cards,
        stocks=supplies.item_stocks(cards, on=today), jigs=shelf.list_jigs(),
        carriers=[(one, wedges.get(one.carrier.carrier_id)) for one in carriers],
        gauges=[(one, fitness[one.gauge.gauge_id]) for one in held],
        plates=plates.list_plates(at=now()), today=today,
    )  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
def lot(request: HttpRequest, lot_id: str) -> HttpResponse:
    """One lot: where it went, what is left, and what may be changed about it."""
    card = supplies.lot_card(lot_id, on=shelf_day(), newest=None if "all" in request.GET else SHOWN)
    if request.method != "POST":
        return _lot_page(request, card, asked=lot_id)
    form = LotForm({**request.POST.dict(), "lot_id": lot_id})
    if form.is_valid():
        seen = request.POST.get("version", "")
        version = int(seen) if seen.isascii() and seen.isdigit() else None
        try:
            supplies.record_lot(form.lot(), version=version, **signed(request, "changed on the Shelf"))
        except LapwrightError as error:
            _tell(form, error)
            return _lot_page(request, card, lot_form=form, status=TABLE[error.code][1])
        messages.success(request, _("The lot is recorded."))
        if form.own_name:
            messages.warning(request, form.own_name, extra_tags="doubt")
        return redirect("lot", lot_id)
    return _lot_page(request, card, lot_form=form, status=422)


@require_POST
def take(request: HttpRequest, lot_id: str) -> HttpResponse:
    """Something taken of a lot, thrown away, or counted."""
    card = supplies.lot_card(lot_id, on=shelf_day(), newest=SHOWN)
    form = UseForm(request.POST, measure=card.recorded.lot.measure)
    if form.is_valid():
        data = form.cleaned_data
        try:
            supplies.take_of_lot(lot_id, data["kind"], data["amount"], **signed(request, data["reason"].strip()))
        except LapwrightError as error:
            _tell(form, error)
        else:
            messages.success(request, _("Recorded."))
            return redirect("lot", lot_id)
    return _lot_page(request, card, use_form=form, status=422)


@require_POST
def rename(request: HttpRequest, lot_id: str) -> HttpResponse:
    """Another name for a lot."""
    card = supplies.lot_card(lot_id, on=shelf_day(), newest=SHOWN)
    form = RenameForm(request.POST)
    status = 422
    if form.is_valid():
        name = form.cleaned_data["name"]
        try:
            supplies.rename_lot(card.recorded.lot.lot_id, name, **signed(request, "renamed on the Shelf"))
        except LapwrightError as error:
            form.add_error("name", error.sentence)
            status = TABLE[error.code][1]
        else:
            messages.success(request, _("The lot has its new name; wafers and stations go with it."))
            return redirect("lot", name)
    return _lot_page(request, card, rename_form=form, status=status)


# ----------------------------------------------------------------------------------------------------------------------


def _lot_page(
    request: HttpRequest,
    card: supplies.LotCard,
    *,
    lot_form: LotForm | None = None,
    use_form: UseForm | None = None,
    rename_form: RenameForm | None = None,
    asked: str | None = None,
    status: int = 200,
) -> HttpResponse:
    lot = card.recorded.lot
    return shown(
        request, "lot.html", here="shelf", status=status, card=card, lot=lot, asked_name=asked or lot.lot_id,
        runs=card.runs[::-1],
        form=lot_form or LotForm(initial=initial_of(lot)), use_form=use_form or UseForm(measure=lot.measure),
        rename_form=rename_form or RenameForm(),
    )  # fmt: skip


def _tell(form: LotForm | UseForm, error: LapwrightError) -> None:
    for fault in error.faults:
        form.add_error(fault.field if fault.field in form.fields else None, fault.sentence)
    if not error.faults:
        form.add_error(None, error.sentence)
