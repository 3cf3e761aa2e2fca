"""Stations and Countdown: when does it stop, and will it by itself; starting a run, and stopping it."""

from __future__ import annotations

import asyncio
from typing import Any, TypeVar

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from lapwright.app import clocked_runs, live, runs, shelf, station_setup, weighing
from lapwright.app import stations as use
from lapwright.errors import TABLE, Fault, LapwrightError, NotFound
from lapwright.formats.stream_csv import stream_csv
from lapwright.model.live import LiveBatch, StartOrder
from lapwright.model.request import WeighingRequest, ZeroRequest
from lapwright.web.run_forms import StartRunForm, TripletForm, WeighForm
from lapwright.web.setup_forms import SetupForm, on_station, setup_start
from lapwright.web.sockets import give_ticket
from lapwright.web.station_cards import card_of, station_cards, trace_drawing
from lapwright.web.supply_forms import shelf_day
from lapwright.web.surroundings import now, person, shown, signed

Form = TypeVar("Form", TripletForm, StartRunForm, WeighForm, SetupForm)
STOP_WITHIN = 3.0  # s that the recorder gets to answer a stop before the page says that it did not
TRACE_WIDTH = 600


@require_safe
def stations(request: HttpRequest) -> HttpResponse:
    """All stations, the running ones with what is left."""
    cards = station_cards(now())
    return give_ticket(request, shown(request, "stations.html", here="stations", cards=cards, caution=live.CAUTION))


@require_safe
def station(request: HttpRequest, station_id: str) -> HttpResponse:
    """Countdown of one station; with ``?wafer=`` what a run of that wafer would be, and the form that starts it."""
    return give_ticket(request, _station_page(request, station_id))


@require_safe
def past(request: HttpRequest, station_id: str) -> JsonResponse:  # noqa: ARG001  # Django gives it
    """The removal over the run that is going, or over the last one, thinned to least and greatest of each stretch."""
    stood = use.show_station(station_id)
    stream = stood.stream or stood.last
    picture = () if stream is None else live.run_picture(stream.run_id, width=TRACE_WIDTH)
    points = [(round(time, 2), round(low * 1e6, 3), round(high * 1e6, 3)) for time, low, high in picture]
    target, margin = (None, None) if stream is None else (stream.target, stream.ended_margin)
    return JsonResponse(
        {
            "run": None if stream is None else stream.run_id,
            "target_um": None if target is None else round(target * 1e6, 3),
            "margin_um": None if margin is None else round(margin * 1e6, 3),
            "points_s_um_um": points,
        }
    )


