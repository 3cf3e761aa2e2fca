"""Routes side by side: by which stages each gets from the incoming thickness to the target, how long, how surely.

One ruler a route, all on one thickness scale: each stage is a length of material, coloured and hatched by its kind
and numbered; the piece that remains is the last length. A red layer at each new face is the damage under it. Minutes
and the chance of ending inside every limit stand beside the ruler, the stages in words below it.
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

_LEFT, _TOP, _LONG, _BAR = 24.0, 58.0, 560.0, 34.0
_BESIDE = 190.0
_HEADING_COLUMNS, _HEADING_LINE = 68, 17.0
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
    minutes: str = "min"
    chance: str = "inside every limit"
    thickness: str = "thickness, µm"
    damage: str = "red: damage under the new face, pale as deep as it may be"


WORDS = RulerWords()


def route_rulers(plans: Sequence[Plan], *, words: RulerWords = WORDS, lettering: Lettering = ENGLISH) -> str:
    """SVG of alternative routes as rulers of thickness, in the order given (best first)."""
    if not plans:
        raise TooFewSites("A drawing of routes", measured=0, needed=1)
    scale = even_scale(0.0, max(plan.start_thickness for plan in plans) * 1e6, marks=10)
    names = {kind: own_id(f"kind-{kind}", *[plan.name for plan in plans]) for kind in _LOOKS}
    rows, y = [], _TOP
    for plan in plans:
        row, tall = _row(y, plan, scale, names, words, lettering)
        rows.append(row)
        y += tall
    return drawing(
        element("defs", *_patterns(names, {stage.kind for plan in plans for stage in plan.stages})),
        _axis(scale, words, lettering),
        *rows,
        title=words.title,
        desc="; ".join(_in_words(plan, words, lettering) for plan in plans) + ".",
        width=_LEFT + _LONG + _BESIDE,
        height=y,
        lettering=lettering,
        data=table(
            ("route", "stage", "removal_um", "thickness_after_um", "time_min", "damage_left_um"),
            (
                (
                    plan.name,
                    one.name,
                    one.removal * 1e6,
                    one.thickness_after * 1e6,
                    one.time / 60.0,
                    one.damage_left * 1e6,
                )
                for plan in plans
                for one in plan.stages
            ),
        ),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _patterns(names: dict[StageKind, str], used: set[StageKind]) -> list[str]:
    return [
        hatch(names[kind], colour="#18222c", gap=lines[1], angle=lines[0], weight=0.7)
        for kind, (_, lines) in _LOOKS.items()
        if lines is not None and kind in used
    ]


def _axis(scale: Scale, words: RulerWords, lettering: Lettering) -> str:
    """Zero is the target's far face: what remains stands left, the stages eat inward from the right."""
    parts = [
        written(_LEFT, 16.0, words.thickness, size=11.5),
        written(_LEFT + _LONG, 16.0, words.damage, size=11, anchor="end"),
    ]
    for tick in scale.ticks:
        x = _LEFT + _LONG * scale.share(tick)
        parts.append(element("path", d=f"M{x:.1f} 36v6", stroke="currentColor", stroke_width=0.8))
        parts.append(written(x, 32.0, figure(tick, scale.decimals, lettering), size=11, anchor="middle"))
    parts.append(element("path", d=f"M{_LEFT} 42h{_LONG}", stroke="currentColor", stroke_width=0.8))
    return "".join(parts)


def _row(
    y: float, plan: Plan, scale: Scale, names: dict[StageKind, str], words: RulerWords, lettering: Lettering
) -> tuple[str, float]:
    removing = [stage for stage in plan.stages if stage.removal > 0.0]
    heading = wrap(plan.name, _HEADING_COLUMNS)
    bar = y + 22.0 + _HEADING_LINE * (len(heading) - 1)
    parts = [
        written(_LEFT, y + 12.0 + _HEADING_LINE * row, line, size=13, font_weight="bold")
        for row, line in enumerate(heading)
    ]
    right = plan.start_thickness * 1e6
    flags: list[tuple[float, int]] = []
    for number, stage in enumerate(removing, 1):
        left = right - stage.removal * 1e6
        parts.append(_length(bar, left, right, scale, stage, names))
        flags.append((_LEFT + _LONG * scale.share((left + right) / 2.0), number))
        right = left
    parts.append(_remaining(bar, right, scale, words, lettering))
    parts.extend(_damage(bar, plan, scale))
    parts.extend(_flags(bar, flags, removing, scale))
    parts.append(_beside(bar, plan, words, lettering))
    line_y = bar + _BAR + 40.0
    for number, stage in enumerate(removing, 1):
        parts.append(written(_LEFT, line_y, _stage_line(number, stage, words, lettering), size=11.5))
        line_y += 16.0
    return element("g", *parts, class_="route"), line_y - y + 16.0


