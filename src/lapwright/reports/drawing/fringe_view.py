"""What fringes say, drawn: the picture with its scale, what of it was trusted, the form as a sketch, the map.

Heights come in m. Every drawing says one fringe's height or the colours' meaning itself, so that it can be cut out of
the page and still be read.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.reports.drawing.colour import ramp_colour
from lapwright.reports.drawing.ink import (
    ENGLISH,
    PAPER,
    Lettering,
    drawing,
    element,
    figure,
    path,
    short,
    table,
    wrapped,
    written,
)
from lapwright.reports.drawing.raster import colour_picture, grey_picture, veil
from lapwright.reports.drawing.scale import Scale, common_scale

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

_WIDE = 560.0
_OUTSIDE = (24, 34, 44)
_DOUBTED = (190, 70, 30)
_GRID = 38  # places a side of the numbers that a map carries along


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A picture with where the sample is, where a height was trusted, and a pixel's height and width [m]."""

    intensity: NDArray[np.number]
    mask: Mask | None = None
    trusted: Mask | None = None
    pixel_size: tuple[float, float] | None = None
    fringe: str = ""


def fringe_picture(seen: Seen, *, title: str) -> str:
    """The picture with a scale, and what one fringe means written into it."""
    tall = _tall(seen)
    parts = [grey_picture(seen.intensity, width=_WIDE, height=tall)]
    if seen.pixel_size is not None:
        parts.append(_scale_bar(seen.pixel_size[1] * seen.intensity.shape[1], tall))
    parts.append(_plate(10.0, 10.0, seen.fringe))
    return drawing(*parts, title=title, desc=seen.fringe, width=_WIDE, height=tall)


