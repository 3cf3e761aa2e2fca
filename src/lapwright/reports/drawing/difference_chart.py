"""Two gauges against each other: the difference at each site over the mean of both.

A gauge that reads more everywhere lifts all points; one that stretches tilts them. The full line is the mean
difference, the dashed ones hold 95 % of single differences, and the band is what the two budgets allow the mean line.
Values come in the unit that is printed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import TooFewSites
from lapwright.reports.drawing.ink import (
    ENGLISH,
    FAINT,
    Lettering,
    drawing,
    element,
    figure,
    hatch,
    own_id,
    spread,
    table,
    written,
)
from lapwright.reports.drawing.scale import Scale, even_scale

_LEFT, _TOP, _WIDE, _TALL = 66.0, 34.0, 520.0, 230.0
_LETTER = 6.8  # width of a letter


@dataclass(frozen=True, slots=True, kw_only=True)
class DifferenceWords:
    """The words of this drawing, and the names of the two gauges."""

    names: tuple[str, str] = ("first", "second")
    difference: str = "difference"
    mean_of_both: str = "mean of both"
    on_average: str = "on average"
    holds: str = "95 % of single ones"
    allowed: str = "allowed to the average by the budgets"


WORDS = DifferenceWords()


def difference_chart(
    first: NDArray[np.float64],
    second: NDArray[np.float64],
    *,
    agreement: tuple[float, float],
    allowed: float | None,
    unit: str,
    title: str,
    words: DifferenceWords = WORDS,
    lettering: Lettering = ENGLISH,
) -> str:
    """SVG of first less second over their mean; `agreement` are the limits of single differences."""
    if not first.size:
        raise TooFewSites("A comparison of two gauges", measured=0, needed=1)
    off, middle = first - second, 0.5 * (first + second)
    mean = float(off.mean())
    reach = [float(off.min()), float(off.max()), *agreement, 0.0, *((-allowed, allowed) if allowed else ())]
    up = even_scale(min(reach), max(reach), marks=6)
    along = even_scale(float(middle.min()), float(middle.max()), marks=6)
    pattern = own_id("allowed", title, mean)
    label = f"{words.difference} {words.names[0]} − {words.names[1]}, {unit}"
    return drawing(
        element("defs", hatch(pattern, colour=FAINT)),
        written(8.0, 18.0, label, size=12.0),
        _band(up, allowed, pattern),
        _axes(up, along, lettering),
        *(_level(up, end, dash="6 4") for end in agreement),
        _level(up, mean, dash=None),
        *_names(up, mean, agreement[1], words, lettering),
        *(_point(_x(along, x), _y(up, y)) for x, y in zip(middle.tolist(), off.tolist(), strict=True)),
        written(_LEFT + _WIDE / 2.0, _TOP + _TALL + 38.0, f"{words.mean_of_both}, {unit}", size=12.0, anchor="middle"),
        *_legend(allowed, pattern, words),
        title=title,
        desc=_told(label, mean, agreement, allowed, words, lettering),
        width=_LEFT + _WIDE + 14.0 + _LETTER * max(len(words.holds), len(words.on_average) + 7),
        height=_TOP + _TALL + 66.0,
        lettering=lettering,
        data=table((f"{words.mean_of_both}, {unit}", label), zip(middle, off, strict=True)),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _y(up: Scale, value: float) -> float:
    return _TOP + _TALL * (1.0 - up.share(value))


def _x(along: Scale, value: float) -> float:
    return _LEFT + _WIDE * along.share(value)


def _band(up: Scale, allowed: float | None, pattern: str) -> str:
    if allowed is None:
        return ""
    top, bottom = _y(up, allowed), _y(up, -allowed)
    return element("rect", x=_LEFT, y=top, width=_WIDE, height=bottom - top, fill=f"url(#{pattern})", opacity="0.5")


def _axes(up: Scale, along: Scale, lettering: Lettering) -> str:
    drawn = []
    for tick in up.ticks:
        y = _y(up, tick)
        look = {"stroke": FAINT, "stroke_width": 1.4 if tick == 0.0 else 0.4, "class_": "faint-line"}
        drawn.append(element("path", d=f"M{_LEFT} {y:.1f}h{_WIDE}", **look))
        drawn.append(written(_LEFT - 8.0, y + 4.0, figure(tick, up.decimals, lettering), size=12.0, anchor="end"))
    for tick in along.ticks:
        x = _x(along, tick)
        drawn.append(element("path", d=f"M{x:.1f} {_TOP + _TALL}v4", stroke="currentColor"))
        drawn.append(
            written(x, _TOP + _TALL + 18.0, figure(tick, along.decimals, lettering), size=12.0, anchor="middle")
        )
    drawn.append(element("path", d=f"M{_LEFT} {_TOP}v{_TALL}h{_WIDE}", fill="none", stroke="currentColor"))
    return "".join(drawn)


def _level(up: Scale, value: float, *, dash: str | None) -> str:
    y = _y(up, value)
    return element(
        "path", d=f"M{_LEFT} {y:.1f}h{_WIDE}", stroke="currentColor", stroke_width=1.6, stroke_dasharray=dash
    )


def _names(up: Scale, mean: float, high: float, words: DifferenceWords, lettering: Lettering) -> list[str]:
    """What the lines are, at their ends, apart where they are close."""
    average = f"{words.on_average} {figure(mean, up.decimals + 1, lettering)}"
    heights = spread([_y(up, high), _y(up, mean)], gap=15.0, least=_TOP, most=_TOP + _TALL)
    return [
        written(_LEFT + _WIDE + 6.0, y + 4.0, text, size=12.0)
        for y, text in zip(heights, (words.holds, average), strict=True)
    ]


def _point(x: float, y: float) -> str:
    return element("circle", cx=x, cy=y, r=4.0, fill="currentColor")


def _legend(allowed: float | None, pattern: str, words: DifferenceWords) -> list[str]:
    if allowed is None:
        return []
    y = _TOP + _TALL + 50.0
    swatch = element("rect", x=_LEFT, y=y, width=22.0, height=11.0, fill=f"url(#{pattern})", stroke=FAINT)
    return [swatch, written(_LEFT + 28.0, y + 10.0, words.allowed, size=12.0)]


def _told(
    label: str,
    mean: float,
    agreement: tuple[float, float],
    allowed: float | None,
    words: DifferenceWords,
    lettering: Lettering,
) -> str:
    low, high = agreement
    told = f"{label}: {words.on_average} {mean:.3g}, {words.holds} {low:.3g} … {high:.3g}"
    told += "" if allowed is None else f", {words.allowed} ± {allowed:.3g}"
    return told.replace(".", lettering.decimal) + "."
