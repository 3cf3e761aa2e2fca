"""A height map as a body seen from the front above: cells in the colours of the map, the farther ones first.

Every row of cells ends where the map does, so that the rim is the sample's and no staircase; below the rim that faces
the eye stands a wall down to a level floor, which makes the face a body. Height is stretched so that the whole range
stands about as tall as a fifth of the map is wide; a bar beside it says how long a micrometre or a part of it is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from lapwright.reports.drawing.colour import ramp_colour
from lapwright.reports.drawing.ink import ENGLISH, Lettering, drawing, element, path, short, table, written
from lapwright.reports.drawing.scale import Scale, round_below

Floats = NDArray[np.float64]

_WIDE, _ROWS, _COLUMNS = 640.0, 36, 36
_SIDE = 430.0  # width of the map when seen straight
_TURN, _TILT = math.radians(24.0), math.radians(38.0)
_RISE, _FLOOR = 92.0, 26.0  # height of the whole range; from the lowest place down to the floor


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
    look = _Look(size=_SIDE / max(across, down), low=low, rise=_RISE / span, middle=(_SIDE / 2.0 + 30.0, 0.0))
    places = [(r, c) for r in range(len(y)) for c in range(x.shape[1]) if np.isfinite(z[r, c])]
    look = replace(look, middle=(look.middle[0], 18.0 - min(look(x[r, c], y[r], z[r, c])[1] for r, c in places)))
    floor = low - _FLOOR / look.rise
    tall = max(look(x[r, c], y[r], floor)[1] for r, c in places) + 30.0
    return drawing(
        _wall(x, y, z, look, floor),
        element("g", *_cells(x, y, z, scale, look), stroke_width=0.7, stroke_linejoin="round"),
        _foot(look(0.0, -down / 2.0, floor), words),
        _height_bar(span, look, lettering),
        title=title,
        desc=desc,
        width=_WIDE,
        height=tall,
        lettering=lettering,
        data=table(
            ("x_mm", "y_mm", "height_um"),
            (
                (x[row, column] * 1e3, y[row] * 1e3, z[row, column]) for row, column in places
            ),
        ),
    )  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _thinned(part: Floats, across: float, down: float) -> tuple[Floats, Floats, Floats]:
    """Places and heights of a coarse grid from the middle of the map: x right (ny, nx), y up (ny,).

    Rows stand closer at the ends of the map; each runs from the first to the last measured place of its row.
    """
    tall, wide = part.shape
    share = 0.5 - 0.5 * np.cos(np.linspace(0.0, math.pi, max(2, min(tall, _ROWS))))
    rows = np.unique(np.round(share * (tall - 1)).astype(int))
    rows = rows[np.isfinite(part[rows]).any(axis=1)]
    steps = np.linspace(0.0, 1.0, max(2, min(wide, _COLUMNS)))
    ends = [np.flatnonzero(np.isfinite(part[row]))[[0, -1]] for row in rows]
    columns = np.array([np.round(first + steps * (last - first)).astype(int) for first, last in ends])
    x = ((columns + 0.5) / wide - 0.5) * across
    y = (0.5 - (rows + 0.5) / tall) * down
    return x, y, part[rows[:, None], columns]


def _cells(x: Floats, y: Floats, z: Floats, scale: Scale, look: _Look) -> list[str]:
    """Cells with three or four measured corners, from the farthest to the nearest; edges in their own colour."""
    found: list[tuple[float, str]] = []
    for row in range(len(y) - 1):
        for column in range(x.shape[1] - 1):
            corners = [(row, column), (row, column + 1), (row + 1, column + 1), (row + 1, column)]
            measured = [(r, c) for r, c in corners if np.isfinite(z[r, c])]
            if len(measured) < 3:
                continue
            points = [look(float(x[r, c]), float(y[r]), float(z[r, c])) for r, c in measured]
            colour = ramp_colour(scale.share(float(np.mean([z[r, c] for r, c in measured]))))
            far = float(x[row, column]) * math.sin(_TURN) + float(y[row]) * math.cos(_TURN)
            found.append((far, element("path", d=path(points, closed=True), fill=colour, stroke=colour)))
    return [cell for _, cell in sorted(found, key=lambda one: -one[0])]


def _wall(x: Floats, y: Floats, z: Floats, look: _Look, floor: float) -> str:
    """The side of the body: from the rim of the face straight down to the floor, behind the face."""
    rim = [(row, 0) for row in range(len(y))] + [(len(y) - 1, column) for column in range(x.shape[1])]
    rim += [(row, x.shape[1] - 1) for row in reversed(range(len(y)))]
    rim += [(0, column) for column in reversed(range(x.shape[1]))]
    edge = [(r, c) for r, c in rim if np.isfinite(z[r, c])]
    sides = []
    for one, then in pairwise(edge):
        a, b = (look(float(x[r, c]), float(y[r]), float(z[r, c])) for r, c in (one, then))
        d, c = (look(float(x[r, c]), float(y[r]), floor) for r, c in (one, then))
        # all pieces run round the same way, so that where two overlap they do not cut each other out
        sides.append(path([a, b, c, d] if b[0] >= a[0] else [b, a, d, c], closed=True))
    return element("path", d="".join(sides), fill="#aab3bb", stroke="#aab3bb", stroke_width=0.8, class_="side")


def _foot(foot: tuple[float, float], words: ReliefWords) -> str:
    """Where the bottom of the map is, which is nearest."""
    x, y = foot
    sign = element("path", d=f"M{short(x)} {short(y + 6.0)}l-5 9h10Z", fill="currentColor")
    return sign + written(x + 10.0, y + 16.0, words.foot, size=14)


def _height_bar(span: float, look: _Look, lettering: Lettering) -> str:
    """An upright of a round height."""
    size = round_below(0.75 * span)
    long = size * look.rise
    x, foot = _SIDE + 118.0, look.middle[1]
    bar = element(
        "path", d=f"M{x - 5} {short(foot)}h10m-5 0V{short(foot - long)}m-5 0h10", fill="none", stroke="currentColor",
        stroke_width=1.6,
    )  # fmt: skip
    text = f"{size:g} µm".replace(".", lettering.decimal)
    return bar + written(x + 12.0, foot - long / 2.0 + 5.0, text, size=15)
