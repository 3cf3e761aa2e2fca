"""The damaged layer shrinking down the ruler: a column a stage, hung from the face the stage left.

All columns hang from one line, the worked face at that moment, and reach down into the wafer on one scale: the hatched
part is damage as deep as to be expected, the dashed line below it how deep it may be (97.5 %). A stage still to come is
drawn in outline. The depth that an earlier stage left and that is still there reaches below what the stage itself left.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from lapwright.errors import TooFewSites
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

_LEFT, _TOP, _TALL, _COLUMN, _GAP = 62.0, 46.0, 240.0, 66.0, 52.0
_SIZE = 14.0  # letters
_LEAST_SHOWN = 0.02e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class DamageColumn:
    """One stage: its name, damage to be expected and at most (97.5 %) after it [m], and whether it is done."""

    label: str
    median: float
    high: float
    is_done: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class DamageWords:
    """The words of this drawing."""

    title: str = "Damage left after each stage"
    face: str = "worked face"
    depth: str = "depth, µm"
    none: str = "none"
    at_most: str = "at most"
    to_come: str = "to come"


WORDS = DamageWords()


def damage_ruler(columns: Sequence[DamageColumn], *, words: DamageWords = WORDS, lettering: Lettering = ENGLISH) -> str:
    """SVG of the damage after each stage, in the order worked."""
    if not columns:
        raise TooFewSites("A drawing of damage", measured=0, needed=1)
    deepest = max(max(one.high, one.median) for one in columns) * 1e6
    scale = even_scale(0.0, deepest if deepest > 0.0 else 1.0, marks=6)
    name = own_id("damage", *[(one.label, one.median) for one in columns])
    wide = _LEFT + len(columns) * (_COLUMN + _GAP) + 24.0
    parts = [_ruler(scale, wide, words, lettering)]
    for number, one in enumerate(columns):
        x = _LEFT + 24.0 + number * (_COLUMN + _GAP)
        parts.append(_column(x, one, scale, name, words, lettering))
    return drawing(
        element("defs", hatch(name, colour="#a8321a", gap=5.0, weight=1.6)),
        *parts,
        title=words.title,
        desc="; ".join(_in_words(one, words, lettering) for one in columns) + ".",
        width=wide,
        height=_TOP + _TALL + 90.0,
        lettering=lettering,
        data=table(
            ("stage", "done", "damage_um", "damage_at_most_um"),
            ((one.label, "yes" if one.is_done else "no", one.median * 1e6, one.high * 1e6) for one in columns),
        ),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _ruler(scale: Scale, wide: float, words: DamageWords, lettering: Lettering) -> str:
    parts = [
        element("path", d=f"M{_LEFT} {_TOP}H{wide - 8.0:.1f}", stroke="currentColor", stroke_width=2.0),
        written(8.0, 20.0, words.depth, size=_SIZE),
        written(wide - 8.0, _TOP - 8.0, words.face, size=_SIZE, anchor="end"),
        element("path", d=f"M{_LEFT} {_TOP}V{_TOP + _TALL}", stroke="currentColor", stroke_width=0.8),
    ]
    for tick in scale.ticks:
        y = _TOP + _TALL * scale.share(tick)
        parts.append(element("path", d=f"M{_LEFT - 6} {y:.1f}h6", stroke="currentColor", stroke_width=0.8))
        parts.append(written(_LEFT - 10.0, y + 5.0, figure(tick, scale.decimals, lettering), size=_SIZE, anchor="end"))
    return "".join(parts)


def _column(x: float, one: DamageColumn, scale: Scale, name: str, words: DamageWords, lettering: Lettering) -> str:
    deep = _TALL * scale.share(one.median * 1e6)
    most = _TALL * scale.share(max(one.high, one.median) * 1e6)
    outline = {"stroke": "currentColor", "stroke_width": 1.2}
    dashes = {} if one.is_done else {"stroke_dasharray": "4 3"}
    place = {"x": x, "y": _TOP, "width": _COLUMN, "height": deep}
    parts = []
    if deep > 0.0:
        if one.is_done:
            parts.append(element("rect", **place, fill="#f4d3c8"))
        parts.append(element("rect", **place, fill=f"url(#{name})"))
        parts.append(element("rect", **place, fill="none", **outline, **dashes))
    if most > deep + 0.5:
        stem, end = x + _COLUMN / 2.0, _TOP + most
        parts.append(
            element(
                "path",
                d=f"M{stem:.1f} {_TOP + deep:.1f}V{end:.1f}M{stem - 14:.1f} {end:.1f}h28",
                stroke="#a8321a",
                stroke_width=2.0,
                fill="none",
                class_="accent-line",
            )
        )
    middle = x + _COLUMN / 2.0
    below = _TOP + max(most, deep) + 16.0
    parts.append(
        written(middle, below, _amount(one, words, lettering), size=_SIZE, anchor="middle", font_weight="bold")
    )
    below = _TOP + _TALL + 34.0
    parts.append(wrapped(middle, below, one.label, columns=13, size=_SIZE, anchor="middle"))
    if not one.is_done:
        lines = len(textwrap.wrap(one.label, 13))
        parts.append(written(middle, below + 1.25 * _SIZE * lines, f"({words.to_come})", size=_SIZE, anchor="middle"))
    return element("g", *parts, class_="damage")


def _amount(one: DamageColumn, words: DamageWords, lettering: Lettering) -> str:
    if one.median < _LEAST_SHOWN and one.high < _LEAST_SHOWN:
        return words.none
    low, high = figure(one.median * 1e6, 1, lettering), figure(max(one.high, one.median) * 1e6, 1, lettering)
    return low if low == high else f"{low} … {high}"


def _in_words(one: DamageColumn, words: DamageWords, lettering: Lettering) -> str:
    state = "" if one.is_done else f", {words.to_come}"
    most = figure(max(one.high, one.median) * 1e6, 1, lettering)
    return f"{one.label}{state}: {figure(one.median * 1e6, 1, lettering)} µm, {words.at_most} {most} µm"
