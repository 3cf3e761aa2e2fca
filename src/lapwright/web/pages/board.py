"""Board: who works on what, when, what is late and why; and what would be if something changed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from lapwright.app import queue, queue_drafts, queue_settings
from lapwright.app.queue import Board, BoardQuestion
from lapwright.app.queue_drafts import Seen
from lapwright.app.queue_kept import Sought
from lapwright.errors import TABLE, BadInput, Fault, LapwrightError
from lapwright.web.board_forms import HoursForm, PlaceForm, TimesForm, WhatIfForm, moment_of
from lapwright.web.board_state import plan_state
from lapwright.web.board_views import change_rows, day_drawings, order_rows, order_signs, said
from lapwright.web.board_window import window_of
from lapwright.web.surroundings import now, shown, signed


@require_http_methods(["GET", "HEAD", "POST"])
def board(request: HttpRequest) -> HttpResponse:
    """The schedule as last worked out, or what was asked about; a POST accepts what was shown."""
    sought, standing = _standing(request)
    if standing.board is None:
        return _without(request, standing)
    form = _form(request, standing.board)
    if not form.is_valid():
        return _page(request, standing, form, status=422)
    if request.method == "POST":
        return _accepted(request, standing, form, sought)
    return _answered(request, standing, form, sought) if form.is_asked else _page(request, standing, form)


@require_safe
def board_state(request: HttpRequest) -> HttpResponse:
    """How far the Board is that the page shows, or the answer to its question: the part that the script renews."""
    sought, seen = _standing(request)
    is_asked = False
    if seen.board is not None and WhatIfForm.asks(request.GET):
        form = _form(request, seen.board)
        if is_asked := form.is_valid():
            seen = queue_drafts.look(replace(sought, question=form.question()), now())
    return shown(request, "parts/board_state.html", here="board", **_state(request, seen, is_asked=is_asked))


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
    if request.method == "POST" and deed not in forms:
        sentence = _(
            "The form does not say what it is to record: a place, the hours or the times. Nothing was recorded; open"
            " the page anew and send it from there."
        )
        raise BadInput([Fault(sentence=sentence, field="deed")])
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


def _standing(request: HttpRequest) -> tuple[Sought, Seen]:
    """The Board as it stands; where more is asked than to see it, however old it is."""
    sent = request.POST if request.method == "POST" else request.GET
    told = moment_of(sent.get("at", ""))
    sought = Sought(at=told or queue.moment(now()), is_now=told is None)
    is_plain = request.method != "POST" and not WhatIfForm.asks(sent)
    return sought, (queue_drafts.look if is_plain else queue_drafts.latest)(sought, now())


def _form(request: HttpRequest, found: Board) -> WhatIfForm:
    sent = request.POST if request.method == "POST" else request.GET
    places = [one.place_id for one in found.now.places]
    return WhatIfForm(sent, places=places, orders=[one.order_id for one in found.orders])


def _answered(request: HttpRequest, standing: Seen, form: WhatIfForm, sought: Sought) -> HttpResponse:
    """What a change would do; the schedule as it stands while that is worked out."""
    if sought.is_now:  # a question is put for one moment, and its answer stays where it is
        return redirect(f"{reverse('board')}?{_with(request.GET, at=int(sought.at.timestamp()))}")
    answer = queue_drafts.look(replace(sought, question=form.question()), now())
    if answer.refusal is not None and answer.is_current:
        form.add_error(None, answer.refusal.sentence)
        return _page(request, standing, form, status=TABLE[answer.refusal.code][1])
    return _page(request, standing, form, answer=answer)


def _state(request: HttpRequest, seen: Seen, *, is_asked: bool = False) -> dict[str, Any]:
    return {"state": plan_state(seen, now(), is_asked=is_asked), "asked_again": request.GET.urlencode()}


def _without(request: HttpRequest, seen: Seen) -> HttpResponse:
    """The page while there is no schedule: refused with the reason, or still being worked out."""
    refused = seen.refusal if seen.is_current else None
    content = {"refused": None if refused is None else refused.sentence, "form": None, "board": None}
    status = 200 if refused is None else TABLE[refused.code][1]
    return shown(request, "board.html", here="board", status=status, **content, **_state(request, seen))


def _page(
    request: HttpRequest, standing: Seen, form: WhatIfForm, *, answer: Seen | None = None, status: int = 200
) -> HttpResponse:
    """The page with the answer to what was asked; while that is worked out, with the schedule as it stands."""
    is_answered = answer is not None and answer.board is not None
    found = answer.board if answer is not None and is_answered else standing.board
    assert found is not None
    wanted = request.GET.get("task", "")
    task = next((one for one in found.tasks if one.task_id == wanted), None)
    window = window_of(found, request.GET, task)
    held = {one.task_id for one in found.held}
    changes = change_rows(found, window)
    content: dict[str, Any] = {
        "board": found,
        "form": form,
        "at": int(found.now.at.timestamp()),
        "is_past": (now() - found.now.at).total_seconds() > 86400.0 and found.now.at == queue.moment(now()),
        "asked": [(name, value) for name, value in request.GET.items() if name not in ("at", "task", "day")]
        if is_answered
        else [],
        "is_proposal": found.scheduled is not None and (answer is None or is_answered),
        "orders": order_rows(found),
        "changes": changes,
        "changes_elsewhere": len(found.changes) - len(changes),
        "window": window,
        "days": day_drawings(found, window.days),
        "order_signs": order_signs(found, window.days),
        "chosen": task,
        "chosen_said": "" if task is None else said(task),
        "chosen_places": () if task is None else _places_of(found, task.task_id),
        "is_held": task is not None and task.task_id in held,
        "tasks": [
            (said(one), one)
            for one in sorted(found.tasks, key=lambda each: (each.place_id, each.start))
            if window.holds(one)
        ],
        **_state(request, answer or standing, is_asked=answer is not None),
    }
    return shown(request, "board.html", here="board", status=status, **content)


def _places_of(found: Board, task_id: str) -> tuple[str, ...]:
    return next((one.places for one in found.now.shop.tasks if one.task_id == task_id), ())


def _accepted(request: HttpRequest, standing: Seen, form: WhatIfForm, sought: Sought) -> HttpResponse:
    """Record the proposal that was shown, whatever was recorded since; one that is no longer kept is shown anew."""
    question = form.question() if form.is_asked else None
    proposal = queue_drafts.kept(replace(sought, question=question), now())
    if proposal.board is None:
        messages.warning(request, _("This proposal was worked out anew meanwhile. Look at it once more, then accept."))
        return redirect(f"{reverse('board')}?{_with(request.POST)}")
    told = request.POST.get("seen", "")
    seen = int(told) if told.isascii() and told.isdigit() and len(told) < 16 else None
    why = signed(request, request.POST.get("reason", "").strip() or "accepted on the Board")
    try:
        recorded = queue.accept(
            question or BoardQuestion(), proposal.board.now.at, seen=seen, by=why["by"], reason=why["reason"],
            now=why["at"], proposal=proposal.board,
        )  # fmt: skip
    except LapwrightError as error:
        form.add_error(None, error.sentence)
        return _page(request, standing, form, status=TABLE[error.code][1])
    queue_drafts.keep_accepted(proposal, recorded, now())
    messages.success(request, _("The schedule is accepted and in force."))
    return redirect("board")


def _with(sent: QueryDict, **more: object) -> str:
    """What was sent, as an address, without what belongs to accepting alone."""
    left = sent.copy()
    for name in ("csrfmiddlewaretoken", "seen", "reason"):
        left.pop(name, None)
    for name, value in more.items():
        left[name] = str(value)
    return left.urlencode()


def _record(deed: str, form: Any, request: HttpRequest) -> None:
    why = signed(request, "entered on the Board")
    if deed == "place":
        queue_settings.put_place(form.place(queue_settings.places()), **why)
    elif deed == "hours":
        queue_settings.put_hours(form.shop_hours(), **why)
    else:
        queue_settings.put_times(form.shop_times(), **why)
