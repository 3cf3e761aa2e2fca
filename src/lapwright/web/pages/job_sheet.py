"""The job sheet of a wafer to be printed and to go wet, labels for what stays, and where a scanned code leads."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from lapwright.app import codes, orders, wiring
from lapwright.formats.piece_codes import piece_code, read_code
from lapwright.model.job import RecordedOrder, RecordedStage, RecordedWafer
from lapwright.model.story import WaferStory
from lapwright.reports.drawing.bars import code_bars
from lapwright.reports.traveller import NextStep, SheetStep, TravellerData, traveller_html
from lapwright.web.pages.documents import SANDBOX
from lapwright.web.pages.traveller import find_wafer, next_stage_of
from lapwright.web.stages import stack_steps, wheel_adjusters
from lapwright.web.surroundings import now, shown
from lapwright.web.words import material_name

#: Kind of a piece -> name of the address that its code leads to.
PLACES = {"gauge": "gauge", "plate": "plate", "station": "station", "order": "traveller", "lot": "lot"}


@require_safe
def job_sheet(request: HttpRequest, order_id: str, wafer_id: str) -> HttpResponse:  # noqa: ARG001  # Django gives it
    """One sheet for a wafer, by itself: it prints, and nothing in it can act."""
    order, wafer = find_wafer(order_id, wafer_id)
    answer = HttpResponse(traveller_html(_sheet(order, wafer), "de" if get_language() == "de" else "en"))
    answer.headers["Content-Security-Policy"] = SANDBOX
    return answer


@require_safe
def scanned(request: HttpRequest) -> HttpResponse:
    """To the page of the piece whose code was scanned. A misread code is refused with a sentence."""
    kind, name = read_code(request.GET.get("code", ""))
    found = codes.piece_named(kind, name)
    if isinstance(found, RecordedWafer):
        return redirect("wafer", found.order_id, found.wafer.wafer_id)
    return redirect(PLACES[kind], found)


@require_safe
def labels(request: HttpRequest) -> HttpResponse:
    """Labels for the things of the shelf and the room, to be printed and stuck on."""
    words = {
        "carrier": _("Carriers"), "jig": _("Jigs"), "plate": _("Plates"), "gauge": _("Gauges"),
        "station": _("Stations"), "lot": _("Lots"),
    }  # fmt: skip
    groups = [
        (words[kind], [(one, code_bars(one.code, title=one.name) if one.code else None) for one in listed])
        for kind, listed in codes.labels(at=now()).items()
        if listed
    ]
    return shown(request, "labels.html", here="labels", groups=groups)


# ----------------------------------------------------------------------------------------------------------------------


def _sheet(recorded: RecordedOrder, wafer: WaferStory) -> TravellerData:
    order = recorded.order
    wafer_id = wafer.wafer.wafer.wafer_id
    return TravellerData(
        order_id=order.order_id,
        wafer_id=wafer_id,
        laboratory=wiring.current_settings().laboratory,
        customer=order.customer,
        material=material_name(order.material),
        target_thickness=order.target_thickness,
        stack=tuple(stack_steps(wafer)) if wafer.stages else (),
        steps=tuple(_step(one, wafer) for one in wafer.stages),
        printed=now(),
        next=_next(wafer_id),
        due=order.due,
        notes=tuple(note.text for note in (*orders.order_notes(order.order_id), *wafer.notes)),
        simulated=recorded.simulated,
        code=piece_code("wafer", wafer_id),
    )


def _step(one: RecordedStage, wafer: WaferStory) -> SheetStep:
    planned = one.stage
    texts = []
    if planned.removal > 0.0:
        texts.append(_("to %(t).1f µm") % {"t": planned.thickness_after * 1e6})
    if planned.preset is not None:
        texts.append(_("preset %(p).1f µm") % {"p": planned.preset * 1e6})
    run = next((run for run in reversed(wafer.runs) if run.stage_id == one.stage_id and run.ended is not None), None)
    done = ""
    if run is not None and run.gauge_removal is not None:
        done = _("%(r).1f µm by the gauge") % {"r": run.gauge_removal * 1e6}
    state = {"done": "done", "skipped": "done", "running": "next"}.get(one.state, "planned")
    who = "" if run is None or run.ended_by is None else run.ended_by.by
    return SheetStep(
        label=planned.name, planned=", ".join(texts), done=_("left out") if one.state == "skipped" else done, who=who,
        when=one.ended, state=state,  # type: ignore[arg-type]  # one of the three
    )  # fmt: skip


def _next(wafer_id: str) -> NextStep | None:
    stage = next_stage_of(wafer_id)
    if stage is None:
        return None
    return NextStep(
        label=stage.planned.name,
        preset=stage.preset,
        preset_datum=stage.preset_datum if stage.preset is not None else None,
        adjusters=tuple(wheel_adjusters(stage, None)),  # the paper does not know the jig
        cautions=stage.cautions,
    )
