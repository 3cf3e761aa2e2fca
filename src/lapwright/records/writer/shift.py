"""Writing looks and handovers."""

from __future__ import annotations

from collections.abc import Sequence

from lapwright.errors import Conflict
from lapwright.model.clean_check import LookOutcome, RecordedLook
from lapwright.model.handover import Card, RecordedHandover
from lapwright.model.readings import Signature
from lapwright.records import models, shift_queries
from lapwright.records.faults import one_transaction
from lapwright.records.writer.base import add


def add_look(
    stage_id: int, outcome: LookOutcome, checked: Sequence[str], document_id: int | None, signature: Signature
) -> RecordedLook:
    """A look at a stage."""
    columns = {"stage_id": stage_id, "outcome": outcome, "checked": list(checked), "photograph_id": document_id}
    return shift_queries.look(add(models.CleanCheck, signature, **columns))


def add_handover(station_id: str, card: Card, note: str, signature: Signature) -> RecordedHandover:
    """A handover as it is given."""
    with one_transaction():
        plain = [[part, list(lines)] for part, lines in card]
        row = add(models.Handover, signature, station=station_id, card=plain, note=note)
        return shift_queries.handover(row.pk)


def take_handover(handover_id: int, signature: Signature) -> RecordedHandover:
    """That it was read. Raises `Conflict` when somebody did before."""
    with one_transaction():
        known = shift_queries.handover(handover_id)
        if known.taken is not None:
            raise Conflict(f"This handover was read already, by {known.taken.by}. Nothing was changed.")
        add(models.HandoverTaken, signature, handover_id=handover_id)
        return shift_queries.handover(handover_id)
