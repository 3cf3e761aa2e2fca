"""The gauge of a station: which one speaks to it, and how its machine is told to stop."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from lapwright.app import live
from lapwright.app import stations as use
from lapwright.errors import TABLE, Fault, LapwrightError
from lapwright.web.feed_forms import FeedForm, filled
from lapwright.web.surroundings import now, shown, signed


@require_http_methods(["GET", "HEAD", "POST"])
def feed(request: HttpRequest, station_id: str) -> HttpResponse:
    """The form as recorded, or what was wrong with what was typed; nothing is recorded half."""
    station = use.show_station(station_id)
    known = next((one for one in live.list_feeds() if one.feed.station_id == station_id), None)
    today, status = now().date(), 200
    if request.method == "POST":
        form = FeedForm(request.POST, on=today)
        status = 422
        if form.is_valid():
            try:
                typed = form.feed(station_id, None if known is None else known.feed)
                live.set_feed(typed, **signed(request, "set on the page"), version=form.cleaned_data["version"])
            except LapwrightError as error:
                for fault in error.faults or (Fault(sentence=error.sentence),):
                    form.add_error(fault.field if fault.field in form.fields else None, fault.sentence)
                status = TABLE[error.code][1]
            else:
                messages.success(request, _("The gauge is recorded; a recorder takes it up within a second."))
                wafer = request.GET.get("wafer")  # whose start is being prepared
                there = f"?{urlencode({'wafer': wafer})}#looked-at" if wafer else ""
                return redirect(reverse("station", args=[station_id]) + there)
    else:
        form = FeedForm(initial={} if known is None else filled(known.feed, known.version), on=today)
    return shown(
        request, "feed.html", here="stations", status=status, station=station.station, run=station.run, form=form
    )
