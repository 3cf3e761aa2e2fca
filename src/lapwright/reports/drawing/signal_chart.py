"""One signal over time, small enough to stand among others: points in the order taken, centre, limits, events.

A point at which something is signalled is a ringed square, not merely another colour. An event is a dashed upright
with a letter, between the points before and after it; the letters are explained below the chart by whoever shows it.
The value of the centre and of each limit stands at the end of its line. Values come in the unit that is printed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import TooFewSites
from lapwright.reports.drawing.ink import (
    ACCENT,
    ENGLISH,
    FAINT,
    Lettering,
    drawing,
    element,
    figure,
    path,
    spread,
    table,
    written,
)
from lapwright.reports.drawing.scale import Scale, even_scale

_LEFT, _TOP, _WIDE, _TALL = 58.0, 34.0, 340.0, 160.0
_SIZE = 14.0  # letters that are still read where many charts stand side by side
_COLOUR = "currentColor"


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartEvent:
    """Something that changed before a point (from 0): a letter on the chart, the words beside it."""

    before_point: int
    letter: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SignalChart:
    """What is drawn: plotted points, the values behind them when those are averages, centre, limits, marks."""

    points: NDArray[np.float64]
    values: NDArray[np.float64] | None
    centre: float | None
    lower: float | None
    upper: float | None
    signalled: frozenset[int]
    events: tuple[ChartEvent, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SignalWords:
    """The words of this drawing; places: count of points, first and last value with its unit, number of a point."""

    points: str = "{count} points from {first} to {last}"
    centre: str = "centre"
    lower: str = "lower limit"
    upper: str = "upper limit"
    signalled: str = "signalled"
    before: str = "{letter} before point {number}"
    order: str = "points in the order taken"


WORDS = SignalWords()


def signal_chart(
    chart: SignalChart, *, title: str, unit: str, words: SignalWords = WORDS, lettering: Lettering = ENGLISH
) -> str:
    """SVG of one signal; the title is its name for readers who cannot see it."""
    shown = [chart.points, *([] if chart.values is None else [chart.values])]
    lines = [one for one in (chart.centre, chart.lower, chart.upper) if one is not None]
    known = np.concatenate([*shown, np.array(lines)])
    known = known[np.isfinite(known)]
    if not known.size:
        raise TooFewSites("A chart", measured=0, needed=1)
    along = even_scale(float(known.min()), float(known.max()), marks=4)
    count = chart.points.size
    return drawing(
        _between(chart, along),
        _axes(along, count, unit, lettering),
        written(_LEFT + _WIDE, _TOP + _TALL + 38.0, words.order, size=_SIZE, anchor="end"),
        *(_level(value, along, dash) for value, dash in _levels(chart)),
        *_level_values(chart, along, lettering),
        *(_event(one, count) for one in chart.events),
        _values(chart.values, along, count),
        _points(chart, along, count),
        title=title,
        desc=_description(chart, unit, words, lettering),
        width=_LEFT + _WIDE + 60.0,
        height=_TOP + _TALL + 46.0,
        lettering=lettering,
        data=table(
            ("point", f"value, {unit}", "signalled"),
            ((i + 1, value, "yes" if i in chart.signalled else "") for i, value in enumerate(chart.points)),
        ),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _x(index: float, count: int) -> float:
    return _LEFT + _WIDE * (index + 0.5) / count


def _y(value: float, along: Scale) -> float:
    return _TOP + _TALL * (1.0 - along.share(value))


def _levels(chart: SignalChart) -> list[tuple[float, str | None]]:
    wanted = ((chart.centre, None), (chart.lower, "7 4"), (chart.upper, "7 4"))
    return [(value, dash) for value, dash in wanted if value is not None]


def _axes(along: Scale, count: int, unit: str, lettering: Lettering) -> str:
    parts = [written(_LEFT - 50.0, 14.0, unit, size=_SIZE)]
    for tick in along.ticks:
        y = _y(tick, along)
        parts.append(element("path", d=f"M{_LEFT - 4} {y:.1f}h4", stroke="currentColor"))
        parts.append(written(_LEFT - 8.0, y + 4.0, figure(tick, along.decimals, lettering), size=_SIZE, anchor="end"))
    parts.append(element("path", d=f"M{_LEFT} {_TOP}v{_TALL}h{_WIDE}", fill="none", stroke="currentColor"))
    step = int(even_scale(0.0, float(max(count, 2)), marks=7, least_step=1.0).step)
    for number in range(step, count + 1, step):
        x = _x(number - 1, count)
        parts.append(element("path", d=f"M{x:.1f} {_TOP + _TALL}v4", stroke="currentColor"))
        parts.append(written(x, _TOP + _TALL + 19.0, str(number), size=_SIZE, anchor="middle"))
    return "".join(parts)


def _between(chart: SignalChart, along: Scale) -> str:
    """A wash between the limits, so that a point beyond them is seen before a line is followed."""
    low, high = (along.low if chart.lower is None else chart.lower, along.high if chart.upper is None else chart.upper)
    if chart.lower is None and chart.upper is None:
        return ""
    top, foot = _y(high, along), _y(low, along)
    wash = f"M{_LEFT} {top:.1f}h{_WIDE}V{foot:.1f}h{-_WIDE}Z"
    return element("path", d=wash, fill="currentColor", fill_opacity="0.06")


def _level(value: float, along: Scale, dash: str | None) -> str:
    look = {"stroke": FAINT if dash is None else ACCENT, "stroke_width": 1.2, "stroke_dasharray": dash}
    name = "faint-line" if dash is None else "accent-line"
    return element("path", d=f"M{_LEFT} {_y(value, along):.1f}h{_WIDE}", class_=name, **look)


def _level_values(chart: SignalChart, along: Scale, lettering: Lettering) -> list[str]:
    """Centre and limits in figures beside their lines, apart where the lines are close."""
    values = sorted((value for value, _ in _levels(chart)), reverse=True)
    heights = spread([_y(value, along) for value in values], gap=16.0, least=_TOP, most=_TOP + _TALL)
    return [
        written(_LEFT + _WIDE + 6.0, y + 4.0, figure(value, along.decimals + 1, lettering), size=_SIZE)
        for y, value in zip(heights, values, strict=True)
    ]


def _event(event: ChartEvent, count: int) -> str:
    x = _x(event.before_point - 0.5, count)
    line = element("path", d=f"M{x:.1f} {_TOP}v{_TALL}", stroke="currentColor", stroke_dasharray="2 3")
    return line + written(x, _TOP - 5.0, event.letter, size=_SIZE, anchor="middle", font_weight="bold")


def _values(values: NDArray[np.float64] | None, along: Scale, count: int) -> str:
    if values is None:
        return ""
    look = {"fill": FAINT, "class_": "faint"}
    return "".join(
        element("circle", cx=_x(i, count), cy=_y(float(value), along), r=1.8, **look)
        for i, value in enumerate(values)
        if np.isfinite(value)
    )


def _points(chart: SignalChart, along: Scale, count: int) -> str:
    places = [(_x(i, count), _y(float(value), along)) for i, value in enumerate(chart.points)]
    parts = [element("path", d=path(places), fill="none", stroke=_COLOUR, stroke_width=1.6)]
    for i, (x, y) in enumerate(places):
        if i in chart.signalled:
            parts.append(element("rect", x=x - 3.5, y=y - 3.5, width=7.0, height=7.0, fill=ACCENT, class_="accent"))
            parts.append(
                element("circle", cx=x, cy=y, r=8.0, fill="none", stroke=ACCENT, stroke_width=1.6, class_="accent-line")
            )
        else:
            parts.append(element("circle", cx=x, cy=y, r=2.6, fill=_COLOUR))
    return element("g", *parts, class_="line")


def _description(chart: SignalChart, unit: str, words: SignalWords, lettering: Lettering) -> str:
    first, last = (figure(float(chart.points[i]), 2, lettering) for i in (0, -1))
    parts = [words.points.format(count=chart.points.size, first=first, last=f"{last} {unit}")]
    for name, value in ((words.centre, chart.centre), (words.lower, chart.lower), (words.upper, chart.upper)):
        if value is not None:
            parts.append(f"{name} {figure(value, 2, lettering)} {unit}")
    if chart.signalled:
        parts.append(f"{words.signalled}: " + ", ".join(str(i + 1) for i in sorted(chart.signalled)))
    told = ((words.before.format(letter=one.letter, number=one.before_point + 1), one.words) for one in chart.events)
    parts += [f"{before}: {what}" for before, what in told]
    return "; ".join(parts) + "."
