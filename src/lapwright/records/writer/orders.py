"""Writing people, orders, wafers and notes."""

from __future__ import annotations

from collections.abc import Sequence

from lapwright.errors import Conflict
from lapwright.model.job import NoteKind, RecordedNote, RecordedOrder, RecordedWafer, WaferState
from lapwright.model.order import Order
from lapwright.model.readings import Signature
from lapwright.model.shelf import PersonCard
from lapwright.model.wafer import Wafer
from lapwright.records import models, queries, rows
from lapwright.records.coding import to_plain
from lapwright.records.faults import one_transaction
from lapwright.records.writer.base import add, change, locked, signed


def add_person(name: str, full_name: str, signature: Signature) -> PersonCard:
    """A new person."""
    with one_transaction():
        signed(signature)
        if models.Person.objects.filter(username=name).exists():
            raise Conflict(f"Somebody called {name!r} is recorded already. Take another short name.")
        first, _, last = full_name.rpartition(" ")
        row = models.Person.objects.create(username=name, first_name=first, last_name=last)
        row.set_unusable_password()
        row.save(update_fields=["password"])
        return rows.person(row)


def add_order(order: Order, wafers: Sequence[Wafer], *, simulated: bool, signature: Signature) -> RecordedOrder:
    """A new order, its lot and its wafers."""
    with one_transaction():
        _need_new(models.Order, "order_id", [order.order_id])
        _need_new(models.Wafer, "wafer_id", [wafer.wafer_id for wafer in wafers])
        row = add(
            models.Order,
            signature,
            order_id=order.order_id,
            simulated=simulated,
            **_order_columns(order),
        )
        lot = add(models.Lot, signature, lot_id=order.order_id, order=row)
        for position, wafer in enumerate(wafers, start=1):
            add(
                models.Wafer,
                signature,
                wafer_id=wafer.wafer_id,
                order=row,
                lot=lot,
                position=position,
                definition=to_plain(wafer),
                state="received",
                since=signature.at,
            )
        return queries.order(order.order_id)


def change_order(order: Order, *, version: int, signature: Signature) -> RecordedOrder:
    """New terms of an order."""
    with one_transaction():
        row = locked(models.Order, order_id=order.order_id)
        change(row, signature, version=version, **_order_columns(order))
        return queries.order(order.order_id)


def move_wafer(wafer_id: str, after: WaferState, signature: Signature, *, version: int | None = None) -> RecordedWafer:
    """A wafer's step to another state."""
    with one_transaction():
        row = locked(models.Wafer, wafer_id=wafer_id)
        before = row.state
        change(row, signature, version=version, state=after, since=signature.at)
        add(models.WaferEvent, signature, wafer=row, before=before, after=after)
        return queries.wafer(wafer_id)


def add_note(order_id: str, text: str, *, wafer_id: str | None, kind: NoteKind, signature: Signature) -> RecordedNote:
    """Words about an order or a wafer."""
    with one_transaction():
        order = queries.find(models.Order.objects.all(), "order_id", order_id)
        wafer = None if wafer_id is None else queries.find(models.Wafer.objects.all(), "wafer_id", wafer_id)
        return rows.note(add(models.Note, signature, order=order, wafer=wafer, kind=kind, text=text))


# ----------------------------------------------------------------------------------------------------------------------


def _order_columns(order: Order) -> dict[str, object]:
    return {
        "customer": order.customer,
        "material": order.material,
        "quantity": order.quantity,
        "due": order.due,
        "definition": to_plain(order),
    }


def _need_new(model: type[models.Order | models.Wafer], key: str, wanted: Sequence[str]) -> None:
    taken = list(model.objects.filter(**{f"{key}__in": list(wanted)}).values_list(key, flat=True))
    if taken:
        name = str(model._meta.verbose_name)  # noqa: SLF001  Django's public name for it
        raise Conflict(
            f"The {name} {', '.join(map(repr, sorted(taken)))} is recorded already. Use another name, or show it.",
            taken=taken,
        )
