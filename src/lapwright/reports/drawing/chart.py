"""A line, a band and limits over a common axis: the plainest chart that states its units.

Values come in the unit that is printed on the axis. NaN breaks a line. Lines differ by dash as well as by colour and
carry their name at their end, each with a piece of the line itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import ShapeMismatch, TooFewSites
from lapwright.reports.drawing.ink import ENGLISH, Lettering, drawing, element, figure, path, spread, table, written
from lapwright.reports.drawing.scale import Scale, even_scale

Floats = NDArray[np.float64]

_TOP, _WIDE, _TALL = 40.0, 560.0, 230.0
_TALL_ALONE = 130.0  # of one line without a name, a trace along a length: it is read beside others like it
_DIGIT, _LETTER = 7.4, 6.6  # widths of a digit of the marks and of a letter of a name
_KEY = 26.0  # length of the piece of a line beside its name
_DASHES: tuple[tuple[str, str | None], ...] = (
    ("#1f5673", None), ("#6b4a8c", "7 3"), ("#4c7a2f", "2 3"), ("#8a5a00", "9 3 2 3"),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A named line through points, with marks at the points when wanted, or the marks alone."""

    x: Floats
    y: Floats
    name: str = ""
    marks: bool = False
    joined: bool = True

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A part of the axis across that is meant, such as the length evaluated."""

    start: float
    end: float
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """Where the plotted field stands, and its scales."""

    across: Scale
    along: Scale
    left: float
    tall: float

    def place(self, x: float, y: float) -> tuple[float, float]:
        return self.left + _WIDE * self.across.share(x), _TOP + self.tall * (1.0 - self.along.share(y))

    @property
    def right(self) -> float:
        return self.left + _WIDE

    @property
    def foot(self) -> float:
        return _TOP + self.tall


def line_chart(
    lines: Sequence[Line],
    *,
    x_label: str,
    y_label: str,
    title: str,
    bands: Sequence[Band] = (),
    levels: Sequence[Level] = (),
    stretch: Stretch | None = None,
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
    tall = _TALL_ALONE if len(lines) == 1 and not (lines[0].name or bands or levels) else _TALL
    across = even_scale(float(xs.min()), float(xs.max()), marks=8)
    along = even_scale(float(ys.min()), float(ys.max()), marks=6 if tall > 150.0 else 4)
    marks = max(len(figure(tick, along.decimals, lettering)) for tick in along.ticks)
    frame = _Frame(across=across, along=along, left=34.0 + _DIGIT * marks, tall=tall)
    names, beside = _names(lines, bands, levels, frame)
    return drawing(
        written(frame.left, 17.0, title, size=14, font_weight="bold"),
        _stretch(stretch, frame),
        _axes(frame, x_label, y_label, lettering),
        *(_band(band, frame) for band in bands),
        *(_level(level, frame) for level in levels),
        *(_line(i, line, frame) for i, line in enumerate(lines)),
        *names,
        title=title,
        desc=_description(lines, levels, x_label=x_label, y_label=y_label, lettering=lettering),
        width=frame.right + max(beside, _DIGIT * 4.0),
        height=frame.foot + 52.0,
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


def _axes(frame: _Frame, x_label: str, y_label: str, lettering: Lettering) -> str:
    parts = []
    for tick in frame.across.ticks:
        x, _ = frame.place(tick, frame.along.low)
        parts.append(element("path", d=f"M{x:.1f} {frame.foot}v5", stroke="currentColor"))
        text = figure(tick, frame.across.decimals, lettering)
        parts.append(written(x, frame.foot + 19.0, text, size=12, anchor="middle"))
    for tick in frame.along.ticks:
        _, y = frame.place(frame.across.low, tick)
        grid = {"stroke": "#7b8794", "stroke_width": 0.4, "class_": "faint-line"}
        parts.append(element("path", d=f"M{frame.left:.1f} {y:.1f}h{_WIDE}", **grid))
        text = figure(tick, frame.along.decimals, lettering)
        parts.append(written(frame.left - 8.0, y + 4.0, text, size=12, anchor="end"))
    edge = f"M{frame.left:.1f} {_TOP}v{frame.tall}h{_WIDE}"
    parts.append(element("path", d=edge, fill="none", stroke="currentColor", stroke_width=1.2))
    parts.append(written(frame.left + _WIDE / 2.0, frame.foot + 42.0, x_label, size=12.5, anchor="middle"))
    middle = f"translate(14 {_TOP + frame.tall / 2:.1f}) rotate(-90)"
    parts.append(element("g", written(0.0, 0.0, y_label, size=12.5, anchor="middle"), transform=middle))
    return "".join(parts)


def _stretch(stretch: Stretch | None, frame: _Frame) -> str:
    """The part that is meant: a ground, two uprights and its name in the head."""
    if stretch is None:
        return ""
    start, end = (frame.place(x, frame.along.low)[0] for x in (stretch.start, stretch.end))
    look = {"fill": "#7b8794", "fill_opacity": "0.16"}
    ground = element("rect", x=start, y=_TOP, width=end - start, height=frame.tall, **look)
    edges = element(
        "path", d=f"M{start:.1f} {_TOP}V{frame.foot}M{end:.1f} {_TOP}V{frame.foot}", stroke="currentColor",
        stroke_width=0.8, stroke_dasharray="3 3",
    )  # fmt: skip
    return ground + edges + written((start + end) / 2.0, _TOP - 5.0, stretch.name, size=12, anchor="middle")


def _band(band: Band, frame: _Frame) -> str:
    known = np.isfinite(band.x) & np.isfinite(band.low) & np.isfinite(band.high)
    x, low, high = band.x[known], band.low[known], band.high[known]
    if not x.size:
        return ""
    upper = [frame.place(float(a), float(b)) for a, b in zip(x, high, strict=True)]
    lower = [frame.place(float(a), float(b)) for a, b in zip(x, low, strict=True)]
    return element("path", d=path(upper + lower[::-1], closed=True), **_BAND_LOOK)


_BAND_LOOK = {"fill": "#1f5673", "fill_opacity": "0.18", "class_": "band"}
_LEVEL_LOOK = {"stroke": "#a8321a", "stroke_width": 1.2, "stroke_dasharray": "8 3 2 3", "class_": "accent-line"}


def _level(level: Level, frame: _Frame) -> str:
    _, y = frame.place(frame.across.low, level.y)
    return element("path", d=f"M{frame.left:.1f} {y:.1f}h{_WIDE}", **_LEVEL_LOOK)


def _line(number: int, line: Line, frame: _Frame) -> str:
    colour, dash = _DASHES[number % len(_DASHES)]
    known = np.isfinite(line.x) & np.isfinite(line.y)
    parts = []
    for run in np.split(np.arange(len(line.x)), np.flatnonzero(~known)):
        points = [frame.place(float(line.x[i]), float(line.y[i])) for i in run if known[i]]
        if not points:
            continue
        if line.joined:
            parts.append(
                element("path", d=path(points), fill="none", stroke=colour, stroke_width=2.0, stroke_dasharray=dash)
            )
        if line.marks or not line.joined or len(points) == 1:
            parts += [_mark(number, x, y, colour) for x, y in points]
    return element("g", *parts, class_="line")


def _mark(number: int, x: float, y: float, colour: str) -> str:
    """A point of a line: round, square, lying on a corner, or a ring, so that no colour is needed to tell."""
    kind = number % len(_DASHES)
    if kind == 1:
        return element("rect", x=x - 3.2, y=y - 3.2, width=6.4, height=6.4, fill=colour)
    if kind == 2:
        return element("path", d=f"M{x:.1f} {y - 4.4:.1f}l4.4 4.4l-4.4 4.4l-4.4 -4.4Z", fill=colour)
    return element("circle", cx=x, cy=y, r=3.2, fill=colour if kind == 0 else "none", stroke=colour)


def _names(
    lines: Sequence[Line], bands: Sequence[Band], levels: Sequence[Level], frame: _Frame
) -> tuple[list[str], float]:
    """Names at the right ends, pushed apart where they would cover each other; and the room that they take."""
    x = frame.right + 10.0
    ends = [(_last(line.x, line.y), line.name, _line_key(i, line, x)) for i, line in enumerate(lines)]
    ends += [(_last(band.x, band.high), band.name, element("rect", x=x, y=-5.0, width=_KEY, height=10.0, **_BAND_LOOK))
             for band in bands]  # fmt: skip
    ends += [
        ((frame.across.high, level.y), level.name, element("path", d=f"M{x:.1f} 0h{_KEY}", **_LEVEL_LOOK))
        for level in levels
    ]
    placed = sorted((frame.place(*end)[1], name, key) for end, name, key in ends if end and name)
    heights = spread([y for y, _, _ in placed], gap=17.0, least=_TOP + 6.0, most=frame.foot - 2.0)
    parts = [
        element("g", key, written(x + _KEY + 6.0, 4.0, name, size=12), transform=f"translate(0 {y:.1f})")
        for y, (_, name, key) in zip(heights, placed, strict=True)
    ]
    return parts, max((10.0 + _KEY + 12.0 + _LETTER * len(name) for _, name, _ in placed), default=0.0)


def _line_key(number: int, line: Line, x: float) -> str:
    """A piece of the line as it is drawn, with its mark where it has any."""
    colour, dash = _DASHES[number % len(_DASHES)]
    run = element("path", d=f"M{x:.1f} 0h{_KEY}", stroke=colour, stroke_width=2.0, stroke_dasharray=dash)
    mark = _mark(number, x + _KEY / 2.0, 0.0, colour) if line.marks or not line.joined else ""
    return element("g", (run if line.joined else "") + mark, class_="line")


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
