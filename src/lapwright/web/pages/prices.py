"""Prices: what does our work cost? The list that holds, as a form, and its versions."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from lapwright.app import prices as use
from lapwright.errors import BadInput, Conflict
from lapwright.model.prices import PriceList, RecordedPrices
from lapwright.web.price_forms import PriceForm, filled
from lapwright.web.sentences import said
from lapwright.web.surroundings import shown, signed


@require_http_methods(["GET", "HEAD", "POST"])
def prices(request: HttpRequest) -> HttpResponse:
    """The list; a POST records the next version."""
    stations, kinds = use.stations_to_price(), use.kinds_to_price()
    recorded = use.recorded_prices()
    start = filled(use.price_list(), stations, kinds, after=0 if recorded is None else recorded.number)
    form = PriceForm(
        request.POST if request.method == "POST" else None,
        initial=start,
        stations=stations,
        kinds=[(kind, str(said(kind.replace("_", " ").replace("sic", "SiC")))) for kind in kinds],
    )
    status = 200
    if request.method == "POST":
        status = _record(request, form)
        if status == 200:
            return redirect("prices")
    return shown(
        request, "prices.html", here="prices", status=status, form=form, recorded=recorded, versions=_versions(),
    )  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _record(request: HttpRequest, form: PriceForm) -> int:
    """Record what was typed; the status of the answer."""
    if not form.is_valid():
        return 422
    data: dict[str, Any] = form.cleaned_data
    try:
        kept = use.record_prices(form.prices(), after=data["after"], **signed(request, data["reason"]))
    except BadInput as error:
        form.take_in(error)
        return 422
    except Conflict as error:
        form.add_error(None, error.sentence)
        return 409
    if kept is not None and kept.number == data["after"]:
        messages.success(request, _("Nothing was changed, so there is no new version."))
    elif kept is not None:
        messages.success(request, _("Version %(n)s of the prices is recorded.") % {"n": kept.number})
    return 200


def _versions() -> list[tuple[RecordedPrices, tuple[str, ...]]]:
    """The newest first, each with what it changed; the first against the usual prices."""
    listed: list[tuple[RecordedPrices, tuple[str, ...]]] = []
    before: PriceList = use.usual_prices()
    for one in use.price_versions():
        listed.append((one, use.differences(before, one.prices)))
        before = one.prices
    return listed[::-1]
