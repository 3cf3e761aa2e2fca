"""Answers when something is wrong: one clear sentence, no internals."""

from __future__ import annotations

import logging
import uuid

from django.core.exceptions import RequestDataTooBig, TooManyFieldsSent
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import REASON_NO_CSRF_COOKIE
from django.shortcuts import render
from django.utils.translation import gettext as _

from lapwright.errors import TABLE, LapwrightError
from lapwright.formats.json_line import failure, one_line
from lapwright.web import navigation

LOG = logging.getLogger("lapwright.web")


def told(request: HttpRequest, error: LapwrightError) -> HttpResponse:
    """The page or JSON object for an error of ours, with its HTTP status."""
    status = TABLE.get(error.code, TABLE["lapwright.error"])[1]
    if request.path.startswith("/api/"):
        return HttpResponse(one_line(failure(error)), status=status, content_type="application/json")
    sentences = [fault.sentence for fault in error.faults] if len(error.faults) > 1 else []
    return answer(request, status, error.sentence, code=error.code, faults=sentences)


def answer(
    request: HttpRequest, status: int, sentence: str, *, code: str, faults: list[str] | None = None
) -> HttpResponse:
    """A page, or JSON under `/api/`, that says what is wrong."""
    listed = faults or []
    if request.path.startswith("/api/"):
        body = {"ok": False, "code": code, "error": sentence, "errors": [{"sentence": text} for text in listed]}
        return JsonResponse(body, status=status)
    context: dict[str, object] = {"sentence": sentence, "faults": listed, "code": code, "heading": _heading(status)}
    if status < 500:  # when the program itself is at fault the page asks for nothing
        context["sections"] = navigation.SECTIONS
    return render(request, "lapwright/fault.html", context, status=status)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """400, or 413 when the request is larger than is taken."""
    if isinstance(exception, RequestDataTooBig | TooManyFieldsSent):
        sentence = _("What was sent is larger than this page takes. Send less at once; nothing was recorded.")
        return answer(request, 413, sentence, code="request.too_large")
    sentence = _("The request could not be read. Go back, reload the page and try again; nothing was recorded.")
    return answer(request, 400, sentence, code="request.unreadable")


def denied(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:  # noqa: ARG001  # Django gives it
    """403."""
    sentence = _("You may see this page but not do this here. Ask somebody who may; nothing was recorded.")
    return answer(request, 403, sentence, code="request.denied")


def form_not_ours(request: HttpRequest, reason: str = "") -> HttpResponse:
    """403 when a form carries no valid token: the page is old, or the form came from elsewhere."""
    LOG.warning("form refused at %s: %s", request.path, reason)
    if reason == REASON_NO_CSRF_COOKIE:
        sentence = _(
            "The browser sent no cookie with the form; expected the one that this page gave it. "
            "Allow cookies for this address, go back, and send the form again; nothing was recorded."
        )
    else:
        sentence = _("The form was too old, or did not come from this program. Reload the page and send it again.")
    return answer(request, 403, sentence, code="request.stale_form")


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:  # noqa: ARG001  # Django gives it
    """404 for an address that no page has."""
    sentence = _("No page has this address. Start from Hands or from Orders.")
    return answer(request, 404, sentence, code="request.no_such_page")


def not_done_here(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """405: the address is right and the deed is not."""
    sentence = _("This address does not take that kind of request. Open the page and use its buttons.")
    told = answer(request, 405, sentence, code="request.not_done_here")
    told.headers["Allow"] = response.headers.get("Allow", "")
    return told


def our_fault(request: HttpRequest) -> HttpResponse:
    """500: a fault of ours, with a reference that is also in the log."""
    reference = uuid.uuid4().hex[:8]
    LOG.error("fault %s at %s", reference, request.path)
    sentence = _(
        "The program made a mistake and stopped this request. What was recorded before is safe. "
        "Tell who looks after the program this reference: %(reference)s."
    ) % {"reference": reference}
    return answer(request, 500, sentence, code="lapwright.error")


# ----------------------------------------------------------------------------------------------------------------------


def _heading(status: int) -> str:
    headings = {
        403: _("This was refused"),
        404: _("Nothing is here"),
        405: _("This cannot be done here"),
        409: _("This was recorded otherwise meanwhile"),
        413: _("Too large"),
        422: _("This does not hold together"),
        500: _("Our mistake"),
        503: _("The records cannot be reached"),
    }
    return headings.get(status, _("This could not be done"))
