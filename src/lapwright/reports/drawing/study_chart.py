"""A gauge study drawn: every reading by part and operator, so that the eye finds the odd part and the odd hand.

Operators differ by the shape of their marks; the line through a column joins its least and greatest reading. Values
come in the unit that is printed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import TooFewSites
from lapwright.reports.drawing.ink import ENGLISH, FAINT, Lettering, drawing, element, figure, path, table, written
from lapwright.reports.drawing.scale import Scale, even_scale

_LEFT, _TOP, _WIDE, _TALL = 66.0, 48.0, 560.0, 220.0
_COLOUR = "currentColor"
_MOST_NAMES = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyWords:
    """The words of this drawing; places: unit, counts of readings and parts, names of operators."""

    axis: str = "{unit} from the mean of its part"
    told: str = "{readings} readings of {parts} parts by {operators}, {unit} from each part's mean."


WORDS = StudyWords()


def study_chart(
    value: NDArray[np.float64],
    part: NDArray[np.intp],
    operator: NDArray[np.intp],
    *,
    names: tuple[Sequence[str], Sequence[str]],
    unit: str,
    title: str,
    words: StudyWords = WORDS,
    lettering: Lettering = ENGLISH,
) -> str:
    """SVG of the readings of a study, as deviations from the mean of their part; `names` of parts and operators."""
    if not value.size:
        raise TooFewSites("A study", measured=0, needed=1)
    parts, operators = names
    means = {int(p): float(value[part == p].mean()) for p in np.unique(part)}
    off = value - np.array([means[int(p)] for p in part])
    along = even_scale(min(float(off.min()), 0.0), max(float(off.max()), 0.0), marks=5)
    return drawing(
        written(_LEFT - 58.0, 18.0, words.axis.format(unit=unit), size=12.0),
        _key(operators),
        _axes(along, parts, lettering),
        *(_cell(off, part, operator, (p, o), (len(parts), len(operators)), along)
          for p in range(len(parts)) for o in range(len(operators))),
        title=title,
        desc=words.told.format(readings=value.size, parts=len(parts), operators=", ".join(operators), unit=unit),
        width=_LEFT + _WIDE + 14.0,
        height=_TOP + _TALL + 40.0,
        lettering=lettering,
        data=table(("part", "operator", f"value, {unit}", words.axis.format(unit=unit)),
                   ((parts[p], operators[o], v, d) for p, o, v, d in zip(part, operator, value, off, strict=True))),
    )  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _y(value: float, along: Scale) -> float:
    return _TOP + _TALL * (1.0 - along.share(value))


def _key(operators: Sequence[str]) -> str:
    parts, x = [], _LEFT
    for number, name in enumerate(operators):
        parts.append(_mark(number, x, 34.0) + written(x + 9.0, 38.0, name, size=12.0))
        x += 30.0 + 8.0 * len(name)
    return "".join(parts)


def _axes(along: Scale, parts: Sequence[str], lettering: Lettering) -> str:
    drawn = []
    for tick in along.ticks:
        y = _y(tick, along)
        look = {"stroke": FAINT, "stroke_width": 1.2 if tick == 0.0 else 0.4, "class_": "faint-line"}
        drawn.append(element("path", d=f"M{_LEFT} {y:.1f}h{_WIDE}", **look))
        drawn.append(written(_LEFT - 8.0, y + 4.0, figure(tick, along.decimals, lettering), size=12.0, anchor="end"))
    drawn.append(element("path", d=f"M{_LEFT} {_TOP}v{_TALL}h{_WIDE}", fill="none", stroke="currentColor"))
    wide = _WIDE / len(parts)
    every = max(1, -(-len(parts) // _MOST_NAMES))
    for number, name in enumerate(parts):
        x = _LEFT + wide * number
        if number:
            drawn.append(
                element("path", d=f"M{x:.1f} {_TOP}v{_TALL}", stroke=FAINT, stroke_width=0.3, class_="faint-line")
            )
        if number % every == 0:
            drawn.append(written(x + wide / 2.0, _TOP + _TALL + 18.0, name[:9], size=12.0, anchor="middle"))
    return "".join(drawn)


def _cell(
    off: NDArray[np.float64], part: NDArray[np.intp], operator: NDArray[np.intp], cell: tuple[int, int],
    counts: tuple[int, int], along: Scale,
) -> str:  # fmt: skip
    read = off[(part == cell[0]) & (operator == cell[1])]
    if not read.size:
        return ""
    x = _LEFT + _WIDE / counts[0] * (cell[0] + (cell[1] + 1.0) / (counts[1] + 1.0))
    ends = [(x, _y(float(end), along)) for end in (read.min(), read.max())]
    line = element("path", d=path(ends), stroke=_COLOUR, stroke_width=1.2, class_="line")
    return line + "".join(_mark(cell[1], x, _y(float(one), along)) for one in read)


def _mark(number: int, x: float, y: float) -> str:
    kind = number % 4
    if kind == 0:
        return element("circle", cx=x, cy=y, r=3.4, fill=_COLOUR)
    if kind == 1:
        return element("rect", x=x - 3.2, y=y - 3.2, width=6.4, height=6.4, fill=_COLOUR)
    corners = [(x, y - 4.4), (x + 4.2, y + 3.4), (x - 4.2, y + 3.4)]
    if kind == 2:
        return element("path", d=path(corners, closed=True), fill=_COLOUR)
    return element("path", d=path([(x, y - 4.4), (x + 4.4, y), (x, y + 4.4), (x - 4.4, y)], closed=True), fill=_COLOUR)
