"""One limit as a line: where the values of the wafers lie, how sure they are, and where the guard band begins.

Each wafer is a row on one common scale: the dot is the value, the whiskers its expanded uncertainty, the upright bars
the limits, and the hatched strips inside them the guard band of that row. A value that is accepted is a full dot, one
that cannot be decided a ring, one that is refused a full diamond. Values come in the unit that is printed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lapwright.errors import TooFewSites
from lapwright.reports.drawing.ink import (
    ENGLISH,
    FAINT,
    PAPER,
    Lettering,
    drawing,
    element,
    figure,
    hatch,
    own_id,
    table,
    written,
)
from lapwright.reports.drawing.scale import Scale, even_scale

_LEFT, _TOP, _WIDE, _ROW, _RIGHT = 132.0, 34.0, 560.0, 40.0, 172.0
_SIZE = 14.0  # letters
_NAME = 15  # letters of a name that have room


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedValue:
    """One row: name, value with its expanded uncertainty and the range that is accepted; what stands at its end.

    `look` is full, ring or diamond. None where something is not known or not limited.
    """

    name: str
    value: float
    expanded_uncertainty: float | None
    accepted_low: float | None
    accepted_high: float | None
    look: str
    word: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitWords:
    """The words of this drawing."""

    limit: str = "limit"
    guard_band: str = "guard band: too near to the limit to be accepted"


WORDS = LimitWords()


def limit_line(
    judged: Sequence[JudgedValue],
    *,
    lower: float | None,
    upper: float | None,
    unit: str,
    title: str,
    words: LimitWords = WORDS,
    lettering: Lettering = ENGLISH,
) -> str:
    """SVG of the values judged against one limit; `lower` or `upper` is None where there is no limit."""
    if not judged:
        raise TooFewSites("A drawing of a limit", measured=0, needed=1)
    along = _scale(judged, lower, upper)
    pattern = own_id("guard", title, lower, upper, [one.value for one in judged])
    tall = _ROW * len(judged)
    return drawing(
        element("defs", hatch(pattern, colour=FAINT)),
        _axis(along, tall, unit, lettering),
        *(_row(number, one, along, (lower, upper), pattern, lettering) for number, one in enumerate(judged)),
        *(_bar(along, edge, tall, words, lettering) for edge in (lower, upper) if edge is not None),
        *_legend(judged, tall, pattern, words),
        title=title,
        desc="; ".join(_told(one, unit, along, lettering) for one in judged),
        width=_LEFT + _WIDE + _RIGHT,
        height=_TOP + tall + 60.0,
        lettering=lettering,
        data=table(
            ("name", f"value, {unit}", f"expanded uncertainty, {unit}", f"accepted from, {unit}",
             f"accepted to, {unit}", "verdict"),
            ((one.name, one.value, one.expanded_uncertainty, one.accepted_low, one.accepted_high, one.word)
             for one in judged),
        ),
    )  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _scale(judged: Sequence[JudgedValue], lower: float | None, upper: float | None) -> Scale:
    """A scale that holds all values with their whiskers and the limits, with a little room beyond them."""
    ends = [edge for edge in (lower, upper) if edge is not None]
    for one in judged:
        reach = one.expanded_uncertainty or 0.0
        ends += [one.value - reach, one.value + reach]
    room = 0.06 * (max(ends) - min(ends))
    low = min(ends) - room
    if lower is None and min(ends) >= 0.0:
        low = max(0.0, low)
    return even_scale(low, max(ends) + room, marks=6)


def _x(along: Scale, value: float) -> float:
    return _LEFT + _WIDE * along.share(value)


def _axis(along: Scale, tall: float, unit: str, lettering: Lettering) -> str:
    drawn = [element("path", d=f"M{_LEFT} {_TOP + tall}h{_WIDE}", stroke="currentColor", fill="none")]
    for tick in along.ticks:
        x = _x(along, tick)
        drawn.append(element("path", d=f"M{x:.1f} {_TOP + tall}v5", stroke="currentColor"))
        text = figure(tick, along.decimals, lettering)
        drawn.append(written(x, _TOP + tall + 21.0, text, size=_SIZE, anchor="middle"))
    drawn.append(written(_LEFT + _WIDE + 28.0, _TOP + tall + 21.0, unit, size=_SIZE))
    return "".join(drawn)


def _bar(along: Scale, edge: float, tall: float, words: LimitWords, lettering: Lettering) -> str:
    x = _x(along, edge)
    bar = element("path", d=f"M{x:.1f} {_TOP - 6.0}V{_TOP + tall}", stroke="currentColor", stroke_width=3.0)
    text = f"{words.limit} {figure(edge, along.decimals + 1, lettering)}"
    return bar + written(x, _TOP - 13.0, text, size=_SIZE, anchor="middle")


def _row(
    number: int,
    one: JudgedValue,
    along: Scale,
    limits: tuple[float | None, float | None],
    pattern: str,
    lettering: Lettering,
) -> str:
    y = _TOP + _ROW * (number + 0.5)
    name = one.name if len(one.name) <= _NAME else f"{one.name[: _NAME - 1]}…"
    drawn = [
        written(_LEFT - 10.0, y + 5.0, name, size=_SIZE, anchor="end"),
        element("path", d=f"M{_LEFT} {y:.1f}h{_WIDE}", stroke=FAINT, stroke_width=0.5, class_="faint-line"),
        _band(along, limits[0], one.accepted_low, y, pattern),
        _band(along, one.accepted_high, limits[1], y, pattern),
        _whiskers(along, one, y),
        _dot(_x(along, one.value), y, one.look),
        written(_LEFT + _WIDE + 14.0, y - 3.0, _numbers(one, along, lettering), size=_SIZE, font_weight="bold"),
        written(_LEFT + _WIDE + 14.0, y + 14.0, one.word, size=_SIZE),
    ]
    return "".join(drawn)


def _band(along: Scale, start: float | None, end: float | None, y: float, pattern: str) -> str:
    """The guard band between a limit and the range that is accepted."""
    if start is None or end is None or not end > start:
        return ""
    first, last = (max(_LEFT, min(_LEFT + _WIDE, _x(along, edge))) for edge in (start, end))
    return element("rect", x=first, y=y - 11.0, width=last - first, height=22.0, fill=f"url(#{pattern})")


def _whiskers(along: Scale, one: JudgedValue, y: float) -> str:
    if one.expanded_uncertainty is None:
        return ""
    low, high = (_x(along, one.value + side * one.expanded_uncertainty) for side in (-1.0, 1.0))
    line = f"M{low:.1f} {y:.1f}H{high:.1f}M{low:.1f} {y - 5.0:.1f}v10M{high:.1f} {y - 5.0:.1f}v10"
    return element("path", d=line, stroke="currentColor", stroke_width=1.6, fill="none")


def _dot(x: float, y: float, look: str) -> str:
    if look == "diamond":
        return element("path", d=f"M{x:.1f} {y - 7.0:.1f}l7 7l-7 7l-7 -7Z", fill="currentColor")
    if look == "ring":
        ring = {"fill": PAPER, "class_": "paper", "stroke": "currentColor", "stroke_width": 2.2}
        return element("circle", cx=x, cy=y, r=5.5, **ring)
    return element("circle", cx=x, cy=y, r=5.0, fill="currentColor")


def _numbers(one: JudgedValue, along: Scale, lettering: Lettering) -> str:
    decimals = max(2, along.decimals + 1)
    if one.expanded_uncertainty is None:
        return figure(one.value, decimals, lettering)
    return f"{figure(one.value, decimals, lettering)} ± {figure(one.expanded_uncertainty, decimals, lettering)}"


def _told(one: JudgedValue, unit: str, along: Scale, lettering: Lettering) -> str:
    return f"{one.name}: {_numbers(one, along, lettering)} {unit}, {one.word}"


def _legend(judged: Sequence[JudgedValue], tall: float, pattern: str, words: LimitWords) -> list[str]:
    if all(one.accepted_low is None and one.accepted_high is None for one in judged):
        return []
    y = _TOP + tall + 40.0
    swatch = element("rect", x=_LEFT, y=y, width=22.0, height=12.0, fill=f"url(#{pattern})", stroke=FAINT)
    return [swatch, written(_LEFT + 30.0, y + 10.5, words.guard_band, size=_SIZE)]
