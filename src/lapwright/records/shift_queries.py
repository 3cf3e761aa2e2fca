"""Reading looks and handovers."""

from __future__ import annotations

from lapwright.model.clean_check import RecordedLook
from lapwright.model.handover import RecordedHandover
from lapwright.records import models, rows
from lapwright.records.faults import translated
from lapwright.records.queries import find


def looks(wafer_id: str) -> tuple[RecordedLook, ...]:
    """All looks at a wafer, oldest first."""
    with translated():
        return tuple(look(row) for row in models.CleanCheck.objects.filter(stage__wafer__wafer_id=wafer_id))


def blocked_stages() -> dict[int, RecordedLook]:
    """Stages whose last look found them not clean, and that look."""
    with translated():
        waiting = models.CleanCheck.objects.filter(stage__state="waiting")
        last = {row.stage_id: look(row) for row in waiting}
        return {stage_id: one for stage_id, one in last.items() if one.outcome == "not_clean"}


def look(row: models.CleanCheck) -> RecordedLook:
    """One look."""
    return RecordedLook(
        look_id=row.pk,
        stage_id=row.stage_id,
        outcome=row.outcome,  # type: ignore[arg-type]
        checked=tuple(row.checked),
        document_id=row.photograph_id,
        signature=rows.signature(row),
    )


def handovers(count: int) -> tuple[RecordedHandover, ...]:
    """The latest handovers, the newest first."""
    with translated():
        found = models.Handover.objects.select_related("taken").order_by("-pk")[:count]
        return tuple(_handover(row) for row in found)


def handover(handover_id: int) -> RecordedHandover:
    """One handover."""
    with translated():
        return _handover(find(models.Handover.objects.select_related("taken"), "pk", handover_id, what="handover"))


# ----------------------------------------------------------------------------------------------------------------------


def _handover(row: models.Handover) -> RecordedHandover:
    taken = getattr(row, "taken", None)
    return RecordedHandover(
        handover_id=row.pk,
        station_id=row.station,
        card=tuple((part, tuple(lines)) for part, lines in row.card),
        note=row.note,
        given=rows.signature(row),
        taken=None if taken is None else rows.signature(taken),
    )
