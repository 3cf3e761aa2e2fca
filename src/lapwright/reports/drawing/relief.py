"""A height map as a body seen from the front above: cells in the colours of the map, the farther ones first.

Height is stretched so that the whole range stands about as tall as a fifth of the map is wide; a bar beside it says
how long a micrometre or a part of it is. The dashed outline below is the map's own, on a level floor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lapwright.reports.drawing.colour import ramp_colour
from lapwright.reports.drawing.ink import ENGLISH, INK, Lettering, drawing, element, path, short, table, written
from lapwright.reports.drawing.scale import Scale, round_below

Floats = NDArray[np.float64]

_WIDE, _CELLS = 640.0, 40
_SIDE = 380.0  # width of the map when seen straight
_TURN, _TILT = math.radians(24.0), math.radians(38.0)
_RISE, _FLOOR = 80.0, 30.0  # height of the whole range; from the lowest place down to the floor


@dataclass(frozen=True, slots=True, kw_only=True)
class ReliefWords:
    """The words of this drawing."""

    foot: str = "bottom of the map"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """How places of the map and heights become places of the drawing."""

    size: float
    low: float
    rise: float
    middle: tuple[float, float]

    def __call__(self, x: float, y: float, height: float) -> tuple[float, float]:
        across = x * math.cos(_TURN) - y * math.sin(_TURN)
        deep = x * math.sin(_TURN) + y * math.cos(_TURN)
        up = self.rise * (height - self.low)
        return self.middle[0] + self.size * across, self.middle[1] - self.size * deep * math.sin(_TILT) - up


def relief(
    height: Floats,
    pixel_size: tuple[float, float],
    scale: Scale,
    *,
    title: str,
    desc: str,
    words: ReliefWords = ReliefWords(),
    lettering: Lettering = ENGLISH,
) -> str:
    """SVG of a map [m] with the colours of its scale [µm]; empty where fewer than two places were measured."""
    known = np.isfinite(height)
    if np.count_nonzero(known) < 2:
        return ""
    rows, columns = np.nonzero(known)
    part = height[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1] * 1e6
    down, across = part.shape[0] * pixel_size[0], part.shape[1] * pixel_size[1]
    x, y, z = _thinned(part, across, down)
    low, span = float(np.nanmin(z)), max(float(np.nanmax(z) - np.nanmin(z)), 1e-9)
    look = _Look(size=_SIDE / max(across, down), low=low, rise=_RISE / span, middle=(_SIDE / 2.0 + 34.0, 0.0))
    outline = _outline(np.isfinite(part), across, down)
    top = min(look(x[c], y[r], z[r, c])[1] for r in range(len(y)) for c in range(len(x)) if np.isfinite(z[r, c]))
    look = replace(look, middle=(look.middle[0], 18.0 - top))
    ground = [look(a, b, low - _FLOOR / look.rise) for a, b in outline]
    tall = max(foot for _, foot in ground) + 26.0
    return drawing(
        _floor(ground, look(0.0, -down / 2.0, low - _FLOOR / look.rise), words),
        element("g", *_cells(x, y, z, scale, look), stroke=INK, stroke_width=0.4, stroke_opacity="0.45",
                stroke_linejoin="round"),
        _height_bar(span, look, lettering),
        title=title,
        desc=desc,
        width=_WIDE,
        height=tall,
        lettering=lettering,
        data=table(
            ("x_mm", "y_mm", "height_um"),
            (
                (x[column] * 1e3, y[row] * 1e3, z[row, column])
                for row in range(len(y))
                for column in range(len(x))
                if np.isfinite(z[row, column])
            ),
        ),
    )  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _thinned(part: Floats, across: float, down: float) -> tuple[Floats, Floats, Floats]:
    """Places and heights at the crossings of a coarse grid, from the middle of the map; x right, y up."""
    most = max(part.shape)
    rows, columns = (
        np.unique(np.linspace(0, side - 1, max(2, min(side, round(_CELLS * side / most)))).astype(int))
        for side in part.shape
    )
    x = ((columns + 0.5) / part.shape[1] - 0.5) * across
    y = (0.5 - (rows + 0.5) / part.shape[0]) * down
    return x, y, part[np.ix_(rows, columns)]


def _cells(x: Floats, y: Floats, z: Floats, scale: Scale, look: _Look) -> list[str]:
    """Cells with three or four measured corners, from the farthest to the nearest."""
    found: list[tuple[float, str]] = []
    for row in range(len(y) - 1):
        for column in range(len(x) - 1):
            corners = [(row, column), (row, column + 1), (row + 1, column + 1), (row + 1, column)]
            measured = [(r, c) for r, c in corners if np.isfinite(z[r, c])]
            if len(measured) < 3:
                continue
            points = [look(float(x[c]), float(y[r]), float(z[r, c])) for r, c in measured]
            share = scale.share(float(np.mean([z[r, c] for r, c in measured])))
            far = float(x[column]) * math.sin(_TURN) + float(y[row]) * math.cos(_TURN)
            found.append((far, element("path", d=path(points, closed=True), fill=ramp_colour(share))))
    return [cell for _, cell in sorted(found, key=lambda one: -one[0])]


def _floor(ground: list[tuple[float, float]], foot: tuple[float, float], words: ReliefWords) -> str:
    """The map's outline on the floor, and where its bottom is, which is nearest."""
    edge = element(
        "path", d=path(ground, closed=True), fill="none", stroke="#7b8794", stroke_width=0.9, stroke_dasharray="4 3",
        class_="faint-line",
    )  # fmt: skip
    x, y = foot
    sign = element("path", d=f"M{short(x)} {short(y + 5.0)}l-5 9h10Z", fill="currentColor")
    return edge + sign + written(x + 10.0, y + 14.0, words.foot, size=12)


def _outline(known: NDArray[np.bool_], across: float, down: float) -> list[tuple[float, float]]:
    """Around what was measured: the left ends of some rows downwards, then their right ends upwards."""
    rows = [row for row in np.linspace(0, known.shape[0] - 1, 40).astype(int) if known[row].any()]
    ends = [(row, np.flatnonzero(known[row])) for row in rows]

    def place(row: int, column: float) -> tuple[float, float]:
        return (column / known.shape[1] - 0.5) * across, (0.5 - (row + 0.5) / known.shape[0]) * down

    left = [place(row, float(found[0])) for row, found in ends]
    return left + [place(row, float(found[-1]) + 1.0) for row, found in reversed(ends)]


def _height_bar(span: float, look: _Look, lettering: Lettering) -> str:
    """An upright of a round height."""
    size = round_below(0.75 * span)
    long = size * look.rise
    x, foot = _SIDE + 130.0, look.middle[1]
    bar = element(
        "path", d=f"M{x - 5} {short(foot)}h10m-5 0V{short(foot - long)}m-5 0h10", fill="none", stroke="currentColor",
        stroke_width=1.6,
    )  # fmt: skip
    text = f"{size:g} µm".replace(".", lettering.decimal)
    return bar + written(x + 12.0, foot - long / 2.0 + 4.0, text, size=13)
