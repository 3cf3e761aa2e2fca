"""Lines of equal height over a map of pixels, each named once, and its highest and lowest place."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from lapwright.reports.drawing.ink import INK, PAPER, Lettering, element, figure, path, written
from lapwright.reports.drawing.raster import thinned
from lapwright.reports.drawing.scale import Scale

Floats = NDArray[np.float64]

_SIDE = 90  # places a side between which a line is drawn; more is not seen
_LEAST = 34.0  # length of a line that gets its name
_EDGE = 20.0  # a name keeps this far from the border
_CLEAR = 17.0  # and this far from other lines and names


def isolines(
    values: Floats,
    scale: Scale,
    *,
    wide: float,
    tall: float,
    crossed: Sequence[float] = (),
    lettering: Lettering,
) -> str:
    """Lines at the marks of the scale over a picture, the longest of each height with its value; and the extremes.

    The picture is `wide` by `tall`. Values keep clear of each other and of lines through the middle at the azimuths
    `crossed` [rad]. A triangle marks the highest place, one on its head the lowest.
    """
    import contourpy

    size = (wide, tall)
    marks, taken = _extremes(values, size, scale.decimals, lettering)
    step = max(1, -(-max(values.shape) // _SIDE))
    rough = np.ma.masked_invalid(np.asarray(thinned(values, step), dtype=np.float64))
    if min(rough.shape) < 2:
        return marks
    across = (np.arange(rough.shape[1]) + 0.5) * wide / rough.shape[1]
    down = (np.arange(rough.shape[0]) + 0.5) * tall / rough.shape[0]
    drawn = contourpy.contour_generator(across, down, rough)
    lines, names = [], []
    for tick in scale.ticks:
        found = [np.asarray(one, dtype=np.float64) for one in drawn.lines(tick) if len(one) > 1]
        lines += [path(map(tuple, one.tolist())) for one in found]
        place = _room_on(max(found, key=_length), size, crossed, taken) if found else None
        if place is not None:
            taken.append(place)
            text = figure(tick, scale.decimals, lettering)
            names.append(_over_map(place[0], place[1] + 4.0, text, size=11.0, anchor="middle"))
    thin = element("path", d="".join(lines), fill="none", stroke=INK, stroke_width=0.7, stroke_opacity="0.65")
    return element("g", thin, *names, class_="isolines") + marks


# ----------------------------------------------------------------------------------------------------------------------


def _extremes(
    values: Floats, size: tuple[float, float], decimals: int, lettering: Lettering
) -> tuple[str, list[tuple[float, float]]]:
    """Marks and values of the highest and the lowest place, and where their letters stand."""
    parts, taken = [], []
    for place, sign in ((np.nanargmax(values), 1.0), (np.nanargmin(values), -1.0)):
        row, column = np.unravel_index(place, values.shape)
        x, y = (column + 0.5) * size[0] / values.shape[1], (row + 0.5) * size[1] / values.shape[0]
        corners = [(x - 5.0, y + 4.0 * sign), (x + 5.0, y + 4.0 * sign), (x, y - 5.0 * sign)]
        parts.append(element("path", d=path(corners, closed=True), fill=INK, stroke=PAPER, stroke_width=1.2))
        text = figure(float(values[row, column]), decimals, lettering)
        left = x + 7.2 * len(text) + 8.0 > size[0]
        foot = min(max(y + 4.0, 12.0), size[1] - 4.0)
        parts.append(_over_map(x - 8.0 if left else x + 8.0, foot, text, anchor="end" if left else None))
        taken.append((x + (-26.0 if left else 26.0), foot - 4.0))
    return element("g", *parts, class_="extremes"), taken


def _length(line: Floats) -> float:
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def _room_on(
    line: Floats, size: tuple[float, float], crossed: Sequence[float], taken: list[tuple[float, float]]
) -> tuple[float, float] | None:
    """A place on a line for its value, near its middle; None where it is too short or everything is taken."""
    if _length(line) < _LEAST:
        return None
    for share in (0.5, 0.38, 0.62, 0.26, 0.74, 0.14, 0.86):
        x, y = (float(at) for at in line[round(share * (len(line) - 1))])
        inside = all(_EDGE < at < room - _EDGE for at, room in zip((x, y), size, strict=True))
        dx, dy = x - size[0] / 2.0, y - size[1] / 2.0
        clear = all(abs(dx * math.sin(one) + dy * math.cos(one)) > _CLEAR for one in crossed)
        apart = all(abs(x - a) > 2.0 * _CLEAR or abs(y - b) > _CLEAR for a, b in taken)
        if inside and clear and apart:
            return x, y
    return None


def _over_map(x: float, y: float, text: str, *, size: float = 12.0, anchor: str | None = None) -> str:
    """Letters with a rim of paper, to be read on any colour."""
    return written(
        x, y, text, size=size, anchor=anchor, fill=INK, class_="on-colour", stroke=PAPER,
        stroke_width=3.0, stroke_opacity="0.8", paint_order="stroke", font_weight=None if size < 12.0 else "bold",
    )  # fmt: skip
