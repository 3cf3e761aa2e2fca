"""A plate from the side, its height stretched ten thousand times or more, with its last checks and its ring on it.

The newest shape is the thickest line and carries its height as a dimension; older ones are dashed, and the key below
names them all. The ring stands where it was set, with a ghost and an arrow where it is advised to go. The bar's
readings are points, so that a trough shows as points that leave the line.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lapwright.reports.drawing.ink import ENGLISH, Lettering, drawing, element, figure, path, table, written

_WIDTH, _HEIGHT, _LEFT, _WIDE, _MIDDLE, _TALL = 744.0, 300.0, 70.0, 580.0, 190.0, 130.0
_DASHES = (None, "8 4", "3 3", "9 3 2 3")
SHOWN = 4
_KEYS = (6.0, 214.0, 388.0, 562.0)  # where the key of each check begins; the newest is bold and longer


@dataclass(frozen=True, slots=True, kw_only=True)
class SideShape:
    """One check: its name (a date), dome [m], and readings as (place [m], height over the rim [m])."""

    name: str
    dome: float
    readings: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SideRing:
    """The ring: outer and inner radius [m], where it is, and where it is advised to go (None to stay) [m]."""

    outer_radius: float
    inner_radius: float
    offset: float
    advised: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SideWords:
    """The words of this drawing."""

    title: str = "Plate from the side"
    stretched: str = "height stretched {times} times"
    domed: str = "domed"
    dished: str = "dished"
    ring: str = "ring at {place} mm"
    advised: str = "to {place} mm"
    rim: str = "rim"
    land: str = "land, {size} mm across"
    readings: str = "readings of the newest check"


WORDS = SideWords()


def plate_side(
    shapes: Sequence[SideShape], ring: SideRing, *, inner_radius: float, outer_radius: float, words: SideWords = WORDS,
    lettering: Lettering = ENGLISH,
) -> str:  # fmt: skip
    """SVG of a plate's side view; `shapes` the latest last. Radii of the land in m."""
    latest = list(shapes)[-SHOWN:][::-1]
    heights = [abs(one.dome) for one in latest] + [abs(h) for one in latest for _, h in one.readings]
    reach = max([*heights, 1e-6])
    up, across = _TALL / 2.0 / reach, _WIDE / 2.0 / outer_radius
    middle = _LEFT + _WIDE / 2.0
    times = float(f"{up / across:.1g}")
    note = words.stretched.format(times=f"{times:,.0f}".replace(",", "\u2009"))
    parts = [
        written(_LEFT, 20.0, words.title, size=14, font_weight="bold"),
        written(_LEFT, 38.0, note, size=12),
        _base(middle, across, inner_radius, outer_radius, words),
    ]
    for number, one in enumerate(latest):
        parts.append(_shape(one, number, middle, across, up, outer_radius))
        parts.append(_key(one, number, lettering))
    if latest:
        parts.append(_dimension(latest[0], middle, up, lettering))
        parts.append(_readings_key(latest[0], _LEFT + 8.0 * len(note) + 24.0, words))
    parts.append(_ring(ring, middle, across, words, lettering))
    return drawing(
        *parts,
        title=words.title,
        desc=_description(latest, ring, words, lettering),
        width=_WIDTH,
        height=_HEIGHT,
        lettering=lettering,
        data=table(
            ("check", "dome_um", "place_mm", "height_um"),
            (
                (one.name, one.dome * 1e6, place * 1e3, height * 1e6)
                for one in latest
                for place, height in one.readings or ((math.nan, math.nan),)
            ),
        ),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _base(middle: float, across: float, inner: float, outer: float, words: SideWords) -> str:
    line = element("path", d=f"M{_LEFT} {_MIDDLE}h{_WIDE}", stroke="#7b8794", stroke_width=0.8, class_="faint-line")
    parts = [line, written(_LEFT - 8.0, _MIDDLE + 4.0, words.rim, size=12, anchor="end")]
    for side in (-1.0, 1.0):
        start, end = sorted((middle + side * inner * across, middle + side * outer * across))
        parts.append(
            element(
                "rect", x=start, y=_MIDDLE + 70.0, width=end - start, height=9.0, fill="#7b8794", class_="faint-line"
            )
        )
    size = words.land.format(size=f"{2e3 * outer:g}")
    if 2.0 * inner * across > 7.0 * len(size):
        parts.append(written(middle, _MIDDLE + 79.0, size, size=12, anchor="middle"))
    return "".join(parts)


def _shape(one: SideShape, number: int, middle: float, across: float, up: float, outer: float) -> str:
    x = np.linspace(-outer, outer, 61)
    y = one.dome * (1.0 - (x / outer) ** 2)
    points = [(middle + float(a) * across, _MIDDLE - float(b) * up) for a, b in zip(x, y, strict=True)]
    parts = [element("path", d=path(points), fill="none", **_look(number))]
    if number == 0:
        parts += [_reading(middle + place * across, _MIDDLE - height * up) for place, height in one.readings]
    return element("g", *parts, class_="line")


def _look(number: int) -> dict[str, object]:
    """How a check is drawn: the newest thick, the others thin and dashed each in its way."""
    width = 2.6 if number == 0 else 1.2
    return {"stroke": "currentColor", "stroke_width": width, "stroke_dasharray": _DASHES[number]}


def _reading(x: float, y: float) -> str:
    return element("circle", cx=x, cy=y, r=3.4, fill="#a8321a", class_="accent")


def _key(one: SideShape, number: int, lettering: Lettering) -> str:
    """A check's line, name and dome below the drawing."""
    x, y = _KEYS[number], _HEIGHT - 10.0
    text = f"{one.name}: {figure(one.dome * 1e6, 1, lettering)} µm"
    line = element("path", d=f"M{x:.1f} {y - 4.0:.1f}h24", **_look(number))
    name = written(x + 29.0, y, text, size=11.5, font_weight="bold" if number == 0 else None)
    return element("g", line, class_="line") + name


def _readings_key(one: SideShape, x: float, words: SideWords) -> str:
    return _reading(x, 34.0) + written(x + 9.0, 38.0, words.readings, size=12) if one.readings else ""


def _dimension(one: SideShape, middle: float, up: float, lettering: Lettering) -> str:
    """The dome of the newest check between its rim and its middle, where there is room for a figure."""
    top = _MIDDLE - one.dome * up
    if abs(top - _MIDDLE) < 24.0:
        return ""
    head = 5.0 if top < _MIDDLE else -5.0
    arrows = f"m-3 {head}l3 {-head}l3 {head}M{middle} {_MIDDLE}m-3 {-head}l3 {head}l3 {-head}"
    line = element(
        "path", d=f"M{middle} {_MIDDLE}V{top:.1f}{arrows}", fill="none", stroke="currentColor", stroke_width=1.0
    )
    text = f"{figure(one.dome * 1e6, 1, lettering)} µm"
    return line + written(middle + 8.0, (top + _MIDDLE) / 2.0 + 14.0 * (head > 0.0), text, size=13, font_weight="bold")


def _ring(ring: SideRing, middle: float, across: float, words: SideWords, lettering: Lettering) -> str:
    y = 62.0
    parts = [_bar(ring, ring.offset, middle, across, y, ghost=False)]
    centre = middle + ring.offset * across
    here = words.ring.format(place=figure(ring.offset * 1e3, 1, lettering))
    parts.append(written(centre, y - 8.0, here, size=12, anchor="middle"))
    if ring.advised is not None and abs(ring.advised - ring.offset) > 2.5e-4:
        there = middle + ring.advised * across
        parts.append(_bar(ring, ring.advised, middle, across, y + 20.0, ghost=True))
        head = 5.0 if there > centre else -5.0
        parts.append(
            element(
                "path",
                d=f"M{centre:.1f} {y + 15.0:.1f}H{there:.1f}m{-head:.1f} -4l{head:.1f} 4l{-head:.1f} 4",
                fill="none", stroke="#a8321a", stroke_width=1.6, class_="accent-line",
            )
        )  # fmt: skip
        to = words.advised.format(place=figure(ring.advised * 1e3, 1, lettering))
        left = middle + (ring.advised - ring.outer_radius) * across - 6.0
        parts.append(written(left, y + 29.0, to, size=12, anchor="end", font_weight="bold"))
    return element("g", *parts, class_="ring")


def _bar(ring: SideRing, offset: float, middle: float, across: float, y: float, *, ghost: bool) -> str:
    look = {"fill": "none", "stroke_dasharray": "4 3"} if ghost else {"fill": "currentColor", "fill_opacity": "0.25"}
    parts = []
    spans = [
        (offset - ring.outer_radius, offset - ring.inner_radius),
        (offset + ring.inner_radius, offset + ring.outer_radius),
    ]
    if ring.inner_radius == 0.0:
        spans = [(offset - ring.outer_radius, offset + ring.outer_radius)]
    for start, end in spans:
        parts.append(
            element(
                "rect", x=middle + start * across, y=y, width=(end - start) * across, height=10.0,
                stroke="currentColor", **look,
            )
        )  # fmt: skip
    return "".join(parts)


def _description(latest: Sequence[SideShape], ring: SideRing, words: SideWords, lettering: Lettering) -> str:
    told = [
        f"{one.name}: {words.domed if one.dome > 0.0 else words.dished} {figure(abs(one.dome) * 1e6, 1, lettering)} µm"
        for one in latest
    ]
    told.append(words.ring.format(place=figure(ring.offset * 1e3, 1, lettering)))
    if ring.advised is not None:
        told.append(words.advised.format(place=figure(ring.advised * 1e3, 1, lettering)))
    return "; ".join(told) + "."
