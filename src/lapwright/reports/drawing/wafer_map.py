"""The map of a wafer: where it is thick, where thin, and by how much.

Outline to scale with its orientation mark, colour between the sites, the value written at each site, an arrow to the
thickest edge, a scale with its unit. A site that was not measured is an open ring. Where labels would cover each
other only those that fit are written, the extremes first, and the drawing says how many.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.model.wafer import Outline, Round, ThicknessMap, Wedge
from lapwright.reports.drawing import rim
from lapwright.reports.drawing.colour import ramp_colour
from lapwright.reports.drawing.ink import (
    ENGLISH,
    Lettering,
    clean,
    clock_hour,
    drawing,
    element,
    figure,
    own_id,
    path,
    polygon,
    table,
    written,
)
from lapwright.reports.drawing.scale import Scale, common_scale, even_scale
from lapwright.reports.drawing.surface import hull, surface_through

_PLOT = 300.0  # longer side of the piece on paper
_LEFT, _TOP = 34.0, 52.0
_WIDTH = _LEFT + _PLOT + 108.0
_LEAST_TALL = 200.0  # room for the colour scale
_FEW_SITES, _COARSE, _FINE = 25, 41, 61  # cells a side: more would not show through few sites
_LEAST_LETTERS = 9.5
_Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """From the wafer frame [m] to the paper: y turned over, one scale for both directions."""

    scale: float
    middle_x: float
    middle_y: float
    tall: float

    def __call__(self, x: float, y: float) -> tuple[float, float]:
        return self.middle_x + x * self.scale, self.middle_y - y * self.scale

    def many(self, points: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The same for points of shape (n, 2)."""
        return self.middle_x + points[:, 0] * self.scale, self.middle_y - points[:, 1] * self.scale


def map_scale(*maps: ThicknessMap) -> Scale | None:
    """The common scale, in µm, of maps that are to be compared; None when none has a measured site."""
    return common_scale([one.thickness * 1e6 for one in maps], least_step=0.01)


def matched_scales(*maps: ThicknessMap) -> tuple[Scale | None, ...]:
    """One scale a map, in µm, so that the maps can be compared by eye.

    Where the maps lie together they share one scale. Where they lie apart, such as before and after a thinning, each
    has its own start but all have the same steps and the same width: equal colour steps are equal micrometres.
    """
    known = [one.thickness[np.isfinite(one.thickness)] * 1e6 for one in maps]
    spans = [float(values.max() - values.min()) if values.size else 0.0 for values in known]
    common = map_scale(*maps)
    if common is None:
        return tuple(None for _ in maps)
    every = np.concatenate(known)
    if float(every.max() - every.min()) <= 2.0 * max(spans):
        return tuple(common if values.size else None for values in known)
    widest = even_scale(0.0, max(spans), marks=9, least_step=0.01)
    steps = len(widest.ticks)  # one more than it has, so that any start on a whole step still holds the span
    return tuple(_scale_around(values, widest.step, steps) if values.size else None for values in known)


