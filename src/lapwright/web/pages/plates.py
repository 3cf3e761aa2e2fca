"""Plates: whether each is still true, where its ring goes next, when it is looked at again."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.formats import date_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from lapwright.app import plate_sources, plates, shelf
from lapwright.errors import Fault, LapwrightError, NotFound
from lapwright.web.paging import leaf
from lapwright.web.plate_forms import BarForm, PlateForm, RanForm, RingForm, SagittaForm
from lapwright.web.plate_views import bar_places, course_drawing, plate_card
from lapwright.web.sentences import day_form
from lapwright.web.surroundings import now, shown, signed

CARDS = 12  # plates on one page, those that are due first
LINES = 40  # of a plate's history, the latest
DEEDS = ("check", "sagitta", "ring", "dressed")


@require_http_methods(["GET", "HEAD", "POST"])
def overview(request: HttpRequest) -> HttpResponse:
    """All plates, and the form that records one."""
    stations = [one.station.station_id for one in shelf.list_stations() if one.station.kind in ("lap", "polish")]
    form = PlateForm(request.POST if request.method == "POST" else None, stations=stations)
    held = plates.list_plates(at=now())
    if form.is_bound and form.is_valid() and form.cleaned_data["plate_id"] in {one.plate.plate_id for one in held}:
        form.add_error("plate_id", _("A plate of that name is recorded already. Give this one another name."))
    if form.is_bound and form.is_valid():
        try:
            recorded = plates.register_plate(form.plate(), **signed(request, "recorded on the Plates page"))
        except LapwrightError as error:
            _tell(form, error)
        else:
            messages.success(request, _("The plate is recorded. Read its shape."))
            return redirect("plate", recorded.plate.plate_id)
    shown_now = leaf(request, sorted(held, key=lambda one: not one.due), size=CARDS)
    cards = [plate_card(one) for one in shown_now.rows]
    content: dict[str, Any] = {"cards": cards, "leaf": shown_now, "form": form, "deeds_sent": form.is_bound}
    forms_seen = plate_sources.recorded_forms()
    content |= {"wafers": len(forms_seen), "sources": plate_sources.sources_of(forms_seen)}
    return shown(request, "plates.html", here="plates", status=422 if form.is_bound else 200, **content)


@require_safe
def plate(request: HttpRequest, plate_id: str) -> HttpResponse:
    """One plate."""
    return _page(request, plate_id, {})


@require_POST
def do(request: HttpRequest, plate_id: str, deed: str) -> HttpResponse:
    """One line of a plate's history: a check, the ring set, a dressing."""
    if deed not in DEEDS:
        raise NotFound(f"Nothing called {deed!r} is done to a plate here. Open the page of the plate.")
    found = plates.show_plate(plate_id, at=now())
    form = _forms(found, {deed: request.POST})[deed]
    if request.POST.get("seen") not in (None, str(len(found.lines))):
        form.add_error(None, _moved_on(found))
        return _page(request, plate_id, {deed: form}, status=409)
    if form.is_valid():
        try:
            _record(request, plate_id, deed, form)
        except LapwrightError as error:
            _tell(form, error)
        else:
            return redirect("plate", plate_id)
    return _page(request, plate_id, {deed: form}, status=422)


# ----------------------------------------------------------------------------------------------------------------------


def _page(request: HttpRequest, plate_id: str, sent: dict[str, forms.Form], *, status: int = 200) -> HttpResponse:
    found = plates.show_plate(plate_id, at=now())
    content: dict[str, Any] = {
        "card": plate_card(found),
        "course": course_drawing(found),
        "lines": found.lines[::-1] if "lines" in request.GET else found.lines[: -LINES - 1 : -1],
        "forms": _forms(found, {}) | sent,
        "sent": list(sent),
    }
    return shown(request, "plate.html", here="plates", status=status, **content)


def _forms(found: plates.PlateNow, data: dict[str, Any]) -> dict[str, Any]:
    return {
        "check": BarForm(data.get("check"), places=_places(data.get("check"), found), prefix="check"),
        "sagitta": SagittaForm(data.get("sagitta"), prefix="sagitta"),
        "ring": RingForm(data.get("ring"), prefix="ring"),
        "dressed": RanForm(data.get("dressed"), prefix="dressed"),
    }


def _places(sent: Any, found: plates.PlateNow) -> list[float]:
    """The places that the form was sent with, so that boxes and values belong together; else those to offer."""
    try:
        told = [float(text) for text in sent.get("check-places", "").split()] if sent else []
    except ValueError:
        told = []
    within = all(abs(place) <= found.plate.outer_radius * 1e3 for place in told)  # NaN is not
    return (told[:24] if within else []) or bar_places(found)


def _record(request: HttpRequest, plate_id: str, deed: str, form: Any) -> None:
    why = signed(request, "entered on the Plates page")
    if deed in ("check", "sagitta"):
        plates.record_check(plate_id, form.request(), **why)
        messages.success(request, _("The check is recorded."))
    elif deed == "ring":
        data = form.cleaned_data
        plates.set_ring(plate_id, data["offset"], speed_ratio=data["speed_ratio"], ran=form.ran, **why)
        messages.success(request, _("The place of the ring is recorded."))
    else:
        plates.record_dressing(plate_id, ran=form.ran, **why)
        messages.success(request, _("The dressing is recorded. Read the plate's shape now."))


def _moved_on(found: plates.PlateNow) -> str:
    """What was recorded of a plate since the page was made, for somebody whose form is refused."""
    said = _("The history of this plate has moved on since the page was made, so nothing was recorded.")
    if found.lines:
        last = found.lines[-1].recorded
        what = {"check": _("a check"), "ring": _("the ring set"), "dressed": _("a dressing")}[last.entry.kind]
        when = date_format(localtime(last.signature.at), day_form("j M H:i"))
        said += " " + _("Last: %(what)s, by %(by)s, %(at)s.") % {"what": what, "by": last.signature.by, "at": when}
    return said + " " + _("Look at it, then send this again.")


def _tell(form: forms.Form, error: LapwrightError) -> None:
    for fault in error.faults or (Fault(sentence=error.sentence),):
        field = "ran_min" if fault.field == "ran" else fault.field
        if fault.field == "readings" and fault.row is not None and isinstance(form, BarForm):
            field = form.typed[fault.row - 1]
        form.add_error(field if field in form.fields else None, fault.sentence)
