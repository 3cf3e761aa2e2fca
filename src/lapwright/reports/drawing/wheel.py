"""The jig as the person who turns its screws sees it: which screw, which way, how far.

Each adjuster is a wheel at its own place around the jig, with an arrow the way it has to be turned and the
divisions beside it. Seen from the operator's side the picture is mirrored against the wafer's worked face, and the
drawing says which side it shows. An adjuster that stays where it is has no arrow.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from lapwright.errors import TooFewSites
from lapwright.reports.drawing.ink import (
    ENGLISH,
    Lettering,
    clock_hour,
    drawing,
    element,
    figure,
    table,
    written,
)

View = Literal["operator", "worked_face"]
Turn = Literal["clockwise", "counter_clockwise"]

_WIDTH, _MIDDLE_X = 540.0, 270.0
_JIG, _RING, _WHEEL, _WAFER = 132.0, 100.0, 30.0, 66.0
_FAR, _WAY = 30.0, 16.0  # letters: how far is read at arm's length
_LINE, _LETTERS = 20.0, 14  # height and length of a line of the words beside a screw
_ASIDE = 0.35  # of the radius: from here on a screw stands to one side
_SEEN = 44  # letters of a line below the drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class WheelAdjuster:
    """One adjuster: azimuth in the jig turned face up [rad], move [m], divisions, and the way it is turned.

    `turn` is as seen by the person who turns it; None when it stays or when the thread is not known. `correction` is
    positive where the wafer comes nearer to the plate.
    """

    azimuth: float
    correction: float
    divisions: float
    turn: Turn | None = None
    label: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WheelWords:
    """The words of this drawing."""

    title: str = "How to turn the adjusters"
    operator: str = "seen from the operator's side (mirrored against the wafer's face)"
    worked_face: str = "seen on the worked face"
    division: str = "division"
    divisions: str = "divisions"
    stays: str = "stays"
    clockwise: str = "clockwise"
    counter_clockwise: str = "counter-clockwise"
    mark: str = "orientation mark"


WORDS = WheelWords()


def jig_wheel(
    adjusters: Sequence[WheelAdjuster],
    *,
    view: View = "operator",
    decimals: int = 2,
    words: WheelWords = WORDS,
    lettering: Lettering = ENGLISH,
) -> str:
    """SVG of the jig with its adjusters; `decimals` is what the smallest part of a division needs."""
    if len(adjusters) < 3:
        raise TooFewSites("A drawing of a jig", measured=len(adjusters), needed=3)
    mirror = -1.0 if view == "operator" else 1.0
    told = [_Told(one, mirror, decimals, words, lettering) for one in adjusters]
    middle = 20.0 + max(_JIG, *(one.reach_up for one in told))
    low = middle + max(_JIG, *(one.reach_down for one in told)) + 38.0
    body = [
        element("circle", cx=_MIDDLE_X, cy=middle, r=_JIG, fill="none", stroke="currentColor", stroke_width=2.0),
        element(
            "circle", cx=_MIDDLE_X, cy=middle, r=_WAFER, fill="none", stroke="#7b8794", stroke_width=1.0,
            stroke_dasharray="4 3", class_="faint-line",
        ),
        element(
            "path", d=f"M{_MIDDLE_X - 9:.1f} {middle + _WAFER - 1:.1f}h18", stroke="currentColor", stroke_width=4.0
        ),
        written(_MIDDLE_X, middle + 36.0, words.mark, size=11.5, anchor="middle"),
    ]  # fmt: skip
    seen = words.operator if view == "operator" else words.worked_face
    lines = textwrap.wrap(seen, _SEEN)
    return drawing(
        *body,
        *(one.drawn(middle) for one in told),
        *(written(_MIDDLE_X, low + 18.0 * i, line, size=14, anchor="middle") for i, line in enumerate(lines)),
        title=words.title,
        desc=seen + ". " + "; ".join(_in_words(a, mirror, decimals, words, lettering) for a in adjusters) + ".",
        width=_WIDTH,
        height=low + 18.0 * len(lines) - 8.0,
        lettering=lettering,
        data=table(
            ("adjuster", "azimuth_deg", "correction_um", "divisions", "turn"),
            (
                (one.label, math.degrees(one.azimuth), one.correction * 1e6, one.divisions, one.turn)
                for one in adjusters
            ),
        ),
    )


# ----------------------------------------------------------------------------------------------------------------------


class _Told:
    """One adjuster with what stands beside it: how far, then the words, in lines from the top."""

    def __init__(
        self, adjuster: WheelAdjuster, mirror: float, decimals: int, words: WheelWords, lettering: Lettering
    ) -> None:
        self.adjuster = adjuster
        self.across, self.up = mirror * math.cos(adjuster.azimuth), math.sin(adjuster.azimuth)
        self.name = _name(adjuster, mirror)
        self.far, _, unit = _how_far(adjuster, decimals, words, lettering).partition(" ")
        small = [unit] if unit else []
        self.small = [*small, *(part for one in _smaller_lines(adjuster, words, lettering) for part in _wrapped(one))]

    @property
    def _first(self) -> float:
        """Where the line of the number stands, below the middle of the jig."""
        beside = -(_JIG + 14.0) * self.up
        if self.up > _ASIDE:
            return beside + 4.0 - _LINE * len(self.small)
        return beside + (24.0 if self.up < -_ASIDE else -10.0)

    @property
    def reach_up(self) -> float:
        """How far its words reach above the middle of the jig."""
        return _FAR - self._first

    @property
    def reach_down(self) -> float:
        """How far its words reach below it."""
        return self._first + _LINE * len(self.small)

    def drawn(self, middle: float) -> str:
        """The wheel, the arrow and the words."""
        x, y = _MIDDLE_X + _RING * self.across, middle - _RING * self.up
        parts = [
            element("circle", cx=x, cy=y, r=_WHEEL, class_="paper", fill="#ffffff"),
            element("circle", cx=x, cy=y, r=_WHEEL, fill="none", stroke="currentColor", stroke_width=1.6),
            *_notches(x, y),
        ]
        if self.adjuster.turn is not None and self.adjuster.divisions != 0.0:
            parts.append(_arrow(x, y, self.adjuster.turn))
        parts.append(written(x, y + 6.5, self.name, size=18, anchor="middle", font_weight="bold"))
        anchor = "start" if self.across > _ASIDE else "end" if self.across < -_ASIDE else "middle"
        text_x = _MIDDLE_X + (_JIG + 14.0) * self.across + (6.0 * self.across if anchor != "middle" else 0.0)
        text_y = middle + self._first
        size = _FAR if self.far[:1].isdigit() else _WAY
        parts.append(written(text_x, text_y, self.far, size=size, anchor=anchor, font_weight="bold"))
        parts += [
            written(text_x, text_y + _LINE * (i + 1), line, size=_WAY, anchor=anchor)
            for i, line in enumerate(self.small)
        ]
        return element("g", *parts, class_="adjuster")


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, _LETTERS, break_long_words=False) if "µm" not in text else [text]


def _notches(x: float, y: float) -> list[str]:
    marks = []
    for k in range(12):
        a = math.tau * k / 12.0
        c, s = math.cos(a), math.sin(a)
        near, far = _WHEEL - 4.0, _WHEEL
        d = f"M{x + near * c:.1f} {y + near * s:.1f}L{x + far * c:.1f} {y + far * s:.1f}"
        marks.append(element("path", d=d, stroke="currentColor", stroke_width=0.8))
    return marks


def _arrow(x: float, y: float, turn: Turn) -> str:
    """An arc over the wheel with its head where the turn goes."""
    r = _WHEEL + 7.0
    side = 1.0 if turn == "clockwise" else -1.0
    c, s = math.cos(math.radians(35.0)), math.sin(math.radians(35.0))
    start, end = (x - side * r * c, y - r * s), (x + side * r * c, y - r * s)
    sweep = 1 if turn == "clockwise" else 0
    arc = f"M{start[0]:.1f} {start[1]:.1f}A{r:.0f} {r:.0f} 0 0 {sweep} {end[0]:.1f} {end[1]:.1f}"
    back, side_x, drop = end[0] - side * 11.0, end[0] + side * 1.5, end[1] - 11.0
    head = f"M{back:.1f} {end[1] - 1:.1f}L{end[0]:.1f} {end[1]:.1f}L{side_x:.1f} {drop:.1f}"
    look = {"fill": "none", "stroke": "#a8321a", "stroke_width": 2.8, "stroke_linecap": "round"}
    return element("path", d=arc + head, stroke_linejoin="round", class_="accent-line", **look)


def _name(adjuster: WheelAdjuster, mirror: float) -> str:
    """The label engraved on it, or the clock position it has in this view."""
    if adjuster.label:
        return adjuster.label
    seen = math.degrees(math.atan2(math.sin(adjuster.azimuth), mirror * math.cos(adjuster.azimuth)))
    return f"{clock_hour(seen)}:00"


def _how_far(adjuster: WheelAdjuster, decimals: int, words: WheelWords, lettering: Lettering) -> str:
    if adjuster.divisions == 0.0:
        return words.stays
    amount = abs(adjuster.divisions)
    word = words.division if amount == 1.0 else words.divisions
    return f"{figure(amount, decimals, lettering)} {word}"


def _smaller_lines(adjuster: WheelAdjuster, words: WheelWords, lettering: Lettering) -> list[str]:
    """Which way, if it is turned at all, and how far that moves the adjuster."""
    sign = "+" if adjuster.correction > 0.0 else ""
    move = f"{sign}{figure(adjuster.correction * 1e6, 1, lettering)} µm"
    if adjuster.turn is None or adjuster.divisions == 0.0:
        return [move]
    return [getattr(words, adjuster.turn), move]


def _in_words(adjuster: WheelAdjuster, mirror: float, decimals: int, words: WheelWords, lettering: Lettering) -> str:
    seen = math.degrees(math.atan2(math.sin(adjuster.azimuth), mirror * math.cos(adjuster.azimuth)))
    place = adjuster.label or f"{clock_hour(seen)} {lettering.o_clock}"
    told = [_how_far(adjuster, decimals, words, lettering), *_smaller_lines(adjuster, words, lettering)]
    return f"{place}: {', '.join(told)}"