def trust_picture(seen: Seen, *, title: str, desc: str) -> str:
    """The picture with all that lies outside the sample darkened, and what was not trusted covered and hatched."""
    tall = _tall(seen)
    size: dict[str, float] = {"width": _WIDE, "height": tall}
    parts = [grey_picture(seen.intensity, **size)]
    if seen.mask is not None:
        parts.append(veil(~seen.mask, colour=_OUTSIDE, opacity=0.82, **size))
    if seen.mask is not None and seen.trusted is not None:
        doubted = seen.mask & ~seen.trusted
        rows, columns = np.indices(doubted.shape)
        stripes = ((rows + columns) // max(4, doubted.shape[1] // 90)) % 2 == 0
        parts.append(veil(doubted & stripes, colour=_DOUBTED, opacity=0.95, **size))
        parts.append(veil(doubted & ~stripes, colour=(255, 255, 255), opacity=0.85, **size))
    return drawing(*parts, title=title, desc=desc, width=_WIDE, height=tall, data=_states(seen))


def height_maps(
    maps: Sequence[tuple[str, Floats, tuple[float, float]]],
    *,
    title: str,
    removed: str,
    section: str = "",
    lettering: Lettering = ENGLISH,
) -> list[str]:
    """Maps on one scale of colours, each (name, heights, pixel size), with the terms taken out written below.

    With a word for it the line of the section stands in each, through the middle of what was measured.
    """
    scale = common_scale([heights * 1e6 for _, heights, _ in maps])
    if scale is None:
        return []
    return [_map(one, scale, title=title, removed=removed, section=section, lettering=lettering) for one in maps]


def form_sketch(distance: Floats, height: Floats, *, sign_known: bool, title: str, words: tuple[str, str]) -> str:
    """The cross-section as a body with its face up; both ways round, side by side, while nobody knows which holds.

    `words` name the one shape, or the two.
    """
    known = np.isfinite(height)
    x, z = distance[known] * 1e3, height[known] * 1e6
    every = max(1, len(x) // 240)
    x, z = x[::every], z[::every] - z.mean() if len(z) else z[::every]
    reach = max(float(np.abs(z).max()), 1e-9) if len(z) else 1.0
    bodies = [(1.0, words[0])] if sign_known else [(1.0, words[0]), (-1.0, words[1])]
    wide = _WIDE / len(bodies)
    parts = [_body(i * wide, wide, x, sign * z / reach, name) for i, (sign, name) in enumerate(bodies)]
    if not sign_known:
        parts.append(written(_WIDE / 2.0, 70.0, "?", size=34, anchor="middle", font_weight="bold"))
    return drawing(*parts, title=title, desc=" / ".join(name for _, name in bodies), width=_WIDE, height=150.0,
                   data=table(("distance_mm", "height_um"), zip(x, z, strict=True)))  # fmt: skip


def oblique_view(height: Floats, pixel_size: tuple[float, float], *, title: str, desc: str) -> str:
    """The map seen from the front above, as lines across, nearer ones hiding farther ones; height is stretched."""
    rows = np.linspace(0, height.shape[0] - 1, 44).astype(int)
    columns = np.linspace(0, height.shape[1] - 1, 110).astype(int)
    grid = height[np.ix_(rows, columns)]
    known = grid[np.isfinite(grid)]
    if known.size < 2:
        return ""
    middle, reach = float(known.mean()), max(float(np.ptp(known)), 1e-15)
    ratio = height.shape[0] * pixel_size[0] / (height.shape[1] * pixel_size[1])
    deep = min(1.2, ratio) * 200.0
    parts = []
    for k, row in enumerate(grid):
        base = 110.0 + deep * k / (len(rows) - 1)
        shift = 70.0 * (1.0 - k / (len(rows) - 1))
        for run in _runs(row):
            points = [
                (shift + 20.0 + 440.0 * c / (len(columns) - 1), base - 90.0 * (float(row[c]) - middle) / reach)
                for c in run
            ]
            share = (float(np.mean(row[run])) - middle) / reach + 0.5
            floor = [(points[-1][0], base + 60.0), (points[0][0], base + 60.0)]
            parts.append(element("path", d=path([*points, *floor], closed=True), fill=PAPER, class_="paper"))
            parts.append(element("path", d=path(points), fill="none", stroke=_edge(share), stroke_width=1.2))
    numbers = _grid(height * 1e6, pixel_size)
    return drawing(*parts, title=title, desc=desc, width=_WIDE, height=110.0 + deep + 70.0, data=numbers)


# ----------------------------------------------------------------------------------------------------------------------


def _tall(seen: Seen) -> float:
    rows, columns = seen.intensity.shape
    ratio = 1.0 if seen.pixel_size is None else seen.pixel_size[0] / seen.pixel_size[1]
    return float(round(min(_WIDE * rows * ratio / columns, 1.4 * _WIDE), 1))


def _edge(share: float) -> str:
    """A colour of the darker part of the ramp, which stands out from paper."""
    return ramp_colour(0.65 * min(max(share, 0.0), 1.0))


def _runs(row: Floats) -> list[NDArray[np.intp]]:
    """Neighbouring places that were measured, in runs of two or more."""
    places = np.flatnonzero(np.isfinite(row))
    runs = np.split(places, np.flatnonzero(np.diff(places) > 1) + 1)
    return [run for run in runs if len(run) > 1]


def _scale_bar(width: float, tall: float) -> str:
    """A bar of a round length, about a quarter of the picture wide."""
    length = _round_length(width / 4.0)
    pixels = _WIDE * length / width
    x, y = _WIDE - pixels - 16.0, tall - 16.0
    text = f"{length * 1e3:g} mm"
    return "".join(
        [
            element(
                "rect", x=x - 8.0, y=y - 26.0, width=pixels + 16.0, height=34.0, fill="#ffffff", fill_opacity="0.85"
            ),
            element("path", d=f"M{short(x)} {short(y)}h{short(pixels)}", stroke="#18222c", stroke_width=4.0),
            written(x + pixels / 2.0, y - 9.0, text, size=13, anchor="middle", fill="#18222c"),
        ]
    )


def _round_length(rough: float) -> float:
    power: float = 10.0 ** math.floor(math.log10(rough))
    return float(max(factor * power for factor in (1.0, 2.0, 5.0) if factor * power <= rough))


def _plate(x: float, y: float, text: str) -> str:
    if not text:
        return ""
    wide = 8.4 * len(text) + 16.0
    ground = element("rect", x=x, y=y, width=wide, height=26.0, fill="#ffffff", fill_opacity="0.88")
    return ground + written(x + 8.0, y + 18.0, text, size=14, fill="#18222c", font_weight="bold")


def _map(
    one: tuple[str, Floats, tuple[float, float]],
    scale: Scale,
    *,
    title: str,
    removed: str,
    section: str,
    lettering: Lettering,
) -> str:
    name, heights, pixel_size = one
    rows, columns = np.nonzero(np.isfinite(heights))
    top, bottom, left, right = rows.min(), rows.max() + 1, columns.min(), columns.max() + 1
    part = heights[top:bottom, left:right] * 1e6
    side = 400.0
    down, across = part.shape[0] * pixel_size[0], part.shape[1] * pixel_size[1]
    wide, tall = side * min(1.0, across / down), side * min(1.0, down / across)
    picture = element("g", colour_picture(part, scale, width=wide, height=tall), transform="translate(8 34)")
    parts = [written(8.0, 20.0, f"{title} {name}".strip(), size=14, font_weight="bold"), picture]
    if section:
        y = 34.0 + tall / 2.0
        line = f"M8 {short(y)}h{short(wide)}"
        parts.append(element("path", d=line, stroke=PAPER, stroke_width=3.0, fill="none"))
        parts.append(element("path", d=line, stroke="#18222c", stroke_width=1.2, stroke_dasharray="6 4", fill="none"))
        parts.append(written(wide + 12.0, y - 6.0, section, size=11))
    parts.append(_key(scale, x=wide + 60.0, y=44.0, tall=max(tall - 20.0, 160.0), lettering=lettering))
    parts.append(wrapped(8.0, 34.0 + max(tall, 180.0) + 22.0, removed, columns=64, size=12))
    height = 34.0 + max(tall, 180.0) + 50.0
    heading, numbers = f"{title} {name}".strip(), _grid(part, pixel_size)
    return drawing(*parts, title=heading, desc=removed, width=wide + 150.0, height=height, data=numbers)


def _states(seen: Seen) -> str:
    """What was trusted at the crossings of a coarse grid, places in pixels; nothing before anything was judged."""
    if seen.mask is None or seen.trusted is None:
        return ""
    rows, columns = (np.unique(np.linspace(0, side - 1, min(side, _GRID)).astype(int)) for side in seen.mask.shape)
    inside = [(row, column) for row in rows for column in columns if seen.mask[row, column]]
    return table(
        ("column_px", "row_px", "trusted"),
        ((column, row, "yes" if seen.trusted[row, column] else "no") for row, column in inside),
    )


def _grid(height_um: Floats, pixel_size: tuple[float, float]) -> str:
    """Heights at the crossings of a coarse grid, places in mm from the middle of the map."""
    rows, columns = (np.unique(np.linspace(0, side - 1, min(side, _GRID)).astype(int)) for side in height_um.shape)
    middle_row, middle_column = ((side - 1) / 2.0 for side in height_um.shape)
    down, across = (1e3 * size for size in pixel_size)
    return table(
        ("x_mm", "y_mm", "height_um"),
        (
            ((column - middle_column) * across, (middle_row - row) * down, height_um[row, column])
            for row in rows
            for column in columns
            if np.isfinite(height_um[row, column])
        ),
    )


def _key(scale: Scale, *, x: float, y: float, tall: float, lettering: Lettering) -> str:
    bands = 40
    parts = [
        element("rect", x=x, y=y + tall * (1.0 - (i + 1) / bands), width=18.0, height=tall / bands + 0.6,
                fill=ramp_colour((i + 0.5) / bands))
        for i in range(bands)
    ]  # fmt: skip
    ticks = scale.ticks if len(scale.ticks) <= 8 else scale.ticks[:: -(-len(scale.ticks) // 8)]
    parts += [
        written(
            x + 24.0, y + tall * (1.0 - scale.share(tick)) + 4.0, figure(tick, scale.decimals, lettering), size=11.5
        )
        for tick in ticks
    ]
    parts.append(written(x, y - 8.0, "µm", size=12))
    return "".join(parts)


def _body(left: float, wide: float, x: Floats, z: Floats, name: str) -> str:
    if len(x) < 2:
        return written(left + wide / 2.0, 70.0, name, anchor="middle")
    span = max(float(x[-1] - x[0]), 1e-12)
    room = wide - 60.0
    face = [(left + 30.0 + room * float(a - x[0]) / span, 60.0 - 32.0 * float(b)) for a, b in zip(x, z, strict=True)]
    foot = [(face[-1][0], 112.0), (face[0][0], 112.0)]
    return "".join(
        [
            element("path", d=path([*face, *foot], closed=True), fill="#7b8794", fill_opacity="0.25"),
            element("path", d=path(face), fill="none", stroke="currentColor", stroke_width=2.2),
            written(left + wide / 2.0, 138.0, name, size=13, anchor="middle"),
        ]
    )
