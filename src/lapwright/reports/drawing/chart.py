"""A line, a band and limits over a common axis: the plainest chart that states its units.

Values come in the unit that is printed on the axis. NaN breaks a line. Lines differ by dash as well as by colour and
carry their name at their end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import ShapeMismatch, TooFewSites
from lapwright.reports.drawing.ink import ENGLISH, Lettering, drawing, element, figure, path, table, written
from lapwright.reports.drawing.scale import Scale, even_scale

Floats = NDArray[np.float64]

_LEFT, _TOP, _WIDE, _TALL = 66.0, 40.0, 520.0, 260.0
_RIGHT = 120.0
_DASHES: tuple[tuple[str, str | None], ...] = (
    ("#1f5673", None), ("#6b4a8c", "7 3"), ("#4c7a2f", "2 3"), ("#8a5a00", "9 3 2 3"),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A named line through points, with marks at the points when wanted."""

    x: Floats
    y: Floats
    name: str = ""
    marks: bool = False

    def __post_init__(self) -> None:
        if self.x.shape != self.y.shape:
            raise ShapeMismatch(x=self.x.shape, y=self.y.shape)


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A region between a low and a high line, such as an interval."""

    x: Floats
    low: Floats
    high: Floats
    name: str = ""

    def __post_init__(self) -> None:
        if not self.x.shape == self.low.shape == self.high.shape:
            raise ShapeMismatch(x=self.x.shape, low=self.low.shape, high=self.high.shape)


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A horizontal line across the chart, such as a limit."""

    y: float
    name: str


