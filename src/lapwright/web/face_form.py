"""The form of a face: in words, as cross-sections, as a section chart, as a map and as a body seen from above.

A face is cut along the axis of its astigmatism and across it, because there it bends least and most; one cut along x
would show a saddle as a dome or as a dish, by luck.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _
from numpy.typing import NDArray

from lapwright.app.surface_readings import FringeReading
from lapwright.metrology.shape_profiles import Section, section
from lapwright.reports.drawing.chart import Line
from lapwright.reports.drawing.fringe_view import HeightMap, Profile, form_sketch, height_maps
from lapwright.reports.drawing.relief import ReliefWords, relief
from lapwright.reports.drawing.scale import common_scale
from lapwright.web.lettering import lettering, line_chart
from lapwright.web.sentences import printed

Floats = NDArray[np.float64]
_POINTS = 1200  # of a drawn line


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceForm:
    """What is shown of a form; `oblique` is empty where too little was measured."""

    words: str
    sketch: str
    maps: tuple[str, ...]
    section: str
    oblique: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cut:
    """A section with its letter on the map and its direction."""

    letter: str
    azimuth: float
    found: Section

    @property
    def name(self) -> str:
        return _("%(letter)s, along %(angle)s") % {"letter": self.letter, "angle": _degrees(self.azimuth)}


def face_form(reading: FringeReading, *, removed: str, beside: tuple[str, FringeReading] | None) -> FaceForm:
    """The form of a face; `beside` is another face, to be drawn on the same scale of colours."""
    shape, size, unsure = reading.shape, reading.fringes.pixel_size, reading.fringes.sign_ambiguous
    cuts = _cuts(reading)
    shown = [
        HeightMap(
            height=shape.levelled, pixel_size=size, name=_("this face") if beside else "",
            sections=tuple((one.letter, one.azimuth) for one in cuts),
        )
    ]  # fmt: skip
    if beside:
        shown.append(
            HeightMap(height=beside[1].shape.levelled, pixel_size=beside[1].fringes.pixel_size, name=beside[0])
        )
    scale = common_scale([one.height * 1e6 for one in shown])
    oblique = "" if scale is None else relief(
        shape.levelled, size, scale, title=_("The form from the front above"), lettering=lettering(),
        desc=_("Heights stretched; the bar beside the form says by how much."),
        words=ReliefWords(foot=_("bottom of the map")),
    )  # fmt: skip
    return FaceForm(
        words=form_words(shape.power, shape.astigmatism, shape.astigmatism_azimuth, unsure=unsure),
        sketch=_sketch(cuts, unsure=unsure),
        maps=tuple(height_maps(shown, title=_("Map"), removed=removed, lettering=lettering())),
        section=_chart(cuts, _("height or depth") if unsure else _("height")),
        oblique=oblique,
    )


def form_words(power: float | None, astigmatism: float | None, azimuth: float | None, *, unsure: bool) -> str:
    """The form in words: which way round only when something outside the picture told it.

    A face is a saddle where its sagittas along and across the axis of its astigmatism have different signs.
    """
    if power is None:
        return _("The measured pixels do not carry the power.")
    half = (astigmatism or 0.0) / 2.0
    if azimuth is not None and half > abs(power):
        names = {"along": _um(half - power), "across": _um(half + power), "angle": _degrees(azimuth)}
        if unsure:
            told = _("A saddle: bent by %(along)s along %(angle)s and by %(across)s the other way across it.")
            return told % names + " " + _("Which way cannot be known from this.")
        return _("A saddle: dished by %(along)s along %(angle)s, domed by %(across)s across it.") % names
    amount = _um(abs(power))
    if unsure:
        return _("Curved by %(amount)s over the diameter. Which way cannot be known from this.") % {"amount": amount}
    if power >= 0.0:
        return _("Domed by %(amount)s over the diameter: high in the middle.") % {"amount": amount}
    return _("Dished by %(amount)s over the diameter: low in the middle.") % {"amount": amount}


def drawn_points(x: Floats, z: Floats) -> tuple[Floats, Floats]:
    """At most so many points: of each stretch the lowest and the highest."""
    if len(x) <= _POINTS:
        return x, z
    size = -(-len(x) // (_POINTS // 2))
    count = -(-len(x) // size)
    padded = np.full(count * size, np.nan)
    padded[: len(z)] = np.where(np.isfinite(z), z, np.nan)
    stretches = padded.reshape(count, size)
    ends = np.stack((np.argmin(np.where(np.isnan(stretches), np.inf, stretches), axis=1),
                     np.argmax(np.where(np.isnan(stretches), -np.inf, stretches), axis=1)), axis=1)  # fmt: skip
    ends.sort(axis=1)
    places = ends + np.arange(count)[:, np.newaxis] * size
    taken = places[np.stack((np.ones(count, dtype=bool), ends[:, 0] != ends[:, 1]), axis=1)]
    return x[taken], padded[taken]


# ----------------------------------------------------------------------------------------------------------------------


def _um(value: float) -> str:
    return printed(value, "µm", "length", digits=3)


def _degrees(azimuth: float) -> str:
    return f"{math.degrees(azimuth):.0f}°"


def _cuts(reading: FringeReading) -> tuple[_Cut, _Cut]:
    """The sections A and B: along the axis of the astigmatism and across it, else along x and y."""
    shape = reading.shape
    axis = shape.astigmatism_azimuth or 0.0
    first, second = (
        _Cut(
            letter=letter, azimuth=azimuth,
            found=section(shape.levelled, pixel_size=reading.fringes.pixel_size, azimuth=azimuth,
                          through=(shape.aperture.x, shape.aperture.y)),
        )
        for letter, azimuth in (("A", axis), ("B", (axis + math.pi / 2.0) % math.pi))
    )  # fmt: skip
    return first, second


def _sketch(cuts: tuple[_Cut, _Cut], *, unsure: bool) -> str:
    """Both sections while the sign is known; one of them both ways round while it is not."""
    if not unsure:
        profiles = [Profile(distance=one.found.distance, height=one.found.height, name=one.name) for one in cuts]
    else:
        found = cuts[1].found
        profiles = [
            Profile(distance=found.distance, height=sign * found.height, name=_("perhaps so")) for sign in (1.0, -1.0)
        ]
    return form_sketch(profiles, unsure=unsure, title=_("Cross-section, stretched"), lettering=lettering())


def _chart(cuts: tuple[_Cut, _Cut], what: str) -> str:
    lines = []
    for one in cuts:
        known = np.flatnonzero(np.isfinite(one.found.height))
        part = slice(known[0], known[-1] + 1) if known.size else slice(0)
        x, z = drawn_points(one.found.distance[part] * 1e3, one.found.height[part] * 1e6)
        lines.append(Line(x=x, y=z, name=one.name))
    return line_chart(
        lines, x_label=_("along the section, mm"), y_label=f"{what}, µm", title=_("Sections through the middle")
    )
