"""Kinematics: how fast and how evenly a wafer slides, and whether the plate draws the same lines over and over."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from lapwright.app.kinematics import TURNS, MotionQuestion, Paths, drawn_paths, sliding_of
from lapwright.errors import TABLE, LapwrightError
from lapwright.process.sliding import Sliding
from lapwright.reports.drawing.chart import Level, Line
from lapwright.reports.drawing.grain_lines import GrainWords, grain_lines
from lapwright.web.kinematics_forms import USUAL, MotionForm
from lapwright.web.lettering import lettering, line_chart
from lapwright.web.sentences import decimal
from lapwright.web.surroundings import shown

_RPM = 2.0 * math.pi / 60.0


@require_safe
def kinematics(request: HttpRequest) -> HttpResponse:
    """A motion, answered; what is asked stands in the address."""
    asked = any(name in request.GET for name in MotionForm.base_fields)
    form = MotionForm(request.GET if asked else USUAL)
    content: dict[str, Any] = {"form": form, "asked": request.GET.urlencode() if asked else ""}
    status = 200
    try:
        if form.is_valid():
            content |= _answer(form.question())
        else:
            status = 422
    except LapwrightError as error:
        form.add_error(None, error.sentence)
        status = TABLE[error.code][1]
    if not content["asked"]:
        content["asked"] = "&".join(f"{name}={value}" for name, value in USUAL.items())
    return shown(request, "kinematics.html", here="kinematics", status=status, **content)


# ----------------------------------------------------------------------------------------------------------------------


def _answer(question: MotionQuestion) -> dict[str, Any]:
    found = sliding_of(question)
    return {
        "found": found,
        "question": question,
        "profile": _profile(found),
        "paths": [
            (_picture(one, question, asked=number == 0), one) for number, one in enumerate(drawn_paths(question))
        ],
        "uneven": decimal(f"{100.0 * found.nonuniformity:.2g}\u00a0%"),
        "ratio": None if found.speed_ratio is None else decimal(f"{found.speed_ratio:.4g}").replace("-", "\u2212"),
        "nearest": None if found.nearest_ratio is None else str(found.nearest_ratio).replace("-", "\u2212"),
        "rows": [
            (decimal(f"{r * 1e3:.1f}"), decimal(f"{v:.5f}")) for r, v in zip(found.radius, found.speeds, strict=True)
        ],
    }


def _profile(found: Sliding) -> str:
    """Mean sliding speed over the radius; even speeds are drawn on an axis that shows them as even."""
    return line_chart(
        [Line(x=np.asarray(found.radius) * 1e3, y=np.asarray(found.speeds), name=_("mean speed"), marks=True)],
        x_label=_("from the jig's axis, mm"),
        y_label=_("sliding speed, m/s"),
        title=_("Sliding speed over the radius"),
        levels=[Level(y=found.mean_speed, name=_("mean of the face"))]
        + ([Level(y=0.0, name="")] if found.nonuniformity > _SHOWN_FROM_ZERO else []),
    )


_SHOWN_FROM_ZERO = 0.2


def _picture(paths: Paths, question: MotionQuestion, *, asked: bool) -> str:
    speed = decimal(f"{paths.motion.jig_speed / _RPM:.4g}").replace("-", "\u2212")
    title = _("jig at %(n)s rpm") % {"n": speed} if asked else _("jig at %(n)s rpm, for comparison") % {"n": speed}
    closes = (
        _("They close after %(n)d turns.") % {"n": paths.closes_after}
        if paths.closes_after is not None
        else _("They do not close within 200 turns.")
    )
    told = _("Lines that three grains draw on the wafer within %(n)d turns of the plate.") % {"n": TURNS}
    return grain_lines(
        paths.tracks,
        wafer_radius=question.wafer_offset + question.wafer_radius,
        words=GrainWords(title=title, told=f"{told} {closes}", axis=_("axis of the jig")),
        lettering=lettering(),
    )
