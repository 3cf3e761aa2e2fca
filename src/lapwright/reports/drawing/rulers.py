"""Routes side by side: by which stages each gets from the incoming thickness to the target, how long, how surely.

One ruler a route, all on one thickness scale: each stage is a length of material, coloured and hatched by its kind
and numbered; the piece that remains is the last length. Where the stages after the first big one are too short to be
seen there, the end of each ruler stands below it once more, enlarged, again on one scale for all. A red layer at each
new face is the damage under it. Time and the chance of ending inside every limit stand beside the ruler, the stages
in words below it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

from lapwright.errors import TooFewSites
from lapwright.model.plan import Plan, Stage, StageKind
from lapwright.reports.drawing.ink import (
    ENGLISH,
    Lettering,
    drawing,
    element,
    figure,
    hatch,
    own_id,
    table,
    wrapped,
    written,
)
from lapwright.reports.drawing.scale import Scale, even_scale

_LEFT, _LONG, _BAR, _THIN = 24.0, 560.0, 34.0, 22.0
_BESIDE = 190.0
_BETWEEN = 16.0  # from a ruler down to its enlarged end
_HEADING_COLUMNS, _HEADING_LINE = 68, 17.0
_BULK, _CROWDED = 0.4, 0.2  # a stage that takes so much is big; ends shorter than that share are enlarged
#: Ground and hatching of each kind of stage: angle of the lines, gap between them; None = plain.
_LOOKS: dict[StageKind, tuple[str, tuple[int, float] | None]] = {
    "lap": ("#b9cde0", (45, 7.0)),
    "polish": ("#e8cf9a", (0, 5.0)),
    "etch": ("#cfe3c4", (90, 6.0)),
    "measure": ("#ffffff", None),
    "clean": ("#ffffff", None),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RulerWords:
    """The words of this drawing."""

    title: str = "Routes side by side"
    remains: str = "remains"
    hours: str = "h"
    minutes: str = "min"
    chance: str = "inside every limit"
    thickness: str = "thickness, µm"
    enlarged: str = "the last of it enlarged, µm"
    damage: str = "red: damage under the new face, pale as deep as it may be"


WORDS = RulerWords()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Style:
    """What all rulers of a drawing share: their scales, patterns, words."""

    scale: Scale
    ends: Scale | None
    names: dict[StageKind, str]
    words: RulerWords
    lettering: Lettering

    def x(self, thickness: float, *, end: bool = False) -> float:
        """Where a thickness [µm] stands, on the whole ruler or on its enlarged end."""
        scale = self.ends if end and self.ends is not None else self.scale
        return _LEFT + _LONG * min(max(scale.share(thickness), 0.0), 1.0)


def route_rulers(plans: Sequence[Plan], *, words: RulerWords = WORDS, lettering: Lettering = ENGLISH) -> str:
    """SVG of alternative routes as rulers of thickness, in the order given (best first), numbered when several."""
    if not plans:
        raise TooFewSites("A drawing of routes", measured=0, needed=1)
    style = _Style(
        scale=even_scale(0.0, max(plan.start_thickness for plan in plans) * 1e6, marks=10),
        ends=_ends(plans),
        names={kind: own_id(f"kind-{kind}", *[plan.name for plan in plans]) for kind in _LOOKS},
        words=words,
        lettering=lettering,
    )
    rows, y = [], 58.0 if style.ends is None else 96.0
    for number, plan in enumerate(plans, 1):
        row, tall = _row(y, plan, f"{number}. " if len(plans) > 1 else "", style)
        rows.append(row)
        y += tall
    return drawing(
        element("defs", *_patterns(style.names, {stage.kind for plan in plans for stage in plan.stages})),
        _axis(style.scale, 42.0, words.thickness, lettering),
        written(_LEFT + _LONG, 16.0, words.damage, size=12, anchor="end"),
        "" if style.ends is None else _axis(style.ends, 84.0, words.enlarged, lettering),
        *rows,
        title=words.title,
        desc="; ".join(_in_words(plan, style) for plan in plans) + ".",
        width=_LEFT + _LONG + _BESIDE,
        height=y,
        lettering=lettering,
        data=_numbers(plans),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _numbers(plans: Sequence[Plan]) -> str:
    return table(
        ("route", "stage", "removal_um", "thickness_after_um", "time_min", "damage_left_um"),
        (
            (plan.name, one.name, one.removal * 1e6, one.thickness_after * 1e6, one.time / 60.0, one.damage_left * 1e6)
            for plan in plans
            for one in plan.stages
        ),
    )


def _ends(plans: Sequence[Plan]) -> Scale | None:
    """The scale of the ends after the last big stage, where they are short against the whole; None where not."""
    tops, targets = [], []
    for plan in plans:
        left = plan.start_thickness
        whole = sum(stage.removal for stage in plan.stages)
        top = left
        for stage in plan.stages:
            left -= stage.removal
            if stage.removal > _BULK * whole:
                top = left
        tops.append(top * 1e6)
        targets.append(left * 1e6)
    high, low = max(tops), min(targets)
    if not 0.0 < high - low < _CROWDED * (max(plan.start_thickness for plan in plans) * 1e6 - low):
        return None
    return even_scale(low - 0.15 * (high - low), high + 0.1 * (high - low), marks=8)


def _patterns(names: dict[StageKind, str], used: set[StageKind]) -> list[str]:
    return [
        hatch(names[kind], colour="#18222c", gap=lines[1], angle=lines[0], weight=0.7)
        for kind, (_, lines) in _LOOKS.items()
        if lines is not None and kind in used
    ]


def _axis(scale: Scale, y: float, name: str, lettering: Lettering) -> str:
    """Zero is the target's far face: what remains stands left, the stages eat inward from the right."""
    parts = [written(_LEFT, y - 26.0, name, size=12)]
    for tick in scale.ticks:
        x = _LEFT + _LONG * scale.share(tick)
        parts.append(element("path", d=f"M{x:.1f} {y - 6.0:.1f}v6", stroke="currentColor", stroke_width=0.8))
        parts.append(written(x, y - 10.0, figure(tick, scale.decimals, lettering), size=12, anchor="middle"))
    parts.append(element("path", d=f"M{_LEFT} {y}h{_LONG}", stroke="currentColor", stroke_width=0.8))
    return "".join(parts)


