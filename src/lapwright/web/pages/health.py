"""Whether the pages can be served: for whoever watches the process."""

from __future__ import annotations

from django.http import HttpRequest, JsonResponse
from django.views.decorators.http import require_safe

from lapwright import __version__
from lapwright.app import people


@require_safe
def health(request: HttpRequest) -> JsonResponse:  # noqa: ARG001  # Django gives it
    """One line of JSON; an error of the records makes it 503 on the way up."""
    people.list_people()
    return JsonResponse({"ok": True, "version": __version__})
