"""Hands: what needs a hand now, and which first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from lapwright.app import changes, room, tasks
from lapwright.model.story import DialNumber, Task
from lapwright.model.wafer_names import named_together
from lapwright.web.room_words import NEEDED_WORDS
from lapwright.web.sentences import printed, said
from lapwright.web.sockets import give_ticket
from lapwright.web.station_cards import station_cards
from lapwright.web.surroundings import now, shown

#: Page of a task -> name of the address it leads to.
PLACES = {
    "readings": "readings",
    "carrier": "readings",
    "route": "route",
    "bond": "traveller",
    "traveller": "traveller",
    "certificate": "traveller",
}
#: The same for a gauge and a plate, with the form on its page that ends the task.
DIRECTLY = {"gauges": ("gauge", "calibrate-form"), "plates": ("plate", "check-form")}
#: The same for pages of one wafer.
OF_WAFER = {"odd": "odd_one", "changeover": "changeover", "bond": "wafer", "traveller": "wafer"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of Hands: the same thing to do, with the same number, for one wafer or several."""

    verb: str
    about: str
    wafers: tuple[str, ...]
    order_id: str | None
    station_id: str | None
    dial: str | None
    dial_label: str
    since: datetime
    why: str
    address: str | None
    warning: bool
    cautions: tuple[str, ...]


@require_safe
def hands(request: HttpRequest) -> HttpResponse:
    """The page."""
    running = station_cards(now(), only_followed=True)
    written = changes.last_write()
    lines = lines_of(tasks.waiting_tasks(now=now()))
    return give_ticket(
        request,
        shown(request, "hands.html", here="hands", lines=lines, running=running, written=written, missing=_missing()),
    )


def lines_of(waiting: Iterable[Task]) -> list[Line]:
    """Tasks as lines, in their order; those that differ in the wafer alone share one."""
    together: dict[tuple[object, ...], list[Task]] = {}
    for task in waiting:
        key = (task.verb, task.order_id, task.station_id, task.page, task.piece, task.warning, _dialled(task.number))
        together.setdefault(key, []).append(task)
    return [_line(group) for group in together.values()]


# ----------------------------------------------------------------------------------------------------------------------


def _missing() -> str:
    """What is not on record that every job needs, in words; "order" when only that is missing, "" when nothing is."""
    kinds = room.missing_first()
    if not set(kinds) - {"order"}:
        return "order" if kinds else ""
    return ", ".join(str(NEEDED_WORDS[kind]) for kind in kinds)


def _line(group: list[Task]) -> Line:
    first = group[0]
    wafers = tuple(task.wafer_id for task in group if task.wafer_id is not None)
    return Line(
        verb=first.verb,
        about=" · ".join(filter(None, (named_together(wafers) or first.order_id, first.station_id, said(first.why)))),
        wafers=wafers,
        order_id=first.order_id,
        station_id=first.station_id,
        dial=_dialled(first.number),
        dial_label=first.number.label if first.number else "",
        since=min(task.since for task in group),
        why=first.why,
        address=_address(first),
        warning=first.warning,
        cautions=tuple(dict.fromkeys(caution for task in group for caution in task.cautions)),
    )


def _dialled(number: DialNumber | None) -> str | None:
    if number is None:
        return None
    return printed(number.value, number.symbol, number.dimension, digits=number.digits)


def _address(task: Task) -> str | None:
    if task.page in DIRECTLY:
        name, place = DIRECTLY[task.page]
        return reverse(task.page) if task.piece is None else f"{reverse(name, args=[task.piece])}#{place}"
    if task.order_id is None:
        return None
    return _in_order(task, task.order_id)


def _in_order(task: Task, order_id: str) -> str | None:
    if task.page in ("profiles", "surfaces"):
        return f"{reverse(task.page)}?{urlencode({'wafer': task.wafer_id or '', 'moment': 'final'})}"
    name = OF_WAFER.get(task.page)
    if name is not None and task.wafer_id is not None:
        return reverse(name, args=[order_id, task.wafer_id])
    if task.page not in PLACES:
        return None
    asked, named = ("piece", task.piece) if task.page == "carrier" else ("wafer", task.wafer_id)
    query = f"?{urlencode({asked: named})}" if named and PLACES[task.page] == "readings" else ""
    return f"{reverse(PLACES[task.page], args=[order_id])}{query}{'#documents' if task.page == 'certificate' else ''}"