def line_chart(
    lines: Sequence[Line],
    *,
    x_label: str,
    y_label: str,
    title: str,
    bands: Sequence[Band] = (),
    levels: Sequence[Level] = (),
    lettering: Lettering = ENGLISH,
) -> str:
    """SVG of lines, bands and levels. The labels name the quantity and its unit: ``removed, µm``."""
    xs = _known([line.x for line in lines] + [band.x for band in bands])
    ys = _known(
        [line.y for line in lines]
        + [edge for band in bands for edge in (band.low, band.high)]
        + [np.array([level.y]) for level in levels]
    )
    if xs.size < 1 or ys.size < 1:
        raise TooFewSites("A chart", measured=0, needed=1)
    across = even_scale(float(xs.min()), float(xs.max()), marks=8)
    along = even_scale(float(ys.min()), float(ys.max()), marks=6)
    return drawing(
        written(_LEFT, 20.0, title, size=14, font_weight="bold"),
        _axes(across, along, x_label, y_label, lettering),
        *(_band(band, across, along) for band in bands),
        *(_level(level, along) for level in levels),
        *(_line(i, line, across, along) for i, line in enumerate(lines)),
        *_names(lines, bands, levels, across, along),
        title=title,
        desc=_description(lines, levels, x_label=x_label, y_label=y_label, lettering=lettering),
        width=_LEFT + _WIDE + _RIGHT,
        height=_TOP + _TALL + 52.0,
        lettering=lettering,
        data=table(
            ("line", x_label, y_label),
            ((line.name, x, y) for line in lines for x, y in zip(line.x, line.y, strict=True)),
        ),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _known(arrays: Sequence[Floats]) -> Floats:
    every = np.concatenate([np.empty(0), *(np.ravel(array) for array in arrays)])
    known: Floats = every[np.isfinite(every)]
    return known


def _place(x: float, y: float, across: Scale, along: Scale) -> tuple[float, float]:
    return _LEFT + _WIDE * across.share(x), _TOP + _TALL * (1.0 - along.share(y))


def _axes(across: Scale, along: Scale, x_label: str, y_label: str, lettering: Lettering) -> str:
    parts = []
    for tick in across.ticks:
        x, _ = _place(tick, along.low, across, along)
        parts.append(element("path", d=f"M{x:.1f} {_TOP + _TALL}v5", stroke="currentColor"))
        text = figure(tick, across.decimals, lettering)
        parts.append(written(x, _TOP + _TALL + 19.0, text, size=11.5, anchor="middle"))
    for tick in along.ticks:
        _, y = _place(across.low, tick, across, along)
        grid = {"stroke": "#7b8794", "stroke_width": 0.4, "class_": "faint-line"}
        parts.append(element("path", d=f"M{_LEFT} {y:.1f}h{_WIDE}", **grid))
        parts.append(written(_LEFT - 8.0, y + 4.0, figure(tick, along.decimals, lettering), size=11.5, anchor="end"))
    frame = f"M{_LEFT} {_TOP}v{_TALL}h{_WIDE}"
    parts.append(element("path", d=frame, fill="none", stroke="currentColor", stroke_width=1.2))
    parts.append(written(_LEFT + _WIDE / 2.0, _TOP + _TALL + 40.0, x_label, anchor="middle"))
    middle = f"translate(16 {_TOP + _TALL / 2:.1f}) rotate(-90)"
    parts.append(element("g", written(0.0, 0.0, y_label, anchor="middle"), transform=middle))
    return "".join(parts)


def _band(band: Band, across: Scale, along: Scale) -> str:
    known = np.isfinite(band.x) & np.isfinite(band.low) & np.isfinite(band.high)
    x, low, high = band.x[known], band.low[known], band.high[known]
    if not x.size:
        return ""
    upper = [_place(float(a), float(b), across, along) for a, b in zip(x, high, strict=True)]
    lower = [_place(float(a), float(b), across, along) for a, b in zip(x, low, strict=True)]
    return element("path", d=path(upper + lower[::-1], closed=True), fill="#1f5673", fill_opacity="0.18")


def _level(level: Level, along: Scale) -> str:
    y = _TOP + _TALL * (1.0 - along.share(level.y))
    look = {"stroke": "#a8321a", "stroke_width": 1.2, "stroke_dasharray": "8 3 2 3", "class_": "accent-line"}
    return element("path", d=f"M{_LEFT} {y:.1f}h{_WIDE}", **look)


def _line(number: int, line: Line, across: Scale, along: Scale) -> str:
    colour, dash = _DASHES[number % len(_DASHES)]
    known = np.isfinite(line.x) & np.isfinite(line.y)
    parts = []
    for run in np.split(np.arange(len(line.x)), np.flatnonzero(~known)):
        points = [_place(float(line.x[i]), float(line.y[i]), across, along) for i in run if known[i]]
        if not points:
            continue
        parts.append(
            element("path", d=path(points), fill="none", stroke=colour, stroke_width=2.0, stroke_dasharray=dash)
        )
        if line.marks or len(points) == 1:
            parts += [element("circle", cx=x, cy=y, r=3.0, fill=colour) for x, y in points]
    return element("g", *parts, class_="line")


def _names(
    lines: Sequence[Line], bands: Sequence[Band], levels: Sequence[Level], across: Scale, along: Scale
) -> list[str]:
    """Names at the right ends, pushed apart where they would cover each other."""
    ends = [(_last(line.x, line.y), line.name, _DASHES[i % len(_DASHES)][0]) for i, line in enumerate(lines)]
    ends += [(_last(band.x, band.high), band.name, "#1f5673") for band in bands]
    ends += [((across.high, level.y), level.name, "#a8321a") for level in levels]
    placed = sorted((_place(*end, across, along)[1], name, colour) for end, name, colour in ends if end and name)
    parts, lowest, x = [], 0.0, _LEFT + _WIDE + 8.0
    for end_y, name, colour in placed:
        lowest = max(end_y, lowest + 16.0)
        parts.append(element("rect", x=x, y=lowest - 4.0, width=8.0, height=8.0, fill=colour))
        parts.append(written(x + 13.0, lowest + 4.0, name, size=11))
    return parts


def _last(x: Floats, y: Floats) -> tuple[float, float] | None:
    known = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    return (float(x[known[-1]]), float(y[known[-1]])) if known.size else None


def _description(
    lines: Sequence[Line], levels: Sequence[Level], *, x_label: str, y_label: str, lettering: Lettering
) -> str:
    parts = [f"{y_label} / {x_label}"]
    for line in lines:
        known = line.y[np.isfinite(line.y)]
        if known.size:
            first, last = (figure(float(known[i]), 2, lettering) for i in (0, -1))
            parts.append(f"{line.name}: {first} … {last}".strip(": "))
    parts += [f"{level.name}: {figure(level.y, 2, lettering)}" for level in levels]
    return "; ".join(parts) + "."
