"""What the Board shows: days as strips, orders with their promise, and what a proposal would change."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from lapwright.app.queue import Board, BoardChange, OrderOutlook
from lapwright.app.queue_shop import laboratory_zone
from lapwright.app.queue_words import length, reasons
from lapwright.model.board import PlannedTask
from lapwright.reports.drawing.board import BoardBar, BoardDay, BoardRow, BoardWords, board_day, tone_sign
from lapwright.web import sentences
from lapwright.web.board_forms import KINDS
from lapwright.web.board_window import Window
from lapwright.web.sentences import day_form

_HOUR = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRow:
    """An order in the list: its outlook, its chance in words, why it is late, and how it stood before."""

    outlook: OrderOutlook
    chance: str
    late: str
    reasons: tuple[str, ...]
    was: OrderOutlook | None

    @property
    def late_said(self) -> str:
        """How late, beside the mark."""
        return _("%(by)s late") % {"by": self.late}

    @property
    def shift(self) -> str:
        """How much later or earlier it is planned than before."""
        if self.was is None:
            return ""
        by = (self.outlook.planned - self.was.planned).total_seconds()
        if abs(by) < 300.0:
            return _("as before")
        return (_("%(by)s later") if by > 0 else _("%(by)s earlier")) % {"by": length(abs(by))}


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeRow:
    """A task that a proposal moves, in words."""

    task: str
    word: str
    before: str
    after: str


def order_rows(board: Board) -> list[OrderRow]:
    """The orders of a Board, the latest first."""
    was = {one.order_id: one for one in board.was}
    return [
        OrderRow(
            outlook=one,
            chance=chance_text(one.chance),
            late=length(one.late) if one.late > 0.0 else "",
            reasons=reasons(board, one) if one.late > 0.0 else (),
            was=was.get(one.order_id),
        )
        for one in board.orders
    ]


def chance_text(chance: float | None) -> str:
    """A chance in percent, none of which is ever certain."""
    if chance is None:
        return "–"
    if chance < 0.01:
        return "< 1\u00a0%"
    return "> 99\u00a0%" if chance > 0.99 else f"{100.0 * chance:.0f}\u00a0%"


def change_rows(board: Board, window: Window) -> list[ChangeRow]:
    """What a proposal moves, task by task: what is or was under way in the days shown."""
    words = {
        "new": _("new"), "gone": _("no longer"), "place": _("other place"), "earlier": _("earlier"), "later": _("later")
    }  # fmt: skip
    return [
        ChangeRow(task=said(one), word=words[one.kind], before=_spot(one.before), after=_spot(one.after))
        for one in board.changes
        if window.holds(one.before) or window.holds(one.after)
    ]


def said(thing: BoardChange | PlannedTask) -> str:
    """A task in words: wafer and stage."""
    return f"{thing.task_id.partition('/')[0]}, {sentences.said(thing.name)}"


def day_drawings(board: Board, days: Sequence[date]) -> list[tuple[str, str]]:
    """A strip for each of some days: its title and its drawing."""
    looks = _looks_of(board)
    return [(date_format(day, day_form("l j F")), board_day(_strip(board, looks, day), words=_words())) for day in days]


def order_signs(board: Board, days: Sequence[date]) -> list[tuple[str, str]]:
    """The orders worked on in some days, each with the tone of its bars."""
    zone = laboratory_zone()
    at_work = {one.order_id for one in board.tasks if datetime.fromtimestamp(one.begin, tz=zone).date() in days}
    return [(order, tone_sign(tone)) for order, tone in _looks_of(board).tones.items() if order in at_work]


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Looks:
    """What the looks of bars hang on, gathered once for a Board."""

    loads: tuple[tuple[PlannedTask, ...], ...]
    late: frozenset[str]
    tones: dict[str, int]
    running: frozenset[str]
    changed: frozenset[str]
    held: frozenset[str]


def _looks_of(board: Board) -> _Looks:
    return _Looks(
        loads=_loads(board.tasks),
        late=frozenset(one.order_id for one in board.orders if one.late > 0.0),
        tones={one.job_id: number for number, one in enumerate(board.now.shop.jobs)},
        running=frozenset(task.task_id for task in board.now.shop.tasks if task.running),
        changed=frozenset(one.task_id for one in board.changes),
        held=frozenset(one.task_id for one in board.held),
    )


def _words() -> BoardWords:
    return BoardWords(now=_("now"), night=_("night"), closed=_("closed"))


def _spot(task: PlannedTask | None) -> str:
    if task is None:
        return "–"
    start = datetime.fromtimestamp(task.start, tz=laboratory_zone())
    return f"{task.place_id}, {date_format(start, day_form('D j M'))} {start:%H:%M}"


def _strip(board: Board, looks: _Looks, day: date) -> BoardDay:
    zone = laboratory_zone()
    midnight = datetime(day.year, day.month, day.day, tzinfo=zone)
    morning = midnight + timedelta(days=1)
    first, last = _hours_of(board, midnight, morning)
    after, _unused = _hours_of(board, morning, morning + timedelta(days=1))
    hours = [midnight + timedelta(hours=hour) for hour in range(25)]
    marks = tuple((one.timestamp(), f"{one:%H}") for one in hours if first <= one.timestamp() <= last)
    now = board.now.at.timestamp()
    return BoardDay(
        title=date_format(midnight, day_form("l j F Y")),
        start=first,
        end=last,
        next=max(after, last + _HOUR),
        now=now if midnight.timestamp() <= now < morning.timestamp() else None,
        marks=marks,
        rows=tuple(_rows(board, looks, midnight.timestamp(), morning.timestamp(), max(after, last + _HOUR))),
    )


def _hours_of(board: Board, midnight: datetime, morning: datetime) -> tuple[float, float]:
    """The hours of a day: those in which somebody is there and something is begun, widened to full hours."""
    start, end = midnight.timestamp(), morning.timestamp()
    edges = [
        (max(start, board.now.moment(one.start).timestamp()), min(end, board.now.moment(one.end).timestamp()))
        for one in board.now.shop.shifts
    ]
    inside = [(first, last) for first, last in edges if first < last]
    begun = [one.begin for one in board.tasks if start <= one.begin < end]
    usual = [(one.start, one.end) for one in board.now.hours.week if one.weekday == midnight.weekday()]
    lows = [first for first, _last in inside] + begun + [start + low for low, _high in usual]
    highs = [last for _first, last in inside] + begun + [start + high for _low, high in usual]
    low, high = min(lows, default=start + 8 * _HOUR), max(highs, default=start + 17 * _HOUR)
    return low // _HOUR * _HOUR, max(-(-high // _HOUR) * _HOUR, low + _HOUR)


def _rows(board: Board, looks: _Looks, start: float, end: float, until: float) -> Iterator[BoardRow]:
    """Places, people and what cools, of one day."""
    loads: dict[str, list[tuple[PlannedTask, ...]]] = defaultdict(list)
    for load in looks.loads:
        if load[0].begin < until and load[0].end > start:
            loads[load[0].place_id].append(load)
    for place in board.now.places:
        closed = tuple((one.start, one.end, one.reason) for one in place.closed if one.end > start and one.start < end)
        yield BoardRow(
            row_id=place.place_id,
            name=place.place_id,
            kind=str(dict(KINDS)[place.kind]),
            bars=tuple(_bar(looks, load) for load in loads[place.place_id] if load[0].begin < end),
            closed=closed,
        )
    yield from _people(board, start, end)
    cooling = tuple(_cooling(board, looks, start, end))
    if cooling:
        yield BoardRow(row_id="", name=_("cools"), bars=cooling, is_thin=True)


def _loads(tasks: Sequence[PlannedTask]) -> tuple[tuple[PlannedTask, ...], ...]:
    found: dict[tuple[str, float], list[PlannedTask]] = defaultdict(list)
    for one in sorted(tasks, key=lambda each: (not each.leads, each.task_id)):
        found[(one.place_id, one.start)].append(one)
    return tuple(map(tuple, found.values()))


def _bar(looks: _Looks, load: Sequence[PlannedTask]) -> BoardBar:
    first = load[0]
    zone = laboratory_zone()
    start, stop = (datetime.fromtimestamp(at, tz=zone) for at in (first.start, first.end))
    wafers = [one.task_id.partition("/")[0] for one in load]
    name, why = str(sentences.said(first.name)), str(sentences.said(first.why))
    words = [
        f"{', '.join(wafers)}, {name}",
        f"{first.place_id}, {date_format(start, 'D')} {start:%H:%M}–{stop:%H:%M}",
    ]
    if why:
        words.append(_("before it: %(why)s") % {"why": why})
    is_late = any(one.order_id in looks.late for one in load)
    for condition, word in (
        (is_late, _("its order is late")), (first.task_id in looks.running, _("runs now")),
        (first.task_id in looks.held, _("set by hand")), (first.task_id in looks.changed, _("moved by this proposal")),
    ):  # fmt: skip
        if condition:
            words.append(word)
    return BoardBar(
        task_id=first.task_id,
        labels=_labels(wafers, name),
        said=", ".join(words),
        begin=first.begin,
        start=first.start,
        end=first.end,
        why=why,
        tone=looks.tones.get(first.order_id, 0),
        href="" if first.task_id in looks.running else f"{reverse('board')}?{urlencode({'task': first.task_id})}#task",
        is_late=is_late,
        is_running=first.task_id in looks.running,
        is_held=any(one.task_id in looks.held for one in load),
        is_changed=any(one.task_id in looks.changed for one in load),
    )


def _labels(wafers: Sequence[str], name: str) -> tuple[str, ...]:
    tails = [wafer.rpartition("-")[2] for wafer in wafers]
    order = wafers[0].rpartition("-")[0]
    short = order.rpartition("-")[2] or order
    listed = " ".join(tails)
    more = f"{tails[0]}+" if len(tails) > 1 else tails[0]
    return (f"{order}-{listed} {name}", f"{short}-{listed} {name}", f"{short}-{listed}", listed, more)


def _people(board: Board, start: float, end: float) -> Iterator[BoardRow]:
    """What binds each of the people: changeovers, loading, work by hand; whoever has his hands free takes the next."""
    tasks = {task.task_id: task for task in board.now.shop.tasks}
    most = max((one.people for one in board.now.shop.shifts), default=0)
    free = [0.0] * most
    bars: list[list[BoardBar]] = [[] for _one in range(most)]
    for one in sorted(board.tasks, key=lambda each: (each.begin, each.task_id)):
        task = tasks.get(one.task_id)
        if task is None or task.running or not one.leads:
            continue
        until = one.start + min(task.hands, task.duration)
        if until <= one.begin or not most:
            continue
        fits = [number for number in range(most) if free[number] <= one.begin + 1.0]
        person = max(fits, key=lambda number: free[number]) if fits else min(range(most), key=lambda each: free[each])
        free[person] = until
        if start <= one.begin < end:
            words = f"{one.place_id}: {sentences.said(one.why or one.name)}"
            bars[person].append(
                BoardBar(
                    task_id=one.task_id,
                    labels=(words, one.place_id),
                    said=f"{words}, {said(one)}",
                    begin=one.begin,
                    start=one.begin,
                    end=until,
                    tone=None,
                )
            )
    for number, mine in enumerate(bars, start=1):
        if mine:
            name = ngettext("hands %(n)d", "hands %(n)d", number) % {"n": number}
            yield BoardRow(row_id="", name=name, bars=tuple(mine), is_thin=True)


def _cooling(board: Board, looks: _Looks, start: float, end: float) -> Iterator[BoardBar]:
    tasks = {task.task_id: task for task in board.now.shop.tasks}
    for one in board.tasks:
        task = tasks.get(one.task_id)
        if task is not None and task.rest > 0.0 and start <= one.end < end:
            wafer = one.task_id.partition("/")[0]
            yield BoardBar(
                task_id=one.task_id, labels=(wafer.rpartition("-")[2],), said=_("%(wafer)s cools") % {"wafer": wafer},
                begin=one.end, start=one.end, end=one.end + task.rest,
                tone=looks.tones.get(one.order_id, 0),
            )  # fmt: skip
