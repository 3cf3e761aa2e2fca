"""Room: what do we work with, and what is missing? Gauges, carriers, jigs and stations are entered here."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from lapwright.app import gauges, room, shelf
from lapwright.errors import TABLE, Conflict, Fault, LapwrightError, NotFound
from lapwright.web.room_forms import (
    CarriersForm,
    GaugeForm,
    JigForm,
    StationForm,
    gauge_filled,
    jig_filled,
    station_filled,
)
from lapwright.web.room_words import step_lines
from lapwright.web.surroundings import now, shown, signed

FORMS = ("gauge", "carriers", "jig", "station")


@require_safe
def overview(request: HttpRequest) -> HttpResponse:
    """What is entered and what is missing; ``?gauge=``, ``?jig=`` or ``?station=`` opens the form of that one."""
    return _page(request, {})


@require_POST
def enter(request: HttpRequest, kind: str) -> HttpResponse:
    """Record what was typed, or all that is wrong with it."""
    if kind not in FORMS:
        raise NotFound(f"Nothing called {kind!r} is entered here. Open the page Room.")
    form = _blank(kind, request.POST)
    if not form.is_valid():
        return _page(request, {kind: form}, status=422)
    try:
        to = _DOERS[kind](request, form)
    except LapwrightError as error:
        for fault in error.faults or (Fault(sentence=error.sentence),):
            form.add_error(fault.field if fault.field in form.fields else None, fault.sentence)
        return _page(request, {kind: form}, status=TABLE[error.code][1])
    return redirect(to)


# ----------------------------------------------------------------------------------------------------------------------


def _page(request: HttpRequest, sent: dict[str, forms.Form], *, status: int = 200) -> HttpResponse:
    today = now().date()
    known = _forms(request) | sent
    opened = [kind for kind in FORMS if kind in sent or (kind in request.GET and kind != "carriers")]
    return shown(
        request, "room.html", here="room", status=status, forms=known, opened=opened, sent=list(sent),
        lines=step_lines(room.room_steps(on=today)), gauges=gauges.list_gauges(on=today),
        carriers=shelf.list_carriers(), jigs=shelf.list_jigs(), stations=shelf.list_stations(),
    )  # fmt: skip


def _forms(request: HttpRequest) -> dict[str, forms.Form]:
    """The forms empty, or filled with what the address names."""
    filled: dict[str, Any] = {}
    if name := request.GET.get("gauge"):
        one = gauges.show_gauge(name, on=now().date())
        filled["gauge"] = gauge_filled(one.gauge, one.version)
    if name := request.GET.get("jig"):
        held = next((one for one in shelf.list_jigs() if one.jig.jig_id == name), None)
        if held is None:
            raise NotFound(f"There is no jig {name}. Look on the page Room which there are.")
        filled["jig"] = jig_filled(held.jig, held.version)
    if name := request.GET.get("station"):
        place = shelf.show_station(name)
        asked = {field: request.GET[field] for field in ("plate", "abrasive", "wafer") if field in request.GET}
        filled["station"] = station_filled(place.station, place.version) | asked
    return {kind: _blank(kind, None, initial=filled.get(kind)) for kind in FORMS}


def _blank(kind: str, data: Any, *, initial: dict[str, Any] | None = None) -> Any:
    form = {"gauge": GaugeForm, "carriers": CarriersForm, "jig": JigForm, "station": StationForm}[kind]
    return form(data, prefix=kind, initial=initial)


def _gauge(request: HttpRequest, form: GaugeForm) -> str:
    name, version = form.cleaned_data["gauge_id"], form.cleaned_data["version"]
    known = {one.gauge.gauge_id: one.gauge for one in gauges.list_gauges(on=now().date())}.get(name)
    _need_new(known, version, name)
    typed = form.gauge(known)
    gauges.register_gauge(typed, version=version, **signed(request, "entered on the page Room"))
    if known is None:
        messages.success(request, _("The gauge is recorded. Now what its calibration certificate says."))
        return f"{reverse('gauge', args=[name])}#calibrate-form"
    messages.success(request, _("The gauge is recorded."))
    return reverse("gauge", args=[name])


def _carriers(request: HttpRequest, form: CarriersForm) -> str:
    typed = form.carriers()
    shelf.receive_carriers(typed, **signed(request, "entered on the page Room"))
    messages.success(request, _("Recorded: %(names)s.") % {"names": ", ".join(one.carrier_id for one in typed)})
    return _back("carriers")


def _jig(request: HttpRequest, form: JigForm) -> str:
    name, version = form.cleaned_data["jig_id"], form.cleaned_data["version"]
    known = {one.jig.jig_id: one.jig for one in shelf.list_jigs()}.get(name)
    _need_new(known, version, name)
    shelf.register_jig(form.jig(known), version=version, **signed(request, "entered on the page Room"))
    messages.success(request, _("The jig is recorded."))
    return _back("jig")


def _station(request: HttpRequest, form: StationForm) -> str:
    name, version = form.cleaned_data["station_id"], form.cleaned_data["version"]
    known = {one.station.station_id: one.station for one in shelf.list_stations()}.get(name)
    _need_new(known, version, name)
    why = signed(request, "set up on the page Room")
    shelf.set_up_station(form.station(known, at=why["at"]), version=version, **why)
    messages.success(request, _("The station is recorded."))
    if known is not None and known.kind in ("lap", "polish"):
        wafer = form.cleaned_data["wafer"]
        return reverse("station", args=[name]) + (f"?{urlencode({'wafer': wafer})}#start" if wafer else "")
    return _back("station")


_DOERS: dict[str, Any] = {"gauge": _gauge, "carriers": _carriers, "jig": _jig, "station": _station}


def _need_new(known: object, version: int | None, name: str) -> None:
    """A form that was not filled from a record makes a new one; it never changes another by chance of its name."""
    if known is not None and version is None:
        raise Conflict(f"{name} is recorded already. Open it from the list, or take another name.")


def _back(kind: str) -> str:
    return f"{reverse('room')}#{kind}"