@require_safe
def readings(request: HttpRequest, station_id: str) -> HttpResponse:  # noqa: ARG001  # Django gives it
    """Every reading of the run that is going, or of the last one, as a stream file."""
    stood = use.show_station(station_id)
    stream = stood.stream or stood.last
    if stream is None:
        raise NotFound(f"Station {station_id} has no run that a gauge followed, so it has no readings of one.")
    if stream.dropped is not None:
        raise NotFound(
            f"The readings of run {stream.run_id} were let go; its picture and its end are kept. Look in the backups."
        )
    answer = HttpResponse(stream_csv(*live.run_readings(stream.run_id)), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="run-{stream.run_id}.csv"'
    return answer


@require_POST
def zero(request: HttpRequest, station_id: str) -> HttpResponse:
    """Record the zero of the gauge for the wafer that is to run."""
    form = TripletForm(request.POST)
    if form.is_valid():
        data = form.cleaned_data
        asked = ZeroRequest(
            wafer_id=data["wafer"], station_id=station_id, jig_id=data["jig"], texts=form.texts, unit="µm"
        )
        try:
            recorded = runs.take_zero(asked, **signed(request, "zero before the run"))
        except LapwrightError as error:
            return _station_page(request, station_id, zero=_told(form, error), status=TABLE[error.code][1])
        if not recorded.accepted:
            form.add_error(None, recorded.reason)
            return _station_page(request, station_id, zero=form, status=422)
        messages.success(request, _("The zero is recorded."))
        return redirect(f"{_to(station_id, wafer=data['wafer'], jig=data['jig'])}#looked-at")
    return _station_page(request, station_id, zero=form, status=422)


@require_POST
def start(request: HttpRequest, station_id: str) -> HttpResponse:
    """Ask the recorder for a run, when nothing stands against it, and say what it answered."""
    form = StartRunForm(request.POST)
    if not form.is_valid():
        return _station_page(request, station_id, start=form, status=422)
    data = form.cleaned_data
    try:
        sheet = use.start_sheet(
            station_id,
            data["wafer"],
            jig_id=data["jig"],
            batch=_heard(frozenset({station_id})).get(station_id),
            at=now(),
            together=data["together"],
        )
        missing = [check for check in sheet.checks if check.state == "missing"]
        for check in missing:
            form.add_error(None, check.sentence)
        if missing:
            return _station_page(request, station_id, start=form, status=409)
        order = StartOrder(
            wafer_id=data["wafer"],
            station_id=station_id,
            jig_id=data["jig"],
            target=data["preset"] if sheet.target is not None else None,
            time=form.run_time(sheet),
            step=form.step(sheet),
            companions=sheet.together,
        )
        answer = use.await_answer(live.request_start(order, **signed(request, "started on Countdown")))
    except LapwrightError as error:
        return _station_page(request, station_id, start=_told(form, error), status=TABLE[error.code][1])
    if not answer.accepted:
        silent = _("The recorder has not answered. Look at the machine before you ask again: it may have started late.")
        form.add_error(None, answer.sentence or silent)
        return _station_page(request, station_id, start=form, status=409)
    return redirect("station", station_id)


@require_POST
def weigh(request: HttpRequest, station_id: str) -> HttpResponse:
    """Record a mass of the wafer that is to run, or of the pieces that ran last."""
    form = WeighForm(request.POST)
    if not form.is_valid():
        return _station_page(request, station_id, weigh=form, status=422)
    data = form.cleaned_data
    asked = WeighingRequest(
        pieces=form.on_balance(), text=data["text"], uncertainty=data["uncertainty"],
        balance=data["balance"],
    )  # fmt: skip
    try:
        weighing.record_weighing(asked, **signed(request, "weighed, dry and clean"))
    except LapwrightError as error:
        return _station_page(request, station_id, weigh=_told(form, error), status=TABLE[error.code][1])
    messages.success(request, _("The mass is recorded."))
    others = [one for one in asked.pieces if one != data["wafer"]]
    return redirect(f"{_to(station_id, **{'wafer': data['wafer'], 'with': others})}#start")


@require_POST
def setup(request: HttpRequest, station_id: str) -> HttpResponse:
    """Record which lot, plate or pad is on the station, fresh slurry and a dressing."""
    form = SetupForm(request.POST)
    if not form.is_valid():
        return _station_page(request, station_id, setup=form, status=422)
    data = form.cleaned_data
    try:
        station_setup.note_setup(
            station_id, form.note(), version=data["version"], **signed(request, "noted on Countdown")
        )
    except LapwrightError as error:
        return _station_page(request, station_id, setup=_told(form, error), status=TABLE[error.code][1])
    messages.success(request, _("What is on %(station)s is recorded.") % {"station": station_id})
    return redirect(_to(station_id, **({"wafer": data["wafer"]} if data["wafer"] else {})))


@require_POST
def stop(request: HttpRequest, station_id: str) -> HttpResponse:
    """Ask the recorder to stop, at once."""
    asked = live.request_stop(station_id, **signed(request, "stop pressed on Countdown"))
    answer = use.await_answer(asked, within=STOP_WITHIN)
    if answer.accepted is None:
        messages.error(request, _("The recorder has not answered. Stop the machine yourself."), extra_tags="bad")
    elif not answer.accepted:
        messages.warning(request, answer.sentence, extra_tags="doubt")
    return redirect("station", station_id)


# ----------------------------------------------------------------------------------------------------------------------


def _heard(station_ids: frozenset[str]) -> dict[str, LiveBatch]:
    return asyncio.run(use.latest_batches(station_ids))


def _station_page(
    request: HttpRequest,
    station_id: str,
    *,
    zero: TripletForm | None = None,
    start: StartRunForm | None = None,
    weigh: WeighForm | None = None,
    setup: SetupForm | None = None,
    status: int = 200,
) -> HttpResponse:
    stood = use.show_station(station_id)
    batch = _heard(frozenset({station_id})).get(station_id)
    card = card_of(stood, batch, at=now())
    sent = zero or start or weigh or setup
    chosen = request.GET.get("wafer", "") if sent is None else str(sent.data.get("wafer", ""))
    jig_id = (request.GET.get("jig", "") if sent is None else str(sent.data.get("jig", ""))) or None
    content: dict[str, Any] = {"card": card, "chosen": chosen, "caution": live.CAUTION, "sheet": None}
    if stood.run is not None:
        content["order_of_run"] = use.order_of(stood.run.wafer_id)
    else:
        content["last_order"] = None if stood.last is None else use.order_of(stood.last.wafer_id)
        content["looked_back"] = None if stood.last is None or chosen else use.reconciled(stood.last.run_id)
        content["last_run"] = None if stood.last is None or chosen else clocked_runs.after_the_clock(stood.last.run_id)
        content["wafers"] = use.wafers_for(stood.station)
        if chosen:
            content |= _start_content(request, station_id, chosen, jig_id, batch, zero=zero, start=start, weigh=weigh)
    content["on_it"] = on_station(stood.station, at=now(), on=shelf_day())
    version = shelf.show_station(station_id).version
    content["setup_form"] = setup or SetupForm(initial=setup_start(stood.station, version, chosen))
    content["trace"] = trace_drawing(stood, card)
    return shown(request, "station.html", here="stations", status=status, **content)


def _start_content(
    request: HttpRequest,
    station_id: str,
    wafer_id: str,
    jig_id: str | None,
    batch: LiveBatch | None,
    *,
    zero: TripletForm | None,
    start: StartRunForm | None,
    weigh: WeighForm | None,
) -> dict[str, Any]:
    together = request.GET.getlist("with")
    if start is not None:
        together = [one for one in str(start.data.get("together", "")).split(",") if one]
    jigs = [one.jig.jig_id for one in shelf.list_jigs()]
    jig_id = jig_id or (jigs[0] if jigs else None)
    try:
        sheet = use.start_sheet(
            station_id, wafer_id, jig_id=jig_id, batch=batch, at=now(), together=together, by=person(request)
        )
    except LapwrightError as error:
        return {"against": error.sentence}
    given = {"wafer": wafer_id, "jig": jig_id or ""}
    beside = (wafer_id, *sheet.together) if sheet.together else clocked_runs.ran_together(wafer_id)
    return {
        "sheet": sheet,
        "jigs": jigs,
        "zero_form": zero or TripletForm(initial=given),
        "start_form": start or StartRunForm(initial=given | {"together": ",".join(sheet.together)}),
        "weigh_form": weigh
        or WeighForm(initial={"wafer": wafer_id, "together": ",".join(beside)} | _last_balance(wafer_id)),
        "weighings": weighing.list_weighings(wafer_id)[-4:],
    }


def _last_balance(wafer_id: str) -> dict[str, str]:
    """Balance and uncertainty as they were given last, so that they are not typed again."""
    every = weighing.list_weighings(wafer_id)
    if not every:
        return {}
    return {"balance": every[-1].balance, "uncertainty": every[-1].text.partition("±")[2].strip()}


def _told(form: Form, error: LapwrightError) -> Form:
    for fault in error.faults or (Fault(sentence=error.sentence),):
        form.add_error(fault.field if fault.field in form.fields else None, fault.sentence)
    return form


def _to(station_id: str, **query: str | list[str]) -> str:
    asked = f"?{urlencode(query, doseq=True)}" if query else ""
    return reverse("station", args=[station_id]) + asked
