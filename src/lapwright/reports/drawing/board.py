"""The schedule of one day: places downwards, the hours across, what nobody works folded to a narrow strip at the end.

Loads are bars with their wafers and stage; the changeover before one is a hatched gap with its reason. People and
cooling have rows of their own. Every bar of a place is a link, so that it is reached by keyboard and without a script.
What a place has at once, two wafers on one bonder, lies one below the other: none hides another.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache

from lapwright.reports.drawing.ink import ENGLISH, INK, Lettering, clean, element, hatch, own_id, short, table, written

_LEFT, _TOP, _LONG, _NIGHT = 116.0, 30.0, 750.0, 64.0
_ROW, _THIN = 44.0, 24.0
_LANE = 26.0  # of what lies one below the other in a row
_LETTER = 7.0
#: Grounds of orders, in turn; dark letters stand on them in any light.
_GROUNDS = ("#cfe0ee", "#f0dcb4", "#d6e6cd", "#e6d3e6")
_NOBODYS = "#e4e1da"  # of what belongs to no single order


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardBar:
    """A load on a place: labels from long to short, times [s of the day's clock], and how it stands.

    `tone` counts orders, None belongs to none; `why` is what is done from `begin` to `start`. `href` leads to what can
    be done with it.
    """

    task_id: str
    labels: tuple[str, ...]
    said: str
    begin: float
    start: float
    end: float
    why: str = ""
    tone: int | None = 0
    href: str = ""
    is_late: bool = False
    is_running: bool = False
    is_held: bool = False
    is_changed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardRow:
    """A place, a person, or what cools: its name and kind, its bars, when it is closed and why. Thin ones are none."""

    row_id: str
    name: str
    bars: tuple[BoardBar, ...]
    closed: tuple[tuple[float, float, str], ...] = ()
    is_thin: bool = False
    kind: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardDay:
    """A day: its hours from `start` to `end`, the `next` morning, and `now` when it lies in it. Seconds since 1970.

    `marks` are the full hours with their words.
    """

    title: str
    start: float
    end: float
    next: float
    now: float | None
    marks: tuple[tuple[float, str], ...]
    rows: tuple[BoardRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardWords:
    """The words of this drawing."""

    now: str = "now"
    night: str = "night"
    closed: str = "closed"


WORDS = BoardWords()


def tone_sign(tone: int) -> str:
    """A small field in the tone of an order, for a key beside the days."""
    ground = _GROUNDS[tone % len(_GROUNDS)]
    field = element("rect", x=0.5, y=0.5, width=25.0, height=13.0, rx=2, fill=ground, stroke=INK)
    return element("svg", field, viewBox="0 0 26 14", width=26, height=14, aria_hidden="true")


@lru_cache(maxsize=64)  # the same schedule is looked at again and again
def board_day(day: BoardDay, *, words: BoardWords = WORDS, lettering: Lettering = ENGLISH) -> str:
    """SVG of one day of a schedule."""
    pattern = own_id("gap", day.title, day.start)
    parts, y = [], _TOP
    for row in day.rows:
        parts.append(_row(day, row, y, pattern, words))
        y += _tall(row)
    return element(
        "svg",
        element("metadata", clean(_loads(day)), class_="data"),
        element("defs", hatch(pattern, colour="currentColor", gap=6.0, angle=45, weight=0.8)),
        _hours(day, y, words),
        *parts,
        _now(day, y, words),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {short(_LEFT + _LONG + _NIGHT + 8.0)} {short(y + 18.0)}",
        width=_LEFT + _LONG + _NIGHT + 8.0,
        height=y + 18.0,
        role="group",
        aria_label=day.title,
        class_="drawing board-day",
        color=INK,
        font_family=lettering.font,
        data_left=_LEFT,
        data_long=_LONG,
        data_start=f"{day.start:.0f}",
        data_end=f"{day.end:.0f}",
    )


# ----------------------------------------------------------------------------------------------------------------------


def _loads(day: BoardDay) -> str:
    """The bars of the day as CSV, times in UTC."""
    return table(
        ("row", "work", "begins", "starts", "ends", "changeover", "late"),
        (
            (row.name, bar.said, *(_moment(at) for at in (bar.begin, bar.start, bar.end)), bar.why,
             "yes" if bar.is_late else "no")
            for row in day.rows
            for bar in row.bars
        ),
    )  # fmt: skip


def _moment(at: float) -> str:
    return datetime.fromtimestamp(at, tz=UTC).strftime("%Y-%m-%dT%H:%MZ")


def _x(day: BoardDay, at: float) -> float:
    """Where a moment lies: hours to scale, the time until morning folded."""
    if at <= day.end:
        return _LEFT + _LONG * max(0.0, at - day.start) / (day.end - day.start)
    return _LEFT + _LONG + _NIGHT * min(1.0, (at - day.end) / (day.next - day.end))


def _hours(day: BoardDay, bottom: float, words: BoardWords) -> str:
    lines = []
    for at, text in day.marks:
        x = _x(day, at)
        lines.append(element("path", d=f"M{short(x)} {short(_TOP - 6.0)}V{short(bottom)}", stroke="#7b8794",
                             stroke_width=0.6, class_="faint-line", fill="none"))  # fmt: skip
        lines.append(written(x, _TOP - 12.0, text, size=12.0, anchor="middle"))
    edge = _LEFT + _LONG
    lines.append(element("rect", x=edge, y=_TOP - 6.0, width=_NIGHT, height=bottom - _TOP + 6.0, fill="currentColor",
                         fill_opacity=0.06))  # fmt: skip
    lines.append(written(edge + _NIGHT / 2.0, _TOP - 12.0, words.night, size=12.0, anchor="middle"))
    return element("g", *lines)


def _now(day: BoardDay, bottom: float, words: BoardWords) -> str:
    if day.now is None:
        return ""
    x = _x(day, day.now)
    line = element("path", d=f"M{short(x)} {short(_TOP - 8.0)}V{short(bottom)}", stroke="#a8321a", stroke_width=2.0,
                   class_="accent-line", fill="none")  # fmt: skip
    return line + written(x, bottom + 13.0, words.now, size=12.0, anchor="middle", class_="accent", fill="#a8321a")


def _lanes(bars: Sequence[BoardBar]) -> list[tuple[int, int]]:
    """Of each bar its lane from the top, and into how many lanes those that run at the time are told apart."""
    found: dict[int, tuple[int, int]] = {}
    together: list[int] = []
    ends: list[float] = []  # of each lane
    until = -math.inf
    for place in sorted(range(len(bars)), key=lambda one: (bars[one].start, one)):
        bar = bars[place]
        if bar.start >= until:  # nothing runs on
            together, ends = [], []
        lane = next((n for n, end in enumerate(ends) if end <= bar.start), len(ends))
        ends[lane : lane + 1] = [bar.end]
        together.append(place)
        until = max(until, bar.end)
        found[place] = (lane, 1)
        found |= {one: (found[one][0], len(ends)) for one in together}
    return [found[place] for place in range(len(bars))]


def _tall(row: BoardRow) -> float:
    """Height of a row: room for all that it has at once."""
    most, least = _most(row), _THIN if row.is_thin else _ROW
    return least if most == 1 else max(least, _LANE * most)


def _most(row: BoardRow) -> int:
    return max((of for _, of in _lanes(row.bars)), default=1)


def _row(day: BoardDay, row: BoardRow, y: float, pattern: str, words: BoardWords) -> str:
    tall, most = _tall(row), _most(row)
    right = _LEFT + _LONG + _NIGHT
    parts = [
        element("path", d=f"M0 {short(y + tall)}H{short(right)}", stroke="#7b8794", stroke_width=0.6,
                class_="faint-line", fill="none"),
        written(2.0, y + tall / 2.0 + (-2.0 if row.kind else 4.0), row.name[:14], size=12 if row.is_thin else 13),
        written(2.0, y + tall / 2.0 + 13.0, row.kind, size=11.5) if row.kind else "",
    ]  # fmt: skip
    for start, end, why in row.closed:
        first, last = _x(day, max(start, day.start)), _x(day, min(end, day.next))
        if end > day.start and start < day.next and last > first:
            parts.append(_gap(first, last, y, tall, pattern, f"{words.closed}: {why}" if why else words.closed))
    for bar, (lane, of) in zip(row.bars, _lanes(row.bars), strict=True):
        high = tall / (most if row.is_thin else of)
        top = y + lane * high
        parts.append(_bar(day, bar, top, high, pattern, is_thin=row.is_thin))
    return element("g", *parts, class_="board-row", data_row=None if row.is_thin else row.row_id)


def _gap(first: float, last: float, y: float, tall: float, pattern: str, text: str) -> str:
    """A stretch in which the place is not worked on, hatched, with its reason."""
    box = {"x": first, "y": y + 6.0, "width": max(last - first, 1.0), "height": tall - 12.0}
    parts = [
        element("title", clean(text)),
        element(
            "rect", **box, fill=f"url(#{pattern})", stroke="currentColor", stroke_width=0.8, stroke_dasharray="3 2"
        ),
    ]
    room = int((last - first - 6.0) / (_LETTER * 0.85))
    if room >= 4:
        shown = text if len(text) <= room else text[: max(1, room - 1)] + "…"
        wide = len(shown) * _LETTER * 0.85 + 6.0
        parts.append(element("rect", x=first + 2.0, y=y + tall / 2.0 - 8.0, width=wide, height=15.0, fill="#ffffff",
                             class_="paper"))  # fmt: skip
        parts.append(written(first + 5.0, y + tall / 2.0 + 3.5, shown, size=11.0))
    return element("g", *parts, class_="gap")


def _bar(day: BoardDay, bar: BoardBar, y: float, tall: float, pattern: str, *, is_thin: bool) -> str:
    first, last = _x(day, bar.start), max(_x(day, min(bar.end, day.next)), _x(day, bar.start) + 3.0)
    high, top = (tall - 10.0, y + 5.0) if tall >= _ROW else (tall - 8.0, y + 4.0)
    parts = [element("title", clean(bar.said))]
    if bar.why and bar.start > max(bar.begin, day.start):
        parts.insert(0, _gap(_x(day, max(bar.begin, day.start)), first, y, tall, pattern, bar.why))
    look = {"stroke": INK, "stroke_width": 2.4 if bar.is_running else 1.0}
    if bar.is_changed:
        look |= {"stroke_dasharray": "5 3", "stroke_width": 2.0}
    ground = _NOBODYS if bar.tone is None else _GROUNDS[bar.tone % len(_GROUNDS)]
    parts.append(
        element("rect", x=first, y=top, width=last - first, height=high, rx=2, fill=ground, class_="load", **look)
    )
    if bar.is_late:
        parts.append(element("rect", x=first, y=top + high - 5.0, width=last - first, height=5.0, fill="#a8321a"))
    if bar.is_held:
        parts.append(element("rect", x=first + 2.0, y=top + 2.0, width=7.0, height=7.0, fill=INK))
    parts.append(_label(bar, first, last, top, high))
    if is_thin or not bar.href:
        return element("g", *parts)
    return element(
        "a", *parts, href=bar.href, class_="load-link", aria_label=bar.said, data_task=bar.task_id,
        data_start=f"{bar.start:.0f}",
    )  # fmt: skip


def _label(bar: BoardBar, first: float, last: float, top: float, high: float) -> str:
    room = int((last - first - 6.0) / _LETTER)
    shown = next((text for text in bar.labels if len(text) <= room), "")
    shift = 9.0 if bar.is_held else 4.0
    return written(first + shift, top + high / 2.0 + 3.0, shown, size=12.0, fill=INK, class_="on-load") if shown else ""
