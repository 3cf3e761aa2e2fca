"""Words and photographs that are kept with a wafer."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from lapwright.app import documents, orders
from lapwright.errors import TABLE, LapwrightError, NotFound
from lapwright.formats.photographs import MOST_PHOTO_BYTES, photograph_name
from lapwright.web.pages.traveller import wafer_page
from lapwright.web.surroundings import signed


@require_POST
def wafer_note(request: HttpRequest, order_id: str, wafer_id: str) -> HttpResponse:
    """Keep words with a wafer, as a note or as a warning; what is too long comes back whole."""
    _check(order_id, wafer_id)
    text = request.POST.get("text", "").strip()
    kind = "warning" if request.POST.get("warning") else "note"
    try:
        why = signed(request, "noted on the page of the wafer")
        orders.add_note(order_id, text, wafer_id=wafer_id, kind=kind, **why)  # type: ignore[arg-type]  # one of the two
    except LapwrightError as error:
        status = TABLE[error.code][1]
        return wafer_page(request, order_id, wafer_id, note_fault=error.sentence, note_text=text, status=status)
    messages.success(request, _("The note is kept."))
    return redirect("wafer", order_id, wafer_id)


@require_POST
def photograph(request: HttpRequest, order_id: str, wafer_id: str) -> HttpResponse:
    """Keep a photograph with a wafer; anything that is none is refused with a sentence, and nothing is kept of it."""
    _check(order_id, wafer_id)
    sent = request.FILES.get("photograph")
    try:
        content = b"" if sent is None else sent.read(MOST_PHOTO_BYTES + 1)
        name = photograph_name(content, "" if sent is None else sent.name or "")
        why = signed(request, "taken of the wafer")
        documents.store_document(order_id, name, content, kind="photo", wafer_id=wafer_id, **why)
    except LapwrightError as error:
        status = TABLE[error.code][1]
        return wafer_page(request, order_id, wafer_id, note_fault=error.sentence, status=status)
    messages.success(request, _("The photograph is kept."))
    return redirect("wafer", order_id, wafer_id)


# ----------------------------------------------------------------------------------------------------------------------


def _check(order_id: str, wafer_id: str) -> None:
    found = orders.recorded_wafer(wafer_id).order_id
    if found != order_id:
        raise NotFound(f"Order {order_id} has no wafer {wafer_id}. Open the wafer from its own order.")
