"""A photograph of a bond is received on Bond line: voids found, photograph and voids kept, or a sentence why not."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from lapwright.app import bench_advice, bond_voids
from lapwright.errors import TABLE, LapwrightError
from lapwright.formats.photographs import MOST_PHOTO_BYTES, photograph_name
from lapwright.metrology.outlines import extent
from lapwright.web.pages.bench import bond_page
from lapwright.web.surroundings import signed
from lapwright.web.void_views import PhotoForm


@require_POST
def bond_photo(request: HttpRequest, order_id: str, wafer_id: str) -> HttpResponse:
    """Find the voids in a photograph and keep both."""
    _order, story = bench_advice.wafer_story(order_id, wafer_id)
    form = PhotoForm(request.POST, request.FILES)
    if not form.is_valid():
        return bond_page(request, order_id, wafer_id, photo=form, status=422)
    sent = form.cleaned_data["photograph"]
    try:
        content = sent.read(MOST_PHOTO_BYTES + 1)
        name = photograph_name(content, sent.name or "")
        outline = story.wafer.wafer.outline
        asked = form.asked(outline, extent(outline, azimuth=0.0))
        bond_voids.record_bond_photo(wafer_id, name, content, asked, **signed(request, "photograph of the bond"))
    except LapwrightError as error:
        form.add_error("photograph", error.sentence)
        return bond_page(request, order_id, wafer_id, photo=form, status=TABLE[error.code][1])
    messages.success(request, _("The photograph and the voids in it are kept."))
    return redirect("bond_line", order_id, wafer_id)
