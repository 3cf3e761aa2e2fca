"""Drawings of a measured plate: a section with its readings against the parabola, and the map where there is one."""

from __future__ import annotations

import numpy as np
from django.utils.translation import gettext as _

from lapwright.app.plate_maps import PlateMap
from lapwright.model.plates import CheckMethod
from lapwright.model.wafer import Round, ThicknessMap
from lapwright.reports.drawing.chart import Line
from lapwright.reports.drawing.ink import Lettering
from lapwright.reports.drawing.wafer_map import wafer_map
from lapwright.web.lettering import line_chart
from lapwright.web.moments import when_said

_LEAST_OF_MAP = 4


def method_word(method: CheckMethod) -> str:
    """How a plate was looked at, in words."""
    return {
        "straightedge": _("bar with a dial"),
        "map": _("heights all over it"),
        "bridge": _("bridge"),
        "block": _("test block"),
        "wafer": _("lapped wafer"),
    }[method]


def section(found: PlateMap) -> str:
    """Height over the rim across the plate: the parabola through it, and each reading; of a map over the radius."""
    outer = found.plate.outer_radius
    is_map = found.check.method == "map"
    x = np.linspace(0.0 if is_map else -outer, outer, 81)
    lines = [Line(x=x * 1e3, y=found.shape.dome * (1.0 - (x / outer) ** 2) * 1e6, name=_("parabola"))]
    for laying in sorted({one.laying for one in found.points}):
        mine = [one for one in found.points if one.laying == laying]
        places = np.array([np.hypot(one.x, one.y) if is_map else one.x for one in mine])
        order = np.argsort(places, kind="stable")
        heights = np.array([one.height for one in mine])[order] * 1e6
        name = _("read") if is_map else _("laying %(n)d") % {"n": laying + 1}
        lines.append(Line(x=places[order] * 1e3, y=heights, name=name, joined=False))
    return line_chart(
        lines,
        x_label=_("from the plate's axis, mm") if is_map else _("along the bar from the plate's axis, mm"),
        y_label=_("height over the rim, µm"),
        title=_title(found),
    )


def map_drawing(found: PlateMap) -> str:
    """The levelled heights seen from above; "" for a check that was not made all over the plate."""
    if found.check.method != "map" or len(found.points) < _LEAST_OF_MAP:
        return ""
    site_map = ThicknessMap(
        x=np.array([one.x for one in found.points]),
        y=np.array([one.y for one in found.points]),
        thickness=np.array([one.height for one in found.points]),
    )
    inner = _("hole of the land: %(d)s mm") % {"d": f"{2e3 * found.plate.inner_radius:g}"}
    notes = [_("height over the rim, µm; level and tilt taken out"), inner, _("seen from above")]
    return wafer_map(
        site_map, Round(diameter=2.0 * found.plate.outer_radius), notes=notes,
        heading=_title(found),
        lettering=Lettering(wafer_map=_("Height map"), worked_face=_("seen from above"), site=_("point")),
    )  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _title(found: PlateMap) -> str:
    return _("Plate %(plate)s, %(when)s") % {"plate": found.plate.plate_id, "when": when_said(found.check.at)}
