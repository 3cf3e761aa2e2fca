"""Searches for routes that are made beside the pages: what is wanted, and what was found.

All of this can be made anew at any time, so none of it is in the audit chain.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db.models import Q

from lapwright.model.route_search import RouteSearch
from lapwright.records import models
from lapwright.records.faults import one_transaction, translated

MOST_KEPT = 3000  # searches; about ten kilobytes each


def search(key: str) -> RouteSearch | None:
    """The search of a key, without its data; None before it was ever wanted, or when it had to make room."""
    with translated():
        row = models.RouteSearch.objects.defer("data").filter(key=key).first()
        return None if row is None else _search(row)


def data_of(key: str) -> bytes:
    """What was found, packed; empty when nothing was."""
    with translated():
        found = models.RouteSearch.objects.filter(key=key).values_list("data", flat=True).first()
        return b"" if found is None else bytes(found)


def want(key: str, question: Mapping[str, Any], at: datetime, *, is_typed: bool = False) -> None:
    """Have a search made; those asked for least lately go when there are too many.

    `is_typed` for one that is of no use any more once nobody asks for it.
    """
    wanted = {
        "question": question, "is_typed": is_typed, "asked_at": at, "tries": 0, "begun_at": None, "made_at": None,
        "data": None, "refusal": None,
    }  # fmt: skip
    with one_transaction():
        _row, is_new = models.RouteSearch.objects.update_or_create(key=key, defaults=wanted)
        if is_new:
            over = models.RouteSearch.objects.order_by("-asked_at", "-pk").values_list("pk", flat=True)[MOST_KEPT:]
            gone = list(over)
            if gone:
                models.RouteSearch.objects.filter(pk__in=gone).delete()


def ask_again(key: str, at: datetime) -> None:
    """Note that somebody still asks."""
    with translated():
        models.RouteSearch.objects.filter(key=key).update(asked_at=at)


def next_wanted(*, most_tries: int, typed_after: datetime) -> RouteSearch | None:
    """The search that was asked for last; one begun too often without an end is left.

    Of what is typed only what somebody asked for after `typed_after`: the others have typed on.
    """
    with translated():
        waiting = models.RouteSearch.objects.defer("data").filter(made_at=None, tries__lt=most_tries)
        row = waiting.filter(Q(is_typed=False) | Q(asked_at__gt=typed_after)).order_by("-asked_at", "-pk").first()
        return None if row is None else _search(row)


def begin(key: str, tries: int, at: datetime) -> None:
    """Note that a search is being made."""
    with translated():
        models.RouteSearch.objects.filter(key=key).update(tries=tries, begun_at=at)


def put(
    key: str,
    question: Mapping[str, Any],
    *,
    made_at: datetime,
    data: bytes | None,
    refusal: Mapping[str, Any] | None = None,
) -> None:
    """What was found, or why nothing was."""
    found = {"question": question, "made_at": made_at, "data": data, "refusal": refusal, "begun_at": None, "tries": 0}
    with translated():
        models.RouteSearch.objects.update_or_create(
            key=key, defaults=found, create_defaults={**found, "asked_at": made_at}
        )


def drop(key: str) -> None:
    """Leave a search that nobody can ask for any more: what it rested on has changed."""
    with translated():
        models.RouteSearch.objects.filter(key=key, made_at=None).delete()


# ----------------------------------------------------------------------------------------------------------------------


def _search(row: models.RouteSearch) -> RouteSearch:
    return RouteSearch(
        key=row.key,
        question=row.question,
        asked_at=row.asked_at,
        tries=row.tries,
        begun_at=row.begun_at,
        made_at=row.made_at,
        refusal=row.refusal,
    )
