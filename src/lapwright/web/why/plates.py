"""Numbers of plates and motion worked out: dome of a plate, its trend, sliding speed."""

from __future__ import annotations

import math
from collections.abc import Callable

from django.urls import reverse
from django.utils.translation import gettext as _

from lapwright.app import plate_shapes, plates
from lapwright.app.kinematics import sliding_of
from lapwright.errors import NotFound
from lapwright.model.plates import PlateEntry
from lapwright.process.plate import PlateShape
from lapwright.process.plate_course import running_times
from lapwright.web.kinematics_forms import USUAL, MotionForm
from lapwright.web.surroundings import now
from lapwright.web.why.case import Case, Other, Table, bare, figures, put, um
from lapwright.web.why.place import Place, picked

_HOUR = 3600.0


def plate(place: Place) -> Case:
    """The dome by the last check and by the line through the checks since the ring was set."""
    held = plates.list_plates(at=now())
    named = {one.plate.plate_id: one for one in held}
    found = picked(place.name("plate_id") or place.of, named, _("No plate is recorded yet."))
    last = found.last_check
    if found.trend is None or last is None or last.shape is None:
        raise NotFound(_("This plate was never read."))
    outer, trend = found.plate.outer_radius, found.trend
    asked = place.asked.get("check")
    check = next((one for one in found.lines if str(one.recorded.entry_id) == asked and one.shape is not None), last)
    assert check.shape is not None
    steps = [_one_check(check.recorded.entry, check.shape)]
    tables = [_readings(check.recorded.entry)]
    if trend.dome_rate is not None:
        course = plate_shapes.course_of(found.plate, tuple(one.recorded for one in found.lines))
        recent = course[-trend.checks :]
        hours = running_times(recent) / _HOUR
        rows = tuple(
            (bare(float(at), 3), bare(one.dome * 1e6, 3), bare(one.dome_uncertainty * 1e6, 3))
            for at, one in zip(hours, recent, strict=True)
        )
        heads = (_("running, h"), _("dome, µm"), "u, µm")
        tables.append(Table(title=_("Checks since the ring was set, weighed by 1/u²"), heads=heads, rows=rows))
        steps.append(
            _("line through the checks, at the last one:")
            + f" {um(trend.dome)}, {bare(trend.dome_rate * _HOUR * 1e6, 3)} ± "
            f"{bare(2e6 * _HOUR * (trend.dome_rate_uncertainty or 0.0), 3)}\u00a0µm/h"
        )
    address = reverse("plate_map", args=[found.plate.plate_id])
    return Case(
        of=found.plate.plate_id,
        result=um(check.shape.dome if place.page == "plate_map" else trend.dome, 2),
        given=(
            put("R", _("outer radius of the land"), f"{bare(outer * 1e3, 1)}\u00a0mm"),
            put("u", _("standard uncertainty of one reading"), um(found.plate.reading_uncertainty, 2)),
            put("", _("the check"), f"{check.recorded.signature.at:%Y-%m-%d %H:%M}", address),
        ),
        steps=tuple(steps),
        tables=tuple(tables),
        doubt=_("± %(u)s (k = 2) from the readings; what the parabola leaves is told beside it.")
        % {"u": um(2.0 * (check.shape.dome_uncertainty if place.page == "plate_map" else trend.dome_uncertainty), 2)},
        others=()
        if place.name("plate_id")
        else tuple(Other(name=one.plate.plate_id, of=one.plate.plate_id) for one in held if one is not found),
    )


def sliding(place: Place) -> Case:
    """Mean speed over the face from speeds, offset and radius."""
    asked = {name: place.asked[name] for name in MotionForm.base_fields if name in place.asked}
    form = MotionForm(asked or USUAL)
    if not form.is_valid():
        raise NotFound(_("What was asked is not a motion; mend the form first."))
    question = form.question()
    found, motion = sliding_of(question), question.motion
    a, spin = abs(motion.plate_speed) * motion.offset, abs(motion.plate_speed - motion.jig_speed)
    rim = question.wafer_radius
    rows = tuple((bare(r * 1e3, 2), bare(v, 5)) for r, v in zip(found.radius, found.speeds, strict=True))
    return Case(
        of=_("plate at %(p)s rpm, jig at %(j)s rpm")
        % {"p": figures(motion.plate_speed * 30.0 / math.pi, 4), "j": figures(motion.jig_speed * 30.0 / math.pi, 4)},
        result=f"{bare(found.mean_speed, 4)}\u00a0m/s",
        given=(
            put("ω_p", _("plate"), f"{figures(motion.plate_speed, 6)}\u00a0rad/s"),
            put("ω_j", _("jig"), f"{figures(motion.jig_speed, 6)}\u00a0rad/s"),
            put("e", _("offset of the jig"), f"{bare(motion.offset * 1e3, 2)}\u00a0mm"),
            put("r", _("radius of the wafer"), f"{bare(rim * 1e3, 2)}\u00a0mm"),
            put("", _("wafer off the jig's axis by"), f"{bare(question.wafer_offset * 1e3, 2)}\u00a0mm"),
        ),
        steps=(
            f"a = {figures(abs(motion.plate_speed), 6)}·{bare(motion.offset, 5)} = {bare(a, 5)}\u00a0m/s",
            f"b = {figures(spin, 6)}·{bare(rim, 5)} = {bare(spin * rim, 5)}\u00a0m/s",
            _("mean over the face: v̄ = (2/r²) ∫ v(r)·r dr") + f" = {bare(found.mean_speed, 5)}\u00a0m/s",
        ),
        tables=(Table(title=_("v at each radius"), heads=("r, mm", "v, m/s"), rows=rows),),
        doubt=_("None of its own: it is geometry. Speeds as set may be off by parts of a per cent."),
    )


PLATES: dict[str, Callable[[Place], Case]] = {"plate": plate, "sliding": sliding}


# ----------------------------------------------------------------------------------------------------------------------


def _one_check(entry: PlateEntry, shape: PlateShape) -> str:
    return {
        "straightedge": _("least squares of h = a_l + b_l·x − S·(x/R)², level and tilt for each laying: S = %(s)s"),
        "map": _("least squares of h = a + b·x + c·y − S·(x² + y²)/R²: S = %(s)s"),
        "bridge": _("from the sagitta s under a bridge of length D: S = s·(2R/D)² = %(s)s"),
    }.get(entry.method or "", _("from the sagitta s of a lapped piece of width D: S = −s·(2R/D)² = %(s)s")) % {
        "s": um(shape.dome)
    }


def _readings(entry: PlateEntry) -> Table:
    rows = tuple(
        (bare(one.place * 1e3, 2), bare(one.across * 1e3, 2), str(one.laying), one.text, bare(one.value * 1e6, 3))
        for one in entry.readings
    )
    size = "" if entry.size is None else f", D = {bare(entry.size * 1e3, 2)}\u00a0mm"
    heads = ("x, mm", "y, mm", _("laying"), _("as typed"), "h, µm")
    return Table(title=_("Readings of the check") + size, heads=heads, rows=rows)