def _length(bar: float, left: float, right: float, scale: Scale, stage: Stage, names: dict[StageKind, str]) -> str:
    x, wide = _LEFT + _LONG * scale.share(left), _LONG * (right - left) / (scale.high - scale.low)
    ground, lines = _LOOKS[stage.kind]
    place = {"x": x, "y": bar, "width": wide, "height": _BAR}
    parts = [element("rect", **place, fill=ground, stroke="#18222c", stroke_width=1.0)]
    if lines is not None:
        parts.append(element("rect", **place, fill=f"url(#{names[stage.kind]})"))
    return "".join(parts)


def _damage(bar: float, plan: Plan, scale: Scale) -> list[str]:
    """The damage under the face after each cut, as deep as is expected and, paler, as deep as it may be."""
    per_um = _LONG / (scale.high - scale.low)
    parts = []
    for stage in plan.stages:
        if stage.removal <= 0.0 or stage.damage_left_high <= 0.0:
            continue
        face = _LEFT + _LONG * scale.share(stage.thickness_after * 1e6)
        for depth, shade in ((stage.damage_left_high, 0.35), (stage.damage_left, 0.9)):
            wide = depth * 1e6 * per_um
            parts.append(
                element(
                    "rect", x=face - wide, y=bar + _BAR - 9.0, width=wide, height=9.0, fill="#b3261e", opacity=shade
                )
            )
    return parts


def _remaining(bar: float, kept: float, scale: Scale, words: RulerWords, lettering: Lettering) -> str:
    wide = _LONG * scale.share(kept)
    text = f"{figure(kept, 1, lettering)} µm"
    inside = 7.0 * len(text) < wide
    whole = f"{words.remains} {text}"
    fits = 6.5 * len(whole) < wide  # then nothing stands below, where the numbers of many short stages go
    shown = whole if fits else text
    return "".join([
        element("rect", x=_LEFT, y=bar, width=wide, height=_BAR, fill="#2c5f6e", stroke="#18222c", stroke_width=1.0),
        element("text", shown, x=_LEFT + wide / 2.0, y=bar + 21.0, font_size=12, text_anchor="middle", fill="#ffffff")
        if inside else "",
        "" if fits else written(_LEFT, bar + _BAR + 15.0, words.remains if inside else whole, size=11),
    ])  # fmt: skip


def _flags(bar: float, flags: list[tuple[float, int]], stages: Sequence[Stage], scale: Scale) -> list[str]:
    """Numbers below the lengths they belong to, pushed apart where lengths are short, tied by a line."""
    parts, last = [], _LEFT + _LONG * scale.share(scale.high) + 24.0
    for (x, number), _ in zip(flags, stages, strict=True):
        at = min(x, last - 20.0)
        last = at
        parts.append(
            element("path", d=f"M{x:.1f} {bar + _BAR:.1f}L{at:.1f} {bar + _BAR + 6:.1f}", stroke="currentColor")
        )
        parts.append(
            element("circle", cx=at, cy=bar + _BAR + 14.0, r=8.0, fill="none", stroke="currentColor", stroke_width=1.0)
        )
        parts.append(written(at, bar + _BAR + 18.0, str(number), size=11, anchor="middle"))
    return parts


def _beside(bar: float, plan: Plan, words: RulerWords, lettering: Lettering) -> str:
    x = _LEFT + _LONG + 26.0
    minutes = f"{figure(plan.total_time / 60.0, 0, lettering)} {words.minutes}"
    chance = f"{_percent(plan, lettering)} %"
    return "".join(
        [
            written(x, bar + 6.0, minutes, size=17),
            written(x, bar + 30.0, chance, size=17),
            wrapped(x, bar + 46.0, words.chance, columns=26, size=11),
        ]
    )


def _percent(plan: Plan, lettering: Lettering) -> str:
    """Whole per cent, but never 100 or 0 by rounding."""
    share = plan.chance_in_tolerance * 100.0
    decimals = 0 if 1.0 <= share <= 99.0 else 1
    return figure(share, decimals, lettering)


def _stage_line(number: int, stage: Stage, words: RulerWords, lettering: Lettering) -> str:
    tools = " / ".join(
        tool for tool in (stage.abrasive_name or stage.abrasive, stage.plate_name or stage.plate) if tool
    )
    parts = [
        f"{number}  {stage.name}",
        f"{figure(stage.removal * 1e6, 1, lettering)} µm",
        f"{figure(stage.time / 60.0, 0, lettering)} {words.minutes}",
    ]
    return " · ".join(parts + ([tools] if tools else []))


def _in_words(plan: Plan, words: RulerWords, lettering: Lettering) -> str:
    minutes = figure(plan.total_time / 60.0, 0, lettering)
    return f"{plan.name}: {minutes} {words.minutes}, {_percent(plan, lettering)} % {words.chance}"
