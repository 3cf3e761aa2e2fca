"""The JSON of the Board."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from ninja import Router

from lapwright.app import queue, queue_drafts
from lapwright.app.queue_kept import Sought
from lapwright.app.queue_result import age_warnings, board_result, board_warnings
from lapwright.errors import BadInput, Fault
from lapwright.formats.json_line import one_line, success
from lapwright.web.board_forms import WhatIfForm, moment_of
from lapwright.web.surroundings import now

router = Router()


@router.get("/board", summary="The schedule in force, or what a change would do to it")
def board(request: HttpRequest) -> HttpResponse:
    """As `lapwright queue`, and with the fields of the page's what-if as `lapwright queue what-if`."""
    told = moment_of(request.GET.get("at", ""))
    at = told or queue.moment(now())
    sought, age = Sought(at=at, is_now=told is None), []
    if told is None and request.GET.get("wait") != "true":
        found, seen = queue_drafts.at_once(sought, now())
        age = age_warnings(seen)
    else:
        found = queue_drafts.awaited(sought, now())
    form = WhatIfForm(
        request.GET,
        places=[one.place_id for one in found.now.places],
        orders=[one.order_id for one in found.orders],
    )
    if not form.is_valid():
        faults = [
            Fault(sentence=str(sentence), field=None if name == "__all__" else name)
            for name, listed in form.errors.items()
            for sentence in listed
        ]
        raise BadInput(faults, subject="The change")
    if form.is_asked:
        found, age = queue_drafts.awaited(Sought(at=at, question=form.question()), now()), []
    told_of = one_line(success(board_result(found), [*board_warnings(found), *age]))
    return HttpResponse(told_of, content_type="application/json")
