"""Writing lots of what is used up."""

from __future__ import annotations

from lapwright.model.readings import Signature
from lapwright.model.supply import SupplyLot, UseKind
from lapwright.records import models, queries
from lapwright.records.coding import to_plain
from lapwright.records.faults import one_transaction
from lapwright.records.writer.base import add, change, locked


def put_lot(lot: SupplyLot, signature: Signature, *, version: int | None = None) -> None:
    """A lot, new or changed."""
    with one_transaction():
        definition = to_plain(lot)
        if not models.SupplyLot.objects.filter(lot_id=lot.lot_id).exists():
            add(models.SupplyLot, signature, lot_id=lot.lot_id, item=lot.item, definition=definition)
            return
        row = locked(models.SupplyLot, lot_id=lot.lot_id)
        if row.definition != definition:
            change(row, signature, version=version, item=lot.item, definition=definition)


def add_use(lot_id: str, kind: UseKind, amount: float, signature: Signature) -> int:
    """Something taken of a lot; gives its number."""
    with one_transaction():
        row = queries.find(models.SupplyLot.objects.all(), "lot_id", lot_id, what="lot")
        return int(add(models.SupplyUse, signature, lot=row, kind=kind, amount=amount).pk)
