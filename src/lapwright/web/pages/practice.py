"""Practice: a run to lose without losing a wafer. Nothing here is, or becomes, a record."""

from __future__ import annotations

import math
import secrets
from typing import Any, get_args

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from lapwright.app import practice as use
from lapwright.errors import TABLE, LapwrightError
from lapwright.model.practice import PracticeRound, PracticeView
from lapwright.web.practice_views import fault_sentence, fault_word, over_text, played, practice_fields, round_line
from lapwright.web.surroundings import now, person, shown

LISTED = 30  # rounds in the list


@require_http_methods(["GET", "HEAD", "POST"])
def practice(request: HttpRequest) -> HttpResponse:
    """The rounds of whoever asks, the first against the fifth, and the button for the next."""
    if request.method == "POST":
        begun = use.begin_round(
            person(request), request.POST.get("view", "countdown"), seed=secrets.randbelow(2**31), at=now()
        )  # fmt: skip
        return redirect("practice_round", begun.round_id)
    who = person(request)
    mine = use.rounds_of(who)
    pairs = [(view, use.compared(mine, view)) for view in get_args(PracticeView)]
    return shown(
        request,
        "practice.html",
        here="practice",
        who=who,
        lines=[round_line(one) for one in mine[:LISTED]],
        pairs=[
            (view, [None if one is None else round_line(one) for one in pair]) for view, pair in pairs if pair[0]
        ],
        speed=int(use.SPEED),
    )  # fmt: skip


@require_safe
def practice_round(request: HttpRequest, round_id: int) -> HttpResponse:
    """One round: while it runs the Countdown, then the question what was wrong, then the score."""
    return _page(request, _ended(use.show_round(round_id)))


@require_safe
def live(request: HttpRequest, round_id: int) -> JsonResponse:
    """How a round stands, with the readings after ``?since=`` (seconds of the run)."""
    held = use.show_round(round_id)
    try:
        since = float(request.GET.get("since", "0"))
    except ValueError:
        since = 0.0
    since = since if math.isfinite(since) else 0.0
    return JsonResponse(practice_fields(held, at=now(), since=since))


@require_POST
def stop(request: HttpRequest, round_id: int) -> HttpResponse:
    """Stop the round, at once; the first press counts."""
    held = use.show_round(round_id)
    use.stop_round(held, played(held)[0], person=person(request), at=now())
    return redirect("practice_round", round_id)


@require_POST
def answer(request: HttpRequest, round_id: int) -> HttpResponse:
    """Take what was wrong, and show the score."""
    held = _ended(use.show_round(round_id))
    task, run = played(held)
    try:
        use.answer_round(held, task, run, request.POST.get("said", ""), person=person(request))
    except LapwrightError as error:
        messages.error(request, error.sentence, extra_tags="bad")
        return _page(request, held, status=TABLE[error.code][1])
    return redirect("practice_round", round_id)


# ----------------------------------------------------------------------------------------------------------------------


def _ended(held: PracticeRound) -> PracticeRound:
    """The round, noted as ended by itself when nobody stopped it."""
    task, _run = played(held)
    return use.end_by_itself(held, task) if use.is_over(held, task, at=now()) else held


def _page(request: HttpRequest, held: PracticeRound, *, status: int = 200) -> HttpResponse:
    task, _run = played(held)
    content: dict[str, Any] = {} if held.stopped_after is not None else {"fields": practice_fields(held, at=now())}
    score = held.score
    return shown(
        request,
        "practice_round.html",
        here="practice",
        status=status,
        held=held,
        task=task,
        line=None if score is None else round_line(held),
        over=None if score is None else over_text(score.over),
        fault="" if score is None else fault_sentence(held),
        choices=[(name, fault_word(name)) for name in use.FAULTS],
        speed=int(use.SPEED),
        **content,
    )
