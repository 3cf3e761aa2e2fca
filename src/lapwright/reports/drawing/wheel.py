"""The jig as the person who turns its screws sees it: which screw, which way, how far.

Each adjuster is a wheel at its own place around the jig, with an arrow the way it has to be turned and the
divisions beside it. Seen from the operator's side the picture is mirrored against the wafer's worked face, and the
drawing says which side it shows. An adjuster that stays where it is has no arrow.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from lapwright.errors import TooFewSites
from lapwright.reports.drawing.ink import (
    ENGLISH,
    Lettering,
    clean,
    clock_hour,
    drawing,
    element,
    figure,
    table,
    written,
)

View = Literal["operator", "worked_face"]
Turn = Literal["clockwise", "counter_clockwise"]

_WIDTH, _HEIGHT, _MIDDLE_X, _MIDDLE_Y = 640.0, 468.0, 320.0, 236.0
_JIG, _RING, _WHEEL, _WAFER = 132.0, 100.0, 30.0, 66.0
_FAR, _WAY, _MOVE = 28.0, 16.0, 15.0  # letters: how far is read at arm's length


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
    body = [
        element("circle", cx=_MIDDLE_X, cy=_MIDDLE_Y, r=_JIG, fill="none", stroke="currentColor", stroke_width=2.0),
        element(
            "circle", cx=_MIDDLE_X, cy=_MIDDLE_Y, r=_WAFER, fill="none", stroke="#7b8794", stroke_width=1.0,
            stroke_dasharray="4 3", class_="faint-line",
        ),
        element(
            "path", d=f"M{_MIDDLE_X - 9:.1f} {_MIDDLE_Y + _WAFER - 1:.1f}h18", stroke="currentColor", stroke_width=4.0
        ),
        written(_MIDDLE_X, _MIDDLE_Y + 36.0, words.mark, size=11.5, anchor="middle"),
    ]  # fmt: skip
    places = [_one(adjuster, mirror, decimals, words, lettering) for adjuster in adjusters]
    seen = words.operator if view == "operator" else words.worked_face
    return drawing(
        *body,
        *places,
        written(_WIDTH / 2.0, _HEIGHT - 8.0, seen, size=14, anchor="middle"),
        title=words.title,
        desc=seen + ". " + "; ".join(_in_words(a, mirror, decimals, words, lettering) for a in adjusters) + ".",
        width=_WIDTH,
        height=_HEIGHT,
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


def _one(adjuster: WheelAdjuster, mirror: float, decimals: int, words: WheelWords, lettering: Lettering) -> str:
    across, up = mirror * math.cos(adjuster.azimuth), math.sin(adjuster.azimuth)
    x, y = _MIDDLE_X + _RING * across, _MIDDLE_Y - _RING * up
    parts = [
        element("circle", cx=x, cy=y, r=_WHEEL, class_="paper", fill="#ffffff"),
        element("circle", cx=x, cy=y, r=_WHEEL, fill="none", stroke="currentColor", stroke_width=1.6),
        *_notches(x, y),
    ]
    if adjuster.turn is not None and adjuster.divisions != 0.0:
        parts.append(_arrow(x, y, adjuster.turn))
    parts.append(written(x, y + 6.5, _name(adjuster, mirror), size=18, anchor="middle", font_weight="bold"))
    anchor = "start" if across > 0.35 else "end" if across < -0.35 else "middle"
    text_x = _MIDDLE_X + (_JIG + 14.0) * across + (6.0 * across if anchor != "middle" else 0.0)
    smaller = _smaller_lines(adjuster, words, lettering)
    above = -2.0 - 20.0 * len(smaller)
    text_y = _MIDDLE_Y - (_JIG + 14.0) * up + (above if up > 0.35 else 20.0 if up < -0.35 else -10.0)
    parts.append(_far(text_x, text_y, adjuster, anchor, decimals, words, lettering))
    for i, line in enumerate(smaller):
        size = _WAY if i < len(smaller) - 1 else _MOVE
        parts.append(written(text_x, text_y + 21.0 + 20.0 * i, line, size=size, anchor=anchor))
    return element("g", *parts, class_="adjuster")


def _far(
    x: float, y: float, adjuster: WheelAdjuster, anchor: str, decimals: int, words: WheelWords, lettering: Lettering
) -> str:
    """How far, with the digits large and the word beside them small."""
    number, _, word = _how_far(adjuster, decimals, words, lettering).partition(" ")
    if not word:
        return written(x, y, number, size=_WAY, anchor=anchor, font_weight="bold")
    return element(
        "text", clean(number), element("tspan", f" {clean(word)}", font_size=_WAY), x=x, y=y, font_size=_FAR,
        text_anchor=anchor, font_weight="bold", class_="ink", fill="currentColor",
    )  # fmt: skip


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