def wafer_map(
    site_map: ThicknessMap,
    outline: Outline,
    *,
    heading: str = "",
    scale: Scale | None = None,
    wedge: Wedge | None = None,
    edge_exclusion: float = 0.0,
    notes: Sequence[str] | None = None,
    lettering: Lettering = ENGLISH,
) -> str:
    """SVG of a thickness map, as text.

    Parameters
    ----------
    site_map : ThicknessMap
        Sites [m] and values [m]; NaN = not measured.
    outline : Outline
        The rim of the piece, drawn to scale.
    heading : str
        The line above the map.
    scale : Scale, optional
        Colour scale in µm; from `map_scale` over all maps that are to be compared. By default the map's own.
    wedge : Wedge, optional
        Drawn as an arrow to the thickest edge and written below.
    edge_exclusion : float [m]
        Drawn as a dashed line; no colour outside it.
    notes : sequence of str, optional
        Lines below the map. By default size, wedge and the number of sites not measured.
    lettering : Lettering
        Words and decimal sign.

    Raises
    ------
    ShapeMismatch
        Sites and values differ in number.
    OutOfValidRange
        A value lies outside the scale that was given: it would have no colour.

    """
    x, y, value = site_map.x, site_map.y, site_map.thickness * 1e6
    if not x.shape == y.shape == value.shape:
        raise ShapeMismatch(x=x.shape, y=y.shape, thickness=value.shape)
    scale = scale or map_scale(site_map)
    _need_on_scale(value, scale)
    frame = _frame(outline)
    lines = _legend_lines(value, wedge, outline, lettering) if notes is None else list(notes)
    texts, shown = _values(frame, site_map, scale, lettering)
    if 0 < shown < int(np.isfinite(value).sum()):
        lines.append(lettering.values_shown.format(shown=shown, all=int(np.isfinite(value).sum())))
    bottom = _TOP + frame.tall + 40.0
    return drawing(
        written(_LEFT, 22.0, heading, size=15, font_weight="bold") if heading else "",
        _ground(frame, site_map, outline, scale, edge_exclusion),
        texts,
        _wedge_arrow(frame, outline, wedge),
        _colour_scale(frame, scale, lettering),
        *(written(_LEFT, bottom + 17.0 * i, line, size=12) for i, line in enumerate(lines)),
        title=heading or lettering.wafer_map,
        desc=_description(site_map, lines, lettering),
        width=_WIDTH,
        height=bottom + 17.0 * len(lines) + 2.0,
        lettering=lettering,
        data=table(("site", "x_mm", "y_mm", "value_um"), zip(site_map.labels, x * 1e3, y * 1e3, value, strict=False)),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _scale_around(values: NDArray[np.float64], step: float, steps: int) -> Scale:
    """So many steps, begun at a whole step, with the values in the middle."""
    middle = (float(values.min()) + float(values.max())) / 2.0
    first = round(middle / step - steps / 2.0)
    first = min(first, math.floor(float(values.min()) / step + 1e-9))
    first = max(first, math.ceil(float(values.max()) / step - 1e-9) - steps)
    return Scale(low=first * step, high=(first + steps) * step, step=step)


def _need_on_scale(value: NDArray[np.float64], scale: Scale | None) -> None:
    known = value[np.isfinite(value)]
    if scale is None or not known.size:
        return
    dust = 1e-9 * scale.step
    for extreme in (float(known.min()), float(known.max())):
        if not scale.low - dust <= extreme <= scale.high + dust:
            raise OutOfValidRange(
                "mapped value in µm", extreme, f"{scale.low:g} to {scale.high:g}", "Take the scale over all maps shown."
            )


@lru_cache(maxsize=64)
def _frame(outline: Outline) -> _Frame:
    low_x, low_y, high_x, high_y = rim.reach(outline)
    scale = _PLOT / max(high_x - low_x, high_y - low_y)
    tall = max((high_y - low_y) * scale, _LEAST_TALL)
    return _Frame(
        scale=scale,
        middle_x=_LEFT + _PLOT / 2.0 - (low_x + high_x) / 2.0 * scale,
        middle_y=_TOP + tall / 2.0 + (low_y + high_y) / 2.0 * scale,
        tall=tall,
    )


def _ground(frame: _Frame, site_map: ThicknessMap, outline: Outline, scale: Scale | None, edge_exclusion: float) -> str:
    """Paper, colour between the sites, dashed edge exclusion, rim."""
    edge, inner = _rims(frame, outline, edge_exclusion)
    parts = [element("path", d=edge, class_="wafer", fill="#f4f6f8")]
    if scale is not None:
        parts.append(_colours(frame, site_map, scale, inner or edge))
    if edge_exclusion > 0.0 and inner:
        parts.append(
            element(
                "path", d=inner, fill="none", stroke="#7b8794", stroke_width=0.9, stroke_dasharray="4 3",
                class_="faint-line",
            )
        )  # fmt: skip
    parts.append(element("path", d=edge, fill="none", stroke="currentColor", stroke_width=1.6))
    return "".join(parts)


@lru_cache(maxsize=64)  # a page draws the same piece several times
def _rims(frame: _Frame, outline: Outline, edge_exclusion: float) -> tuple[str, str]:
    """Path data of the rim, and of the rim of what counts; "" where nothing does."""
    edge = path((frame(*corner) for corner in rim.rim(outline)), closed=True)
    inside = rim.inner_rim(outline, edge_exclusion)
    return edge, path((frame(*corner) for corner in inside), closed=True) if inside else ""


def _colours(frame: _Frame, site_map: ThicknessMap, scale: Scale, inner: str) -> str:
    """Bands of colour laid over each other from the lowest up, so that no seam shows."""
    import contourpy

    known = np.isfinite(site_map.thickness)
    x, y = site_map.x[known], site_map.y[known]
    surface = surface_through(x, y, site_map.thickness[known] * 1e6)
    if surface is None:
        return ""
    cells = _COARSE if len(x) <= _FEW_SITES else _FINE
    across = np.linspace(x.min(), x.max(), cells)
    along = np.linspace(y.min(), y.max(), cells)
    height = surface.at(*np.meshgrid(across, along))
    bands = contourpy.contour_generator(across, along, height, fill_type="OuterOffset")
    around = path((frame(*corner) for corner in hull(x, y)), closed=True)
    # named after the values, too: a browser clips nothing by what stands in a folded part of its page
    told = (around, inner, site_map.thickness.tobytes())
    hull_id, inner_id = own_id("sites", *told), own_id("inside", *told)
    return "".join([
        element("clipPath", element("path", d=around), id=hull_id),
        element("clipPath", element("path", d=inner), id=inner_id),
        element(
            "g",
            element("g", *_band_paths(frame, bands, scale), clip_path=f"url(#{hull_id})"),
            clip_path=f"url(#{inner_id})", class_="colours",
        ),
    ])  # fmt: skip


def _band_paths(frame: _Frame, bands: object, scale: Scale) -> list[str]:
    ticks = scale.ticks
    parts = []
    for i, low in enumerate(ticks[:-1]):
        polygons, offsets = bands.filled(-np.inf if i == 0 else low, np.inf)  # type: ignore[attr-defined]
        data = "".join(
            polygon(*frame.many(points[start:end]))
            for points, cuts in zip(polygons, offsets, strict=True)
            for start, end in pairwise(cuts)
        )
        if data:
            parts.append(element("path", d=data, fill=_band_colour(i, len(ticks) - 1), fill_rule="evenodd"))
    return parts


def _band_colour(band: int, bands: int) -> str:
    return ramp_colour((band + 0.5) / bands)


def _values(frame: _Frame, site_map: ThicknessMap, scale: Scale | None, lettering: Lettering) -> tuple[str, int]:
    """Marks at all sites, and the values that fit; how many were written."""
    decimals = min(max(2, scale.decimals if scale else 2), 3)
    places = [frame(float(x), float(y)) for x, y in zip(site_map.x, site_map.y, strict=True)]
    size = _letter_size(places)
    crowded = size <= _LEAST_LETTERS
    marks, labels = [], []
    taken: list[_Box] = []
    for i in _most_telling_first(site_map.thickness):
        value = float(site_map.thickness[i]) * 1e6
        marks.append(_mark(places[i], size, measured=math.isfinite(value)))
        if math.isfinite(value):
            text = figure(value, decimals, lettering)
            box, anchor = _label_box(frame, places[i], text, size)
            if not any(_overlap(box, other, apart=1.6 * size if crowded else 0.0) for other in taken):
                taken.append(box)
                labels.append(_on_map(box, text, size=size, anchor=anchor))
    return "".join(marks + labels), len(labels)


def _mark(place: tuple[float, float], size: float, *, measured: bool) -> str:
    if measured:
        return element("circle", cx=place[0], cy=place[1], r=1.7, fill="#10181f", stroke="#ffffff", stroke_width=0.7)
    ring = {"cx": place[0], "cy": place[1], "r": 0.38 * size, "fill": "none"}
    return element("circle", **ring, stroke="#ffffff", stroke_width=3.2) + element(
        "circle", **ring, stroke="#10181f", stroke_width=1.3, class_="not-measured"
    )


def _letter_size(places: list[tuple[float, float]]) -> float:
    """Letters as large as the crowding allows, never below what can be read in print."""
    if len(places) < 2:
        return 13.0
    points = np.array(places)
    apart = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    apart[apart == 0.0] = np.inf
    return float(np.clip(np.median(apart.min(axis=1)) / 3.6, _LEAST_LETTERS, 13.0))


def _most_telling_first(value: NDArray[np.float64]) -> list[int]:
    """Thickest, thinnest, then in the order read; the unmeasured last."""
    order = list(range(len(value)))
    if np.isfinite(value).any():
        extremes = [int(np.nanargmax(value)), int(np.nanargmin(value))]
        order = extremes + [i for i in order if i not in extremes]
    return list(dict.fromkeys(order))


def _on_map(box: _Box, text: str, *, size: float, anchor: str) -> str:
    x = {"start": box[0], "middle": (box[0] + box[2]) / 2.0, "end": box[2]}[anchor]
    return element(
        "text", clean(text), x=x, y=box[3] - 0.22 * size, font_size=size, text_anchor=anchor, fill="#10181f",
        stroke="#ffffff", stroke_width=2.6, stroke_linejoin="round", paint_order="stroke", class_="on-map",
    )  # fmt: skip


def _label_box(frame: _Frame, place: tuple[float, float], text: str, size: float) -> tuple[_Box, str]:
    """Left, top, right, bottom of a value, and its anchor: below its mark, near the rim on the inner side."""
    x, y = place
    wide, tall, gap = 0.62 * size * len(text), 1.15 * size, 4.0
    out_x, out_y = (x - _LEFT - _PLOT / 2.0) / (_PLOT / 2.0), (y - _TOP - frame.tall / 2.0) / (frame.tall / 2.0)
    if abs(out_x) > 0.62:
        left = x - gap - wide if out_x > 0.0 else x + gap
        return (left, y - tall / 2.0, left + wide, y + tall / 2.0), "end" if out_x > 0.0 else "start"
    top = y - gap - tall if out_y > 0.62 else y + gap
    return (x - wide / 2.0, top, x + wide / 2.0, top + tall), "middle"


def _overlap(a: _Box, b: _Box, *, apart: float) -> bool:
    return a[0] < b[2] + apart and b[0] < a[2] + apart and a[1] < b[3] + apart and b[1] < a[3] + apart


def _wedge_arrow(frame: _Frame, outline: Outline, wedge: Wedge | None) -> str:
    """An arrow outside the rim, pointing away from the centre at the thickest edge."""
    if wedge is None or wedge.azimuth is None:
        return ""
    along = (math.cos(wedge.azimuth), math.sin(wedge.azimuth))
    corners = np.array(rim.rim(outline))
    edge = float((corners @ np.array(along)).max()) if isinstance(outline, Round) else _rim_distance(corners, along)
    x, y = frame(edge * along[0], edge * along[1])
    turn = f"translate({x:.1f} {y:.1f}) rotate({-math.degrees(wedge.azimuth):.1f})"
    shape = element("path", d="M5 0H24M15 -8L26 0L15 8", fill="none", stroke=
        "#a8321a", stroke_width=3.2, stroke_linecap="round", stroke_linejoin="round", class_="accent-line")  # fmt: skip
    return element("g", shape, transform=turn, class_="wedge")


def _rim_distance(corners: NDArray[np.float64], along: tuple[float, float]) -> float:
    """How far the rim of a piece with corners lies in a direction: the farthest crossing of the ray."""
    ends = np.roll(corners, -1, axis=0)
    best = 0.0
    for (ax, ay), (bx, by) in zip(corners, ends, strict=True):
        side_a, side_b = along[0] * ay - along[1] * ax, along[0] * by - along[1] * bx
        if side_a * side_b <= 0.0 and side_a != side_b:
            t = side_a / (side_a - side_b)
            best = max(best, along[0] * (ax + t * (bx - ax)) + along[1] * (ay + t * (by - ay)))
    return best


def _colour_scale(frame: _Frame, scale: Scale | None, lettering: Lettering) -> str:
    if scale is None:
        return ""
    x, tall = _LEFT + _PLOT + 44.0, frame.tall - 24.0
    top, bands = _TOP + 24.0, len(scale.ticks) - 1
    parts = [written(x, top - 12.0, "µm", size=12)]
    for i in range(bands):
        y = top + tall * (1.0 - (i + 1) / bands)
        parts.append(element("rect", x=x, y=y, width=16, height=tall / bands + 0.3, fill=_band_colour(i, bands)))
    parts.append(
        element("rect", x=x, y=top, width=16, height=tall, fill="none", stroke="currentColor", stroke_width=0.8)
    )
    for tick in scale.ticks[:: 1 + (bands - 1) // max(4, round(tall / 14.0))]:
        y = top + tall * (1.0 - scale.share(tick))
        parts.append(element("path", d=f"M{x + 16:.1f} {y:.1f}h4", stroke="currentColor", stroke_width=0.8))
        parts.append(written(x + 23.0, y + 4.0, figure(tick, scale.decimals, lettering), size=11.5))
    return element("g", *parts, class_="scale")


def _legend_lines(value: NDArray[np.float64], wedge: Wedge | None, outline: Outline, lettering: Lettering) -> list[str]:
    lines = [f"{_dimensions(outline, lettering)} · {lettering.worked_face}"]
    if wedge is not None:
        lines.append(
            f"{lettering.wedge} {figure(wedge.amount * 1e6, 2, lettering)} µm · {_direction(wedge, lettering)}"
        )
    missing = int(np.isnan(value).sum())
    if missing:
        lines.append(f"○ {lettering.not_measured}: {missing}")
    return lines


def _dimensions(outline: Outline, lettering: Lettering) -> str:
    if isinstance(outline, Round):
        return f"⌀ {figure(outline.diameter * 1e3, 1, lettering)} mm"
    low_x, low_y, high_x, high_y = rim.reach(outline)
    return f"{figure((high_x - low_x) * 1e3, 1, lettering)} × {figure((high_y - low_y) * 1e3, 1, lettering)} mm"


def _direction(wedge: Wedge, lettering: Lettering) -> str:
    if wedge.azimuth is None:
        return lettering.no_direction
    degrees = math.degrees(wedge.azimuth) % 360.0
    return f"{lettering.thickest} {clock_hour(degrees)} {lettering.o_clock} ({round(degrees) % 360}°)"


def _description(site_map: ThicknessMap, lines: list[str], lettering: Lettering) -> str:
    """The drawing in words, for those who hear it read; a long list of sites is left to the table."""
    labels = site_map.labels or tuple(str(i + 1) for i in range(len(site_map.x)))
    sites = ""
    if len(labels) <= 25:
        pairs = zip(labels, site_map.thickness, strict=True)
        sites = "; ".join(f"{lettering.site} {label}: {figure(float(t) * 1e6, 2, lettering)} µm" for label, t in pairs)
    return ". ".join([*lines, lettering.only_between, *([sites] if sites else [])]) + "."
