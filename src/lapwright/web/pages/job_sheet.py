"""The job sheet of a wafer to be printed and to go wet, labels for what stays, and where a scanned code leads."""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby
from operator import itemgetter

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from lapwright.app import bench_advice, codes, orders, wiring
from lapwright.app.stage_course import StageLine, stage_lines
from lapwright.formats.piece_codes import piece_code, read_code
from lapwright.model.job import RecordedOrder, RecordedWafer
from lapwright.model.story import WaferStory
from lapwright.reports.drawing.bars import code_bars
from lapwright.reports.traveller import NextStep, SheetStep, TravellerData, traveller_html
from lapwright.web.pages.documents import SANDBOX
from lapwright.web.pages.traveller import next_stage_of, waiting_lines
from lapwright.web.paging import leaf
from lapwright.web.sentences import printed, said
from lapwright.web.stages import stack_steps, wheel_adjusters
from lapwright.web.surroundings import now, shown
from lapwright.web.words import material_name

#: Kind of a piece -> name of the address that its code leads to.
PLACES = {"gauge": "gauge", "plate": "plate", "station": "station", "order": "traveller", "lot": "lot"}


MOST_LABELS = 120  # on one page


@require_safe
def job_sheet(request: HttpRequest, order_id: str, wafer_id: str) -> HttpResponse:  # noqa: ARG001  # Django gives it
    """One sheet for a wafer, by itself: it prints, and nothing in it can act."""
    order, wafer = bench_advice.wafer_story(order_id, wafer_id)
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
    """Labels for the things of the shelf and the room, to be printed and stuck on: all, or of one kind where many."""
    words = {
        "carrier": _("Carriers"), "jig": _("Jigs"), "plate": _("Plates"), "gauge": _("Gauges"),
        "station": _("Stations"), "lot": _("Lots"),
    }  # fmt: skip
    known = {kind: listed for kind, listed in codes.labels(at=now()).items() if listed}
    asked = request.GET.get("kind", "")
    if asked not in known and sum(map(len, known.values())) > MOST_LABELS:
        asked = next(iter(known))
    held = [(words[kind], one) for kind, listed in known.items() if asked in ("", kind) for one in listed]
    page = leaf(request, held, size=MOST_LABELS)
    groups = [
        (word, [(one, code_bars(one.code, title=one.name) if one.code else None) for _word, one in of_kind])
        for word, of_kind in groupby(page.rows, key=itemgetter(0))
    ]
    kinds = [(kind, words[kind], len(listed)) for kind, listed in known.items()] if asked else []
    return shown(
        request, "labels.html", here="labels", groups=groups, kinds=kinds, asked=asked, leaf=page,
        kept=f"kind={asked}&" if asked else "",
    )  # fmt: skip


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
        stack=tuple(replace(one, label=str(said(one.label))) for one in stack_steps(wafer)) if wafer.stages else (),
        steps=tuple(_step(one) for one in stage_lines(wafer)),
        printed=timezone.localtime(now()),
        next=_next(order.order_id, wafer_id),
        due=order.due,
        notes=tuple(note.text for note in (*orders.order_notes(order.order_id), *wafer.notes)),
        simulated=recorded.simulated,
        code=piece_code("wafer", wafer_id),
    )


def _step(line: StageLine) -> SheetStep:
    one, planned = line.recorded, line.recorded.stage
    texts = []
    if planned.removal > 0.0:
        texts.append(_("to %(t)s") % {"t": _um(planned.thickness_after)})
    if planned.preset is not None:
        texts.append(_("preset %(p)s") % {"p": _um(planned.preset)})
    return SheetStep(
        label=str(said(planned.name)),
        planned=", ".join(texts),
        done=_done(line),
        who="" if line.ended is None else line.ended.by,
        when=None if one.ended is None else timezone.localtime(one.ended),
        state="done" if one.ended is not None else "next" if line.is_next else "planned",
    )


def _done(line: StageLine) -> str:
    if line.recorded.state == "skipped":
        return _("left out: %(why)s") % {"why": line.ended.reason} if line.ended else _("left out")
    if line.look is not None and line.recorded.state == "done":
        if line.look.outcome == "clean":
            return _("looked at: clean")
        return _("went on without a clean look: %(why)s") % {"why": line.look.signature.reason}
    if line.read is not None:
        return _("read %(t)s") % {"t": _um(line.read)}
    if line.ended is not None and line.gauge_removal is not None:
        return _("%(r)s by the gauge") % {"r": _um(line.gauge_removal)}
    return ""


def _um(length: float) -> str:
    return printed(length, "µm", "length")


def _next(order_id: str, wafer_id: str) -> NextStep | None:
    """The next stage, or what the wafer waits for besides; with its number, be it a preset or minutes."""
    stage, waiting = next_stage_of(wafer_id), waiting_lines(order_id, wafer_id)
    line = waiting[0] if waiting else None
    if stage is None and line is None:
        return None
    number = None if line is None or line.dial is None else (str(said(line.dial_label)).capitalize(), line.dial)
    if stage is None:
        assert line is not None
        return NextStep(label=str(said(line.verb)).capitalize(), number=number, cautions=_told(line.cautions))
    return NextStep(
        label=str(said(stage.planned.name)),
        preset=stage.preset,
        preset_datum=stage.preset_datum if stage.preset is not None else None,
        number=number,
        adjusters=tuple(wheel_adjusters(stage, None)),  # the paper does not know the jig
        cautions=_told(stage.cautions),
    )


def _told(cautions: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(str(said(one)) for one in cautions)
