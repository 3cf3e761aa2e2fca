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
from lapwright.reports.drawing.isolines import isolines
from lapwright.reports.drawing.raster import colour_picture, grey_picture, veil
from lapwright.reports.drawing.scale import Scale, common_scale, round_below

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

_WIDE, _MAP = 560.0, 400.0
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


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightMap:
    """A map to be drawn: heights and pixel size [m], its name, and sections as (letter, azimuth [rad])."""

    height: Floats
    pixel_size: tuple[float, float]
    name: str = ""
    sections: tuple[tuple[str, float], ...] = ()


def height_maps(maps: Sequence[HeightMap], *, title: str, removed: str, lettering: Lettering = ENGLISH) -> list[str]:
    """Maps on one scale of colours with their lines of equal height, the terms taken out written below.

    A triangle marks the highest place, one on its head the lowest; lines of sections go through the middle.
    """
    scale = common_scale([one.height * 1e6 for one in maps])
    if scale is None:
        return []
    return [_map(one, scale, title=title, removed=removed, lettering=lettering) for one in maps]


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """A section of a face: distance along it and height [m], and its name."""

    distance: Floats
    height: Floats
    name: str


def form_sketch(profiles: Sequence[Profile], *, unsure: bool, title: str, lettering: Lettering = ENGLISH) -> str:
    """Cross-sections as bodies with their faces up, side by side on one scale, with a bar for it.

    With `unsure` nobody knows which of them holds, and a question mark stands between them.
    """
    known = [(one, np.isfinite(one.height)) for one in profiles]
    cut = [(one.distance[ok] * 1e3, one.height[ok] * 1e6, one.name) for one, ok in known]
    cut = [(x[:: max(1, len(x) // 240)], z[:: max(1, len(z) // 240)], name) for x, z, name in cut]
    cut = [(x, z - z.mean() if len(z) else z, name) for x, z, name in cut]
    reach = max([1e-9, *(float(np.abs(z).max()) for _, z, _ in cut if len(z))])
    wide = _WIDE / len(cut)
    parts = [_body(i * wide, wide, x, z / reach, name, lettering) for i, (x, z, name) in enumerate(cut)]
    if unsure:
        parts.append(written(_WIDE / 2.0, 70.0, "?", size=34, anchor="middle", font_weight="bold"))
    parts.append(_upright(_WIDE + 6.0, 60.0, reach, lettering))
    rows = ((name, a, b) for x, z, name in cut for a, b in zip(x, z, strict=True))
    return drawing(*parts, title=title, desc=" / ".join(name for *_, name in cut), width=_WIDE + 90.0, height=172.0,
                   lettering=lettering, data=table(("section", "distance_mm", "height_um"), rows))  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _tall(seen: Seen) -> float:
    rows, columns = seen.intensity.shape
    ratio = 1.0 if seen.pixel_size is None else seen.pixel_size[0] / seen.pixel_size[1]
    return float(round(min(_WIDE * rows * ratio / columns, 1.4 * _WIDE), 1))


def _scale_bar(width: float, tall: float) -> str:
    """A bar of a round length, about a quarter of the picture wide."""
    length = round_below(width / 4.0)
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


def _plate(x: float, y: float, text: str) -> str:
    if not text:
        return ""
    wide = 8.4 * len(text) + 16.0
    ground = element("rect", x=x, y=y, width=wide, height=26.0, fill="#ffffff", fill_opacity="0.88")
    return ground + written(x + 8.0, y + 18.0, text, size=14, fill="#18222c", font_weight="bold")


def _map(one: HeightMap, scale: Scale, *, title: str, removed: str, lettering: Lettering) -> str:
    rows, columns = np.nonzero(np.isfinite(one.height))
    top, bottom, left, right = rows.min(), rows.max() + 1, columns.min(), columns.max() + 1
    part = one.height[top:bottom, left:right] * 1e6
    down, across = part.shape[0] * one.pixel_size[0], part.shape[1] * one.pixel_size[1]
    size = {"wide": _MAP * min(1.0, across / down), "tall": _MAP * min(1.0, down / across)}
    heading = f"{title} {one.name}".strip()
    picture = element(
        "g",
        colour_picture(part, scale, width=size["wide"], height=size["tall"]),
        *(_section_line(letter, azimuth, **size) for letter, azimuth in one.sections),
        isolines(part, scale, **size, crossed=[azimuth for _, azimuth in one.sections], lettering=lettering),
        transform="translate(24 44)",
    )
    foot = 44.0 + max(size["tall"], 180.0)
    return drawing(
        written(8.0, 20.0, heading, size=14, font_weight="bold"),
        picture,
        _key(scale, x=size["wide"] + 66.0, y=62.0, tall=max(size["tall"] - 30.0, 150.0), lettering=lettering),
        _length_bar(24.0, foot + 26.0, size["wide"] / across),
        wrapped(8.0, foot + 58.0, removed, columns=64, size=12),
        title=heading,
        desc=removed,
        width=size["wide"] + 150.0,
        height=foot + 84.0,
        lettering=lettering,
        data=_grid(part, one.pixel_size),
    )


def _section_line(letter: str, azimuth: float, *, wide: float, tall: float) -> str:
    """The line of a section through the middle, with its letter at the end."""
    half = min(wide, tall) / 2.0 + 6.0
    dx, dy = half * math.cos(azimuth), -half * math.sin(azimuth)
    x, y = wide / 2.0, tall / 2.0
    line = f"M{short(x - dx)} {short(y - dy)}L{short(x + dx)} {short(y + dy)}"
    ends = [(x + 1.05 * dx, y + 1.05 * dy + 4.0), (x - 1.05 * dx, y - 1.05 * dy + 4.0)]
    return "".join(
        [
            element("path", d=line, stroke=PAPER, stroke_width=3.0, fill="none", class_="halo"),
            element("path", d=line, stroke="currentColor", stroke_width=1.2, stroke_dasharray="6 4", fill="none"),
            *(written(a, b, letter, size=12.5, anchor="middle", font_weight="bold") for a, b in ends),
        ]
    )


def _length_bar(x: float, y: float, per_metre: float) -> str:
    """A bar of a round length in the plane of the map."""
    length = round_below(_MAP / per_metre / 4.0)
    line = f"M{short(x)} {short(y - 5.0)}v10m0 -5h{short(length * per_metre)}m0 -5v10"
    bar = element("path", d=line, stroke="currentColor", stroke_width=1.6, fill="none")
    return bar + written(x + length * per_metre + 10.0, y + 4.0, f"{length * 1e3:g} mm", size=12)


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
        written(x + 24.0, y + tall * (1.0 - scale.share(tick)) + 4.0, figure(tick, scale.decimals, lettering), size=12)
        for tick in ticks
    ]
    parts.append(written(x, y - 10.0, "µm", size=12))
    return "".join(parts)


def _body(left: float, wide: float, x: Floats, z: Floats, name: str, lettering: Lettering) -> str:
    """One section as a body: its face, its foot, how long it is and its name."""
    if len(x) < 2:
        return written(left + wide / 2.0, 70.0, name, anchor="middle")
    span = max(float(x[-1] - x[0]), 1e-12)
    start, room = left + 24.0, wide - 48.0
    face = [(start + room * float(a - x[0]) / span, 60.0 - 32.0 * float(b)) for a, b in zip(x, z, strict=True)]
    foot = [(face[-1][0], 112.0), (face[0][0], 112.0)]
    size = f"{figure(span, 1, lettering)} mm"
    return "".join(
        [
            element("path", d=path([*face, *foot], closed=True), fill="#7b8794", fill_opacity="0.25"),
            element("path", d=path(face), fill="none", stroke="currentColor", stroke_width=2.2),
            element("path", d=f"M{short(start)} 118v8m0 -4h{short(room)}m0 -4v8", fill="none", stroke="currentColor"),
            written(left + wide / 2.0, 140.0, size, size=12, anchor="middle"),
            written(left + wide / 2.0, 162.0, name, size=13, anchor="middle", font_weight="bold"),
        ]
    )


def _upright(x: float, middle: float, reach: float, lettering: Lettering) -> str:
    """A bar of a round height on the scale of the bodies."""
    size = round_below(reach)
    long = 32.0 * size / reach
    line = f"M{x - 5} {short(middle + long / 2.0)}h10m-5 0v{short(-long)}m-5 0h10"
    text = f"{size:g} µm".replace(".", lettering.decimal)
    return element("path", d=line, fill="none", stroke="currentColor", stroke_width=1.6) + written(
        x + 11.0, middle + 4.0, text, size=12
    )
