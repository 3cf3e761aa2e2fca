"""Writing verdicts and documents."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lapwright.model.job import DocumentKind, RecordedDocument, RecordedVerdict
from lapwright.model.odd_ones import OddChoice, RecordedDecision
from lapwright.model.readings import Signature
from lapwright.model.verdict import Verdict
from lapwright.records import models, queries, rows
from lapwright.records.coding import to_plain
from lapwright.records.faults import one_transaction
from lapwright.records.writer.base import add


@dataclass(frozen=True, slots=True, kw_only=True)
class NewDocument:
    """A file to be recorded; it must lie in the data folder already."""

    kind: DocumentKind
    order_id: str
    wafer_id: str | None
    name: str
    path: str
    sha256: str
    size: int


def add_verdicts(
    wafer_id: str, verdicts: Sequence[tuple[Verdict, int | None, int | None]], signature: Signature
) -> tuple[RecordedVerdict, ...]:
    """Verdicts on one wafer, each with the set or the finding it rests on."""
    with one_transaction():
        wafer = queries.find(models.Wafer.objects.all(), "wafer_id", wafer_id)
        return tuple(
            rows.verdict(
                add(
                    models.Verdict,
                    signature,
                    wafer=wafer,
                    quantity=verdict.limit.quantity,
                    outcome=verdict.outcome,
                    judged=to_plain(verdict),
                    set_id=set_id,
                    finding_id=finding_id,
                )
            )
            for verdict, set_id, finding_id in verdicts
        )


def add_decision(wafer_id: str, choice: OddChoice, failed: Sequence[str], signature: Signature) -> RecordedDecision:
    """What was decided about a wafer, and the limits that spoke against it."""
    with one_transaction():
        wafer = queries.find(models.Wafer.objects.all(), "wafer_id", wafer_id)
        return rows.decision(add(models.OddDecision, signature, wafer=wafer, choice=choice, failed=list(failed)))


def add_document(new: NewDocument, signature: Signature) -> RecordedDocument:
    """A file that is kept."""
    with one_transaction():
        wafers = models.Wafer.objects.all()
        return rows.document(
            add(
                models.Document,
                signature,
                order=queries.find(models.Order.objects.all(), "order_id", new.order_id),
                wafer=None if new.wafer_id is None else queries.find(wafers, "wafer_id", new.wafer_id),
                kind=new.kind,
                name=new.name,
                path=new.path,
                sha256=new.sha256,
                size=new.size,
            )
        )