def _row(y: float, plan: Plan, number: str, style: _Style) -> tuple[str, float]:
    removing = [stage for stage in plan.stages if stage.removal > 0.0]
    heading = wrap(number + plan.name, _HEADING_COLUMNS)
    top = y + 22.0 + _HEADING_LINE * (len(heading) - 1)
    parts = [
        written(_LEFT, y + 12.0 + _HEADING_LINE * row, line, size=13, font_weight="bold")
        for row, line in enumerate(heading)
    ]
    parts.append(_beside(top, plan, style))
    if style.ends is None:
        parts.append(_ruler(top, _BAR, plan, removing, style, end=False))
    else:
        parts.append(_ruler(top, _THIN, plan, removing, style, end=False))
        parts.append(_guides(top + _THIN, style))
        top += _THIN + _BETWEEN
        parts.append(_ruler(top, _BAR, plan, removing, style, end=True))
    parts.extend(_flags(top, plan, removing, style))
    line_y = top + _BAR + 40.0
    for place, stage in enumerate(removing, 1):
        parts.append(written(_LEFT, line_y, _stage_line(place, stage, style), size=12))
        line_y += 16.5
    return element("g", *parts, class_="route"), line_y - y + 16.0


def _ruler(top: float, tall: float, plan: Plan, removing: Sequence[Stage], style: _Style, *, end: bool) -> str:
    """The lengths of a route on one of the scales; damage and what remains in words where there is room for them."""
    parts, right = [], plan.start_thickness * 1e6
    for stage in removing:
        left = right - stage.removal * 1e6
        parts.append(_length(top, tall, style.x(left, end=end), style.x(right, end=end), stage, style))
        right = left
    parts.append(_remaining(top, tall, right, style, end=end))
    if end or style.ends is None:
        parts.extend(_damage(top + tall, plan, style))
    return "".join(parts)


def _guides(top: float, style: _Style) -> str:
    """Lines from the end of a ruler to its enlarged picture."""
    if style.ends is None:
        return ""
    low, high = style.x(style.ends.low), style.x(style.ends.high)
    line = f"M{low:.1f} {top}L{_LEFT} {top + _BETWEEN}M{high:.1f} {top}L{_LEFT + _LONG} {top + _BETWEEN}"
    look = {"stroke": "#7b8794", "stroke_width": 0.9, "stroke_dasharray": "4 3", "class_": "faint-line"}
    return element("path", d=line, fill="none", **look)


def _length(top: float, tall: float, left: float, right: float, stage: Stage, style: _Style) -> str:
    if right - left <= 0.0:
        return ""
    ground, lines = _LOOKS[stage.kind]
    place = {"x": left, "y": top, "width": right - left, "height": tall}
    parts = [element("rect", **place, fill=ground, stroke="#18222c", stroke_width=1.0)]
    if lines is not None:
        parts.append(element("rect", **place, fill=f"url(#{style.names[stage.kind]})"))
    return "".join(parts)


