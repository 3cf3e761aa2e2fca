"""What is on a station, in words; where the next stage can be run, and the way to what a start is missing."""

from __future__ import annotations

from dataclasses import dataclass

from django import template
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from lapwright.app import live, shelf, stations
from lapwright.app.stations import StartCheck, StationNow
from lapwright.model.plan import Stage
from lapwright.model.recipe import RunSettings
from lapwright.model.shelf import Station
from lapwright.model.story import WaferStory
from lapwright.units import find_unit, to_unit
from lapwright.web.board_forms import KINDS
from lapwright.web.deeds import followed_at
from lapwright.web.sentences import decimal
from lapwright.web.words import tool_name

register = template.Library()


@register.filter
def on_it_words(station: Station) -> str:
    """What is done there and with what."""
    kind = str(dict(KINDS).get(station.kind, station.kind))
    tool = tool_name(station.abrasive, station.plate)
    return _("%(kind)s, %(tool)s") % {"kind": kind, "tool": tool} if tool else kind


@register.filter
def set_words(settings: RunSettings) -> str:
    """What is set at the machine: load with its pressure, and plate speed; empty where nothing is said."""
    told = (
        (settings.load, "kg", "load", "kg"),
        (settings.pressure, "kPa", "pressure", "kPa"),
        (settings.plate_speed, "rpm", "rotation", _("rpm")),
    )
    said = [
        f"{decimal(f'{to_unit(value, find_unit(symbol, dimension)):.3g}')}\u00a0{word}"
        for value, symbol, dimension, word in told
        if value is not None
    ]
    return ", ".join(said)


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A station for a stage: whether it bears what is wanted, whether a gauge follows its runs, and the way there."""

    station_id: str
    is_ready: bool
    is_followed: bool
    address: str


@register.simple_tag
def places_for(stage: Stage, wafer_id: str) -> list[Place]:
    """The stations for a stage, those that bear what it wants first; of the others those of its kind."""
    if stage.kind not in ("lap", "polish"):
        return []
    followed = {one.feed.station_id for one in live.list_feeds()}
    held = [one.station for one in shelf.list_stations() if one.station.kind == stage.kind]
    ready = [one for one in held if (one.plate, one.abrasive) == (stage.plate, stage.abrasive)]
    others = [one for one in held if one.plate == stage.plate] or held
    return [
        Place(
            station_id=one.station_id,
            is_ready=bool(ready),
            is_followed=one.station_id in followed,
            address=_run(one, wafer_id) if ready else _put_on(one, stage.plate, stage.abrasive, wafer_id),
        )
        for one in ready or others
    ]


@register.simple_tag
def runs_at(story: WaferStory) -> str:
    """The station at which the recorder follows a run of the wafer just now; empty where none does."""
    return followed_at(story) or ""


@register.simple_tag
def way_to(check: StartCheck, now: StationNow, stage: Stage, wafer_id: str) -> dict[str, str] | None:
    """Where what stands against a start is put right; None where nothing on a page does it."""
    if check.state == "passed":
        return None
    if check.name == "station":
        address = _put_on(now.station, stage.plate, stage.abrasive, wafer_id)
        return {"address": address, "word": _("Put on %(tool)s") % {"tool": tool_name(stage.abrasive, stage.plate)}}
    if check.name == "calibration" and now.feed is not None and now.feed.gauge_id:
        return {"address": f"{reverse('gauge', args=[now.feed.gauge_id])}#calibrate", "word": _("Its calibration")}
    if check.name in ("gauge", "calibration"):
        address = f"{reverse('station_gauge', args=[now.station.station_id])}?{urlencode({'wafer': wafer_id})}"
        return {"address": address, "word": _("Its gauge")}
    return None


@register.simple_tag
def wanted_elsewhere(station: Station) -> list[tuple[str, str, str]]:
    """What wafers wait for that is not on a station: the first wafer, the tool, and where it is put on."""
    return [
        (
            wafer.wafer.wafer_id,
            tool_name(stage.abrasive, stage.plate),
            _put_on(station, stage.plate, stage.abrasive, wafer.wafer.wafer_id),
        )
        for wafer, stage in stations.wafers_in_want_of_others(station)
    ]


# ----------------------------------------------------------------------------------------------------------------------


def _run(station: Station, wafer_id: str) -> str:
    return f"{reverse('station', args=[station.station_id])}?{urlencode({'wafer': wafer_id})}#start"


def _put_on(station: Station, plate: str | None, abrasive: str | None, wafer_id: str) -> str:
    asked = {"station": station.station_id, "plate": plate or "", "abrasive": abrasive or "", "wafer": wafer_id}
    return f"{reverse('room')}?{urlencode(asked)}#station-form"
