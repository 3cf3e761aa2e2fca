"""Map of a plate: what a check found, as a section and a map, to look at and to take away as drawing and as data."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from lapwright.app import plate_maps as use
from lapwright.app import plates
from lapwright.errors import Fault, LapwrightError, NotFound
from lapwright.formats.plate_points import points_csv
from lapwright.web.plate_forms import MapForm
from lapwright.web.plate_map_views import map_drawing, method_word, section
from lapwright.web.surroundings import now, shown, signed


@require_http_methods(["GET", "HEAD", "POST"])
def plate_map(request: HttpRequest, plate_id: str) -> HttpResponse:
    """One check of a plate; a POST records heights all over it as a new check."""
    form = MapForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            plates.record_check(plate_id, form.request(), **signed(request, "entered on the map of the plate"))
        except LapwrightError as error:
            for fault in error.faults or (Fault(sentence=error.sentence),):
                form.add_error("ran_min" if fault.field == "ran" else "points", fault.sentence)
        else:
            messages.success(request, _("The check is recorded."))
            return redirect("plate_map", plate_id)
    found = use.plate_map(plate_id, _asked(request), at=now())
    content: dict[str, Any] = {"plate_id": plate_id, "found": found, "form": form}
    if found is not None:
        content |= {
            "section": section(found),
            "map": map_drawing(found),
            "word": method_word(found.check.method),
            "checks": [(one, method_word(one.method)) for one in found.checks],
        }
    return shown(request, "plate_map.html", here="plates", status=422 if form.errors else 200, **content)


@require_safe
def download(request: HttpRequest, plate_id: str, kind: str) -> HttpResponse:
    """The drawing or the points of a check, as a file of its own."""
    found = use.plate_map(plate_id, _asked(request), at=now())
    if found is None or kind not in ("svg", "csv"):
        raise NotFound(f"Plate {plate_id} has no {kind} of its shape. Look at its map first.")
    if kind == "svg":
        of_map = map_drawing(found) if request.GET.get("view") == "map" else ""
        answer = HttpResponse(of_map or section(found), content_type="image/svg+xml")
    else:
        answer = HttpResponse(points_csv(found.points, remarks=_remarks(found)), content_type="text/csv; charset=utf-8")
    name = "".join(one if one.isalnum() or one in "-_." else "_" for one in f"plate-{plate_id}-{found.check.entry_id}")
    answer["Content-Disposition"] = f'attachment; filename="{name}.{kind}"'
    return answer


# ----------------------------------------------------------------------------------------------------------------------


def _asked(request: HttpRequest) -> int | None:
    told = request.GET.get("check", "")
    if not told:
        return None
    return int(told) if told.isdecimal() and len(told) < 19 else 0


def _remarks(found: use.PlateMap) -> list[str]:
    shape = found.shape
    check = found.check
    return [
        f"plate {found.plate.plate_id}, check {check.entry_id} ({check.method}) of {check.at.isoformat()}",
        f"dome_um: {shape.dome * 1e6:.4f}, dome_standard_uncertainty_um: {shape.dome_uncertainty * 1e6:.4f}",
        "height_um is over the rim, level and tilt taken out; parabola_um the fitted form; left_um what it leaves",
    ]
