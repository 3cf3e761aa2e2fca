"""Having something done to a wafer, and to its order: each a POST that ends on the page it came from."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from lapwright.app import certificates, changes, orders, signing
from lapwright.errors import TABLE, Fault, LapwrightError
from lapwright.model.story import WaferStory
from lapwright.web.after_set import onward
from lapwright.web.deeds import DEEDS
from lapwright.web.moments import when_said
from lapwright.web.pages.accounts import confirmed
from lapwright.web.pages.traveller import traveller_page, wafer_page
from lapwright.web.surroundings import signed


@require_POST
def do(request: HttpRequest, order_id: str, wafer_id: str, name: str) -> HttpResponse:
    """Do one deed to one wafer; a refusal stands beside its form, and nothing typed is lost."""
    deed = DEEDS.get(name)
    if deed is None:
        raise Http404
    story = orders.show_wafer(wafer_id)
    form = deed.form(request.POST, prefix=name)
    status = 422
    changed = _changed(request, story)
    if changed:
        form.add_error(None, changed)
        status = 409
    elif form.is_valid():
        reason = form.cleaned_data.get("reason") or deed.reason
        try:
            deed.do(story, form, signed(request, reason))
        except LapwrightError as error:
            for fault in error.faults or (Fault(sentence=error.sentence),):
                form.add_error(fault.field if fault.field in form.fields else None, fault.sentence)
            status = TABLE[error.code][1]
        else:
            messages.success(request, _("Recorded: %(what)s.") % {"what": deed.title})
            place = reverse("wafer", args=[order_id, wafer_id])
            return redirect(onward(order_id, wafer_id) if name == "complete" else place)
    return wafer_page(request, order_id, wafer_id, refused={name: form}, status=status)


def _changed(request: HttpRequest, story: WaferStory) -> str:
    """What happened to the wafer since the page was made that this was sent from; empty when nothing did."""
    seen = request.POST.get("seen", "")
    if not seen or seen == changes.story_mark(story):
        return ""
    last = changes.latest_happening(story)
    if last is None:
        return _("This wafer has changed since the page was made. Nothing was recorded; look at it again.")
    return _(
        "This wafer has changed since the page was made: %(what)s by %(by)s at %(at)s. Nothing was recorded and what"
        " you typed is still here; look at the wafer again, then send it once more."
    ) % {"what": last.what, "by": last.signature.by, "at": when_said(last.signature.at)}


@require_POST
def issue_certificate(request: HttpRequest, order_id: str) -> HttpResponse:
    """Write the certificate of the judged wafers; with accounts only for the password of whoever signs it."""
    method = confirmed(request)
    if method is not None:
        certificates.issue_certificate(order_id, method=method, **signed(request, "issued on the Traveller"))
        messages.success(request, _("The certificate is written."))
    return redirect("traveller", order_id)


@require_POST
def sign_certificate(request: HttpRequest, order_id: str) -> HttpResponse:
    """Sign a certificate that is written, with what the signature means."""
    number, meaning = request.POST.get("number", ""), request.POST.get("meaning", "")
    method = confirmed(request)
    if method is not None:
        signing.sign_certificate(order_id, number, meaning, method=method, **signed(request, "signed on the Traveller"))
        messages.success(request, _("Signed: %(number)s.") % {"number": number})
    return redirect("traveller", order_id)


@require_POST
def add_note(request: HttpRequest, order_id: str) -> HttpResponse:
    """Keep words with an order."""
    text = request.POST.get("text", "").strip()
    try:
        orders.add_note(order_id, text, **signed(request, "noted on the Traveller"))
    except LapwrightError as error:
        status = TABLE[error.code][1]
        return traveller_page(request, order_id, note_fault=error.sentence, note_text=text, status=status)
    messages.success(request, _("The note is kept."))
    return redirect("traveller", order_id)
