"""Board: who works on what, when, what is late and why; and what would be if something changed."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from lapwright.app import queue, queue_settings
from lapwright.app.queue import Board, BoardQuestion
from lapwright.errors import TABLE, BadInput, LapwrightError
from lapwright.web.board_forms import HoursForm, PlaceForm, TimesForm, WhatIfForm, moment_of
from lapwright.web.board_views import change_rows, day_drawings, order_rows, said
from lapwright.web.surroundings import now, shown, signed


@require_http_methods(["GET", "HEAD", "POST"])
def board(request: HttpRequest) -> HttpResponse:
    """The schedule in force, or what was asked about; a POST accepts what was shown."""
    sent = request.POST if request.method == "POST" else request.GET
    at = moment_of(sent.get("at", "")) or queue.moment(now())
    try:
        standing = queue.board(at)
    except LapwrightError as error:
        content = {"refused": error.sentence, "form": None}
        return shown(request, "board.html", here="board", status=TABLE[error.code][1], **content)
    form = WhatIfForm(
        sent, places=[one.place_id for one in standing.now.places], orders=[one.order_id for one in standing.orders]
    )
    if not form.is_valid():
        return _page(request, standing, form, at, status=422)
    question = form.question()
    if request.method == "POST":
        return _accepted(request, standing, form, question, at)
    if not form.is_asked:
        return _page(request, standing, form, at)
    try:
        return _page(request, queue.propose(question, at), form, at, asked=request.GET)
    except LapwrightError as error:
        form.add_error(None, error.sentence)
        return _page(request, standing, form, at, status=422 if isinstance(error, BadInput) else TABLE[error.code][1])


@require_http_methods(["GET", "HEAD", "POST"])
def board_shop(request: HttpRequest) -> HttpResponse:
    """What the Board plans with: places, hours, how long things take."""
    deed = request.POST.get("deed", "") if request.method == "POST" else ""
    data = request.POST or None
    forms: dict[str, Any] = {
        "place": PlaceForm(data if deed == "place" else None),
        "hours": HoursForm(data if deed == "hours" else None, hours=queue_settings.hours()),
        "times": TimesForm(data if deed == "times" else None, times=queue_settings.times()),
    }
    if deed in forms and forms[deed].is_valid():
        try:
            _record(deed, forms[deed], request)
        except LapwrightError as error:
            forms[deed].add_error(None, error.sentence)
        else:
            messages.success(request, _("Recorded. The schedule in force stays until another one is accepted."))
            return redirect("board_shop")
    status = 422 if deed else 200
    facts = queue_settings.facts()
    content: dict[str, Any] = {
        "places": queue_settings.places(),
        "entered": {one.place_id for one in facts.places},
        "deed": deed,
    }
    return shown(request, "board_shop.html", here="board", status=status, **forms, **content)


# ----------------------------------------------------------------------------------------------------------------------


def _page(
    request: HttpRequest, found: Board, form: WhatIfForm, at: datetime, *, asked: QueryDict | None = None,
    status: int = 200,
) -> HttpResponse:  # fmt: skip
    wanted = request.GET.get("task", "")
    task = next((one for one in found.tasks if one.task_id == wanted), None)
    rows = change_rows(found)
    content: dict[str, Any] = {
        "board": found,
        "form": form,
        "at": int(at.timestamp()),
        "is_past": (now() - at).total_seconds() > 86400.0,
        "asked": [(name, value) for name, value in (asked.items() if asked else ()) if name not in ("at", "task")],
        "orders": order_rows(found),
        "changes": rows,
        "days": day_drawings(found),
        "chosen": task,
        "chosen_said": "" if task is None else said(task),
        "chosen_places": () if task is None else _places_of(found, task.task_id),
        "is_held": task is not None and any(one.task_id == task.task_id for one in found.held),
        "held": [one for one in found.tasks if any(each.task_id == one.task_id for each in found.held)],
        "tasks": [(said(one), one) for one in sorted(found.tasks, key=lambda each: (each.place_id, each.start))],
    }
    return shown(request, "board.html", here="board", status=status, **content)


def _places_of(found: Board, task_id: str) -> tuple[str, ...]:
    return next((one.places for one in found.now.shop.tasks if one.task_id == task_id), ())


def _accepted(
    request: HttpRequest, standing: Board, form: WhatIfForm, question: BoardQuestion, at: datetime
) -> HttpResponse:
    told = request.POST.get("seen", "")
    seen = int(told) if told.isascii() and told.isdigit() and len(told) < 16 else None
    why = signed(request, request.POST.get("reason", "").strip() or "accepted on the Board")
    try:
        queue.accept(question, at, seen=seen, by=why["by"], reason=why["reason"], now=why["at"])
    except LapwrightError as error:
        form.add_error(None, error.sentence)
        return _page(request, standing, form, at, status=TABLE[error.code][1])
    messages.success(request, _("The schedule is accepted and in force."))
    return redirect("board")


def _record(deed: str, form: Any, request: HttpRequest) -> None:
    why = signed(request, "entered on the Board")
    if deed == "place":
        queue_settings.put_place(form.place(queue_settings.places()), **why)
    elif deed == "hours":
        queue_settings.put_hours(form.shop_hours(), **why)
    else:
        queue_settings.put_times(form.shop_times(), **why)
