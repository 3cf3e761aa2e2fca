"""Schedules that are worked out beside the pages: what is wanted, what came of it, and who does it.

One process plans for a database at a time. Whoever holds that says so every few seconds; one that has fallen silent has
lost it. All of this can be made anew at any time, so none of it is in the audit chain.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import connection
from django.db.models import Count, Max, Q

from lapwright.model.board_draft import BoardDraft, PlannerSeen
from lapwright.records import kept, models
from lapwright.records.faults import one_transaction, translated

MOST_ANSWERS = 12  # answers to questions that are kept
_ONE = 1  # key of the only row of the planner


def draft(key: str) -> BoardDraft | None:
    """The draft of a key, without its data; None before it was ever wanted."""
    with translated():
        row = models.BoardDraft.objects.defer("data").filter(key=key).first()
        return None if row is None else _draft(row)


def data_of(key: str) -> bytes:
    """What came of a draft, packed; empty when nothing did."""
    with translated():
        found = models.BoardDraft.objects.filter(key=key).values_list("data", flat=True).first()
        return b"" if found is None else bytes(found)


def want(key: str, question: Any, wanted: datetime, at: datetime) -> None:
    """Have a draft worked out for a moment; the answers asked for least lately go when there are too many."""
    found = {"question": question, "asked_at": at, "wanted": wanted, "tries": 0, "begun_at": None}
    with one_transaction():
        models.BoardDraft.objects.update_or_create(key=key, defaults=found)
        answers = models.BoardDraft.objects.exclude(key="").order_by("-asked_at", "-pk")
        gone = list(answers.values_list("pk", flat=True)[MOST_ANSWERS:])
        models.BoardDraft.objects.filter(pk__in=gone).delete()


def next_wanted(*, most_tries: int) -> BoardDraft | None:
    """The draft that has waited longest for being worked out; one begun too often without an end is left."""
    with translated():
        waiting = models.BoardDraft.objects.defer("data").filter(wanted__isnull=False, tries__lt=most_tries)
        row = waiting.order_by("asked_at", "pk").first()
        return None if row is None else _draft(row)


def begin(key: str, tries: int, at: datetime) -> None:
    """Note that a draft is being worked out."""
    with translated():
        models.BoardDraft.objects.filter(key=key).update(tries=tries, begun_at=at)


def put(
    key: str,
    *,
    moment: datetime,
    written: int,
    made_at: datetime,
    took: float,
    data: bytes | None,
    refusal: dict[str, Any] | None = None,
) -> None:
    """What came of a draft: its data, or why there are none. Nothing more is wanted of it then."""
    found = {
        "moment": moment, "written": written, "made_at": made_at, "took_s": took, "data": data, "refusal": refusal,
        "wanted": None, "begun_at": None, "tries": 0,
    }  # fmt: skip
    with translated():
        models.BoardDraft.objects.update_or_create(
            key=key, defaults=found, create_defaults={**found, "asked_at": made_at}
        )


def planner() -> PlannerSeen | None:
    """Who plans, and when that was last said; None for nobody."""
    with translated():
        row = models.BoardPlanner.objects.filter(pk=_ONE).exclude(holder="").first()
        if row is None or row.beat_at is None:
            return None
        return PlannerSeen(holder=row.holder, beat_at=row.beat_at)


def claim(holder: str, *, at: datetime, lost_before: datetime) -> bool:
    """Become the one that plans, when nobody does or whoever did has said nothing since `lost_before`."""
    with translated():
        models.BoardPlanner.objects.get_or_create(pk=_ONE)
        free = Q(holder="") | Q(beat_at__isnull=True) | Q(beat_at__lt=lost_before)
        is_ours = bool(models.BoardPlanner.objects.filter(free, pk=_ONE).update(holder=holder, beat_at=at))
        if is_ours:  # whatever was begun has no one to end it
            models.BoardDraft.objects.filter(begun_at__isnull=False).update(begun_at=None)
        return is_ours


def beat(holder: str, at: datetime) -> bool:
    """Say that the holder still plans; False when another has taken over."""
    with translated():
        return bool(models.BoardPlanner.objects.filter(pk=_ONE, holder=holder).update(beat_at=at))


def release(holder: str) -> None:
    """Let others plan."""
    with translated():
        models.BoardPlanner.objects.filter(pk=_ONE, holder=holder).update(holder="")


def mark() -> str:
    """A short text that changes with everything that is wanted of a draft or comes of one."""
    with translated():
        found = models.BoardDraft.objects.aggregate(
            asked=Max("asked_at"), begun=Max("begun_at"), made=Max("made_at"), drafts=Count("pk")
        )
        return " ".join(str(one.timestamp() if isinstance(one, datetime) else one) for one in found.values())


def last_before_plan(link: int, plan_id: int, besides: frozenset[str]) -> int | None:
    """The last link, when all since `link` wrote into the tables `besides` alone, except the one that holds a plan."""
    line = " ".join(["row", "boardplan", str(plan_id), ""])
    with translated():
        later = list(models.ChainLink.objects.filter(number__gt=link).order_by("number")[: kept.MOST_LINKS + 1])
    if len(later) > kept.MOST_LINKS:
        return None
    for one in later:
        is_plan = any(each.startswith(line) for each in one.content.splitlines())
        if not is_plan and not besides.issuperset(kept.tables_of(one.content)):
            return None
    return later[-1].number if later else link


def close_connection() -> None:
    """Let go of this thread's connection to the database."""
    connection.close()


# ----------------------------------------------------------------------------------------------------------------------


def _draft(row: models.BoardDraft) -> BoardDraft:
    return BoardDraft(
        key=row.key,
        question=row.question,
        asked_at=row.asked_at,
        wanted=row.wanted,
        tries=row.tries,
        begun_at=row.begun_at,
        made_at=row.made_at,
        took=row.took_s,
        moment=row.moment,
        written=row.written,
        refusal=row.refusal,
    )
