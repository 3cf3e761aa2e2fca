"""Bond line, Tilt and Damage of one wafer: what the person at the bench asks before the next step."""

from __future__ import annotations

import tempfile
from pathlib import Path

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from lapwright import units
from lapwright.app import bench_advice, bond_voids
from lapwright.app.bond_models import trace_of_file
from lapwright.app.wafer_damage import damage_view
from lapwright.errors import LapwrightError
from lapwright.model.job import RecordedOrder
from lapwright.model.story import WaferStory
from lapwright.process.strength import ROUGHNESS_WARNING
from lapwright.web.bench_views import (
    TraceView,
    damage_drawing,
    loss_text,
    outlook_maps,
    source_maps,
    trace_view,
    way_lines,
)
from lapwright.web.figures import outline_of
from lapwright.web.surroundings import shown
from lapwright.web.typed_fields import need_one_way, typed_number
from lapwright.web.void_views import PhotoForm, void_view

MOST_TRACE_BYTES = 5_000_000


@require_http_methods(["GET", "HEAD", "POST"])
def bond_line(request: HttpRequest, order_id: str, wafer_id: str) -> HttpResponse:
    """The bond; a POST brings a heating trace, which is judged and not kept."""
    return bond_page(request, order_id, wafer_id, trace_sent=request.method == "POST")


def bond_page(
    request: HttpRequest,
    order_id: str,
    wafer_id: str,
    *,
    trace_sent: bool = False,
    photo: PhotoForm | None = None,
    status: int = 200,
) -> HttpResponse:
    """The page, with the form of a photograph that was refused where there is one."""
    order, story = bench_advice.wafer_story(order_id, wafer_id)
    faults: list[str] = []
    film = _length(request.GET.get("film", ""), bench_advice.USUAL_FILM, faults)
    outlook = bench_advice.bond_outlook(story, order, film=film)
    price = _price(request.GET.get("rebond_cost", ""), faults)
    trace = None
    if trace_sent and outlook is not None:
        trace = _trace(request, order, outlook, faults)
    verdict = None if outlook is None or price is None else bench_advice.priced(outlook, price)
    return shown(
        request,
        "bond_line.html",
        here="bond_line",
        order_id=order_id,
        status=422 if faults else status,
        story=story,
        order=order.order,
        outlook=outlook,
        maps=() if outlook is None else outlook_maps(outlook, outline_of(story)),
        sources=[] if outlook is None else source_maps(outlook.bond, outline_of(story)),
        photos=[one for one in story.documents if one.kind == "photo"],
        voids=[void_view(one) for one in _voids(order, story)],
        photo_form=PhotoForm() if photo is None else photo,
        film=film,
        rebond_cost=request.GET.get("rebond_cost", ""),
        price=price,
        priced=verdict,
        trace=trace,
        faults=faults,
        rough=ROUGHNESS_WARNING,
        ways=way_lines(outlook),
        loss=loss_text(outlook),
    )


@require_safe
def damage(request: HttpRequest, order_id: str, wafer_id: str) -> HttpResponse:
    """What damage is left, and how long the polish takes."""
    order, story = bench_advice.wafer_story(order_id, wafer_id)
    view = damage_view(story, start_damage=order.order.start_damage)
    return shown(
        request,
        "damage.html",
        here="damage",
        order_id=order_id,
        story=story,
        view=view,
        drawing=damage_drawing(view),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _voids(order: RecordedOrder, story: WaferStory) -> tuple[bond_voids.BondVoids, ...]:
    limit = order.order.limit("ttv")
    return bond_voids.voids_of(
        story, target_thickness=order.order.target_thickness, ttv_limit=None if limit is None else limit.upper
    )


def _length(text: str, usual: float, faults: list[str]) -> float:
    if not text.strip():
        return usual
    try:
        bare = text.strip().replace(",", ".").replace(".", "", 1).isdigit()
        length = typed_number(text) * 1e-6 if bare else units.parse(need_one_way(text), "length")
    except LapwrightError as error:
        faults.append(error.sentence)
        return usual
    if not 0.0 < length <= 200e-6:
        faults.append(_("A film of %(film)s cannot be meant; give one from 0 to 200 µm.") % {"film": text})
        return usual
    return length


def _price(text: str, faults: list[str]) -> float | None:
    if not text.strip():
        return None
    try:
        price = typed_number(text)
    except LapwrightError as error:
        faults.append(error.sentence)
        return None
    if price < 0.0:
        faults.append(_("The cost of bonding again is below zero. Give what an hour of it costs."))
        return None
    return price


def _trace(
    request: HttpRequest, order: RecordedOrder, outlook: bench_advice.BondOutlook, faults: list[str]
) -> TraceView | None:
    sent = request.FILES.get("trace")
    if sent is None:
        faults.append(_("No file was sent. Choose the CSV of the heating trace."))
        return None
    if (sent.size or 0) > MOST_TRACE_BYTES:
        faults.append(_("The file is larger than 5 MB, too large for a heating trace. Send its CSV."))
        return None
    with tempfile.TemporaryDirectory(prefix="lapwright-") as folder:
        path = Path(folder) / "trace.csv"
        path.write_bytes(sent.read())
        try:
            material = order.order.material
            carrier = bench_advice.known_carrier(outlook.bond.carrier_id, material)
            trace, verdict = trace_of_file(path, material=material, carrier=carrier, adhesive=outlook.bond.adhesive)
        except LapwrightError as error:
            faults.extend([fault.sentence for fault in error.faults] or [error.sentence])
            return None
    return trace_view(trace, verdict)