def _damage(foot: float, plan: Plan, style: _Style) -> list[str]:
    """The damage under the face after each cut, as deep as is expected and, paler, as deep as it may be."""
    parts = []
    for stage in plan.stages:
        if stage.removal <= 0.0 or stage.damage_left_high <= 0.0:
            continue
        thickness = stage.thickness_after * 1e6
        face = style.x(thickness, end=True)
        for depth, shade in ((stage.damage_left_high, 0.35), (stage.damage_left, 0.9)):
            wide = face - style.x(thickness - depth * 1e6, end=True)
            parts.append(
                element("rect", x=face - wide, y=foot - 9.0, width=wide, height=9.0, fill="#b3261e", opacity=shade)
            )
    return parts


def _remaining(top: float, tall: float, kept: float, style: _Style, *, end: bool) -> str:
    """What is left, with its thickness written where nothing else stands: on the whole ruler."""
    wide = style.x(kept, end=end) - _LEFT
    ground = element(
        "rect", x=_LEFT, y=top, width=wide, height=tall, fill="#2c5f6e", stroke="#18222c", stroke_width=1.0
    )
    if end:
        return ground
    text = f"{figure(kept, 1, style.lettering)} µm"
    whole = f"{style.words.remains} {text}"
    inside, fits = 7.4 * len(text) < wide, 7.4 * len(whole) < wide
    look = {"font_size": 12, "text_anchor": "middle", "fill": "#ffffff"}
    named = element("text", whole if fits else text, x=_LEFT + wide / 2.0, y=top + tall / 2.0 + 4.0, **look)
    below = "" if fits or style.ends is not None else written(
        _LEFT, top + tall + 15.0, style.words.remains if inside else whole, size=12
    )  # fmt: skip
    return ground + (named if inside else "") + below


def _flags(top: float, plan: Plan, removing: Sequence[Stage], style: _Style) -> list[str]:
    """Numbers below the lengths they belong to, pushed apart where lengths are short, tied by a line."""
    parts, last, right = [], _LEFT + _LONG + 24.0, plan.start_thickness * 1e6
    for number, stage in enumerate(removing, 1):
        left = right - stage.removal * 1e6
        x = (style.x(left, end=True) + style.x(right, end=True)) / 2.0
        at = min(x, last - 20.0)
        right, last = left, at
        foot = top + _BAR
        parts.append(element("path", d=f"M{x:.1f} {foot:.1f}L{at:.1f} {foot + 6:.1f}", stroke="currentColor"))
        parts.append(element("circle", cx=at, cy=foot + 14.0, r=8.0, fill="none", stroke="currentColor"))
        parts.append(written(at, foot + 18.0, str(number), size=12, anchor="middle"))
    return parts


def _beside(top: float, plan: Plan, style: _Style) -> str:
    x = _LEFT + _LONG + 22.0
    return "".join(
        [
            written(x, top + 12.0, _time(plan.total_time, style), size=17),
            written(x, top + 36.0, _percent(plan), size=17),
            wrapped(x, top + 53.0, style.words.chance, columns=24, size=12),
        ]
    )


def _percent(plan: Plan) -> str:
    """Whole per cent, but never 100 or 0: however many imagined jobs ended well, the next one may not."""
    share = plan.chance_in_tolerance
    if share < 0.01:
        return "< 1 %"
    return "> 99 %" if share > 0.99 else f"{100.0 * share:.0f} %"


def _time(seconds: float, style: _Style) -> str:
    """A time in whole minutes, from an hour on as hours and minutes; what takes time takes no 0 min."""
    if 0.0 < seconds < 30.0:
        return f"< 1 {style.words.minutes}"
    hours, minutes = divmod(round(seconds / 60.0), 60)
    return f"{hours} {style.words.hours} {minutes:02d} {style.words.minutes}" if hours else (
        f"{minutes} {style.words.minutes}"
    )  # fmt: skip


def _stage_line(number: int, stage: Stage, style: _Style) -> str:
    tools = " / ".join(
        tool for tool in (stage.abrasive_name or stage.abrasive, stage.plate_name or stage.plate) if tool
    )
    parts = [
        f"{number}  {stage.name}",
        f"{figure(stage.removal * 1e6, 1, style.lettering)} µm",
        _time(stage.time, style),
    ]
    return " · ".join(parts + ([tools] if tools else []))


def _in_words(plan: Plan, style: _Style) -> str:
    return f"{plan.name}: {_time(plan.total_time, style)}, {_percent(plan)} {style.words.chance}"
