"""What the pages of plates show: the side view, the dome over the running time, and words for both."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from django.utils.timezone import get_current_timezone_name
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from lapwright.app.kept_results import Itself
from lapwright.app.plate_maps import plate_points
from lapwright.app.plate_shapes import MOST_KEPT
from lapwright.app.plates import PlateLine, PlateNow
from lapwright.model.plates import Plate
from lapwright.reports.drawing.chart import Level, Line
from lapwright.reports.drawing.plate_side import SHOWN, SideRing, SideShape, SideWords, plate_side
from lapwright.web.lettering import lettering, line_chart
from lapwright.web.moments import when_said
from lapwright.web.sentences import decimal

_HOUR = 3600.0
#: Places along the bar [mm] as shares of the land, both sides, when none were read before.
_SHARES = (0.05, 0.35, 0.65, 0.95)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateCard:
    """A plate in the list, or at the head of its page."""

    now: PlateNow
    side: str
    word: str


def plate_card(now: PlateNow) -> PlateCard:
    """The plate with its side view and its shape in words."""
    return PlateCard(now=now, side=side_drawing(now), word=shape_word(now))


def shape_word(now: PlateNow) -> str:
    """Domed or dished by how much, and whether it grows."""
    if now.trend is None:
        return _("never read")
    dome = now.trend.dome * 1e6
    size = decimal(f"{abs(dome):.1f} ± {2e6 * now.trend.dome_uncertainty:.1f} µm")
    said = _("domed by %(size)s") % {"size": size} if dome > 0.0 else _("dished by %(size)s") % {"size": size}
    if now.trend.is_moving and now.trend.dome_rate is not None:
        rate = decimal(f"{now.trend.dome_rate * _HOUR * 1e6:+.1f}").replace("-", "\u2212")
        said += _(", %(rate)s µm an hour of running") % {"rate": rate}
    return said


def side_drawing(now: PlateNow) -> str:
    """The plate from the side with its last checks."""
    advised = now.advice.offset if now.advice is not None and now.advice.kind == "condition" else None
    reader = (get_language(), get_current_timezone_name())
    return _side_drawn(Itself(now.lines), now.plate, now.offset, advised, reader)


def course_drawing(now: PlateNow) -> str:
    """The dome over the running time with the limits; empty before the second check."""
    checks = [line for line in now.lines if line.shape is not None]
    if len(checks) < 2:
        return ""
    hours = np.array([line.running_time / _HOUR for line in checks])
    domes = np.array([line.shape.dome * 1e6 for line in checks if line.shape is not None])
    limit = now.dome_limit * 1e6
    return line_chart(
        [Line(x=hours, y=domes, name=_("dome"), marks=True)],
        x_label=_("running time, h"),
        y_label=_("dome, µm"),
        title=_("Shape of plate %(plate)s over its running time") % {"plate": now.plate.plate_id},
        levels=[Level(y=limit, name=_("limit")), Level(y=-limit, name=_("limit"))],
    )


def bar_places(now: PlateNow) -> list[float]:
    """Places along the bar [mm]: those of the last check by straight edge, else eight over the land."""
    for line in reversed(now.lines):
        entry = line.recorded.entry
        if entry.kind == "check" and entry.method == "straightedge":
            first = entry.readings[0].laying
            return [round(one.place * 1e3, 3) for one in entry.readings if one.laying == first]
    inner, outer = now.plate.inner_radius * 1e3, now.plate.outer_radius * 1e3
    side = [round(inner + share * (outer - inner)) for share in _SHARES]
    return [float(-place) for place in reversed(side)] + [float(place) for place in side]


# ----------------------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=MOST_KEPT)
def _side_drawn(
    kept: Itself, plate: Plate, offset: float, advised: float | None, _reader: tuple[str | None, str]
) -> str:
    """Kept while the plate's lines are the same, for readers of one language and clock."""
    checks = [line for line in kept.held if line.shape is not None][-SHOWN:]
    return plate_side(
        [_side_shape(line, plate.outer_radius) for line in checks],
        SideRing(
            outer_radius=plate.ring_outer_radius,
            inner_radius=plate.ring_inner_radius,
            offset=offset,
            advised=advised,
        ),
        inner_radius=plate.inner_radius,
        outer_radius=plate.outer_radius,
        words=SideWords(
            title=_("Plate %(plate)s from the side") % {"plate": plate.plate_id},
            stretched=_("height stretched {times} times"),
            domed=_("domed"),
            dished=_("dished"),
            ring=_("ring at {place} mm"),
            advised=_("to {place} mm"),
            rim=_("rim"),
            land=_("land, {size} mm across"),
            readings=_("readings of the newest check"),
        ),
        lettering=lettering(),
    )


def _side_shape(line: PlateLine, outer: float) -> SideShape:
    """A check for the drawing, the readings of a bar levelled and set on the parabola's rim."""
    if line.shape is None:
        raise ValueError("a line without a shape is not drawn")
    entry = line.recorded.entry
    points = plate_points(entry, line.shape, outer) if entry.method == "straightedge" else ()
    placed = tuple((one.x, one.height) for one in points)
    return SideShape(name=when_said(line.recorded.signature.at, "j M H:i"), dome=line.shape.dome, readings=placed)
