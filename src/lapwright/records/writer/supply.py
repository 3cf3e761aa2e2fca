"""Writing lots of what is used up."""

from __future__ import annotations

from dataclasses import replace

from lapwright.errors import Conflict
from lapwright.model.readings import Signature
from lapwright.model.supply import SupplyLot, UseKind
from lapwright.records import models, queries, supply_queries
from lapwright.records.coding import from_plain, to_plain
from lapwright.records.faults import one_transaction
from lapwright.records.writer.base import add, change, locked


def put_lot(lot: SupplyLot, signature: Signature, *, version: int | None = None) -> None:
    """A lot, new or changed."""
    with one_transaction():
        definition = to_plain(lot)
        if not models.SupplyLot.objects.filter(lot_id=lot.lot_id).exists():
            _need_free(lot.lot_id)
            add(models.SupplyLot, signature, lot_id=lot.lot_id, item=lot.item, definition=definition)
            return
        row = locked(models.SupplyLot, lot_id=lot.lot_id)
        if row.definition != definition:
            change(row, signature, version=version, item=lot.item, definition=definition)


def rename_lot(lot_id: str, name: str, signature: Signature, *, version: int | None = None) -> None:
    """Another name for a lot; all that points at it goes on doing so, and the old name still finds it."""
    with one_transaction():
        row = locked(models.SupplyLot, lot_id=lot_id)
        named = supply_queries.row_named(name)
        if named is None or named.pk != row.pk:  # a lot may have a former name of its own again
            _need_free(name)
        renamed = to_plain(replace(from_plain(row.definition), lot_id=name))
        change(row, signature, version=version, lot_id=name, definition=renamed)


def add_use(lot_id: str, kind: UseKind, amount: float, signature: Signature) -> int:
    """Something taken of a lot; gives its number."""
    with one_transaction():
        row = queries.find(models.SupplyLot.objects.all(), "lot_id", lot_id, what="lot")
        return int(add(models.SupplyUse, signature, lot=row, kind=kind, amount=amount).pk)


# ----------------------------------------------------------------------------------------------------------------------


def _need_free(name: str) -> None:
    """Raise `Conflict` when a lot has a name, or had it: it would no longer say which one is meant."""
    row = supply_queries.row_named(name)
    if row is None:
        return
    if row.lot_id == name:
        raise Conflict(f"A lot {name!r} is recorded already. Take another name.")
    raise Conflict(f"The lot {row.lot_id!r} was called {name!r} before. Take another name.")
