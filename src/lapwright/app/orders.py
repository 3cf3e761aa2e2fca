"""Use cases: orders and their wafers."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from lapwright.model.job import NoteKind, RecordedNote, RecordedOrder, RecordedWafer
from lapwright.model.order import Order
from lapwright.model.story import OrderLine, OrderStory, WaferStory


def receive_order(
    order: Order,
    *,
    wafer_ids: Sequence[str] = (),
    simulated: bool = False,
    by: str,
    reason: str,
    at: datetime,
) -> RecordedOrder:
    """Record an order and its wafers.

    Without `wafer_ids` they are numbered after the order (AP-2407-01 …), spares last. Raises `Conflict` when the
    order or a wafer is known already, `BadInput` with every fault.
    """
    raise NotImplementedError


def copy_order(source_id: str, order: Order, *, by: str, reason: str, at: datetime) -> RecordedOrder:
    """Record a new order made after an earlier one; its note says after which. Raises `NotFound`, `Conflict`."""
    raise NotImplementedError


def amend_order(order: Order, *, version: int, by: str, reason: str, at: datetime) -> RecordedOrder:
    """Record changed terms of an order. Raises `Conflict`, saying what changed, when `version` is not the latest.

    Outline, quantity and start thickness cannot change once a wafer has been read.
    """
    raise NotImplementedError


def list_orders() -> tuple[OrderLine, ...]:
    """All orders, the earliest due first, those without a date last."""
    raise NotImplementedError


def show_order(order_id: str) -> OrderStory:
    """All that is recorded of an order. Raises `NotFound` with the nearest name."""
    raise NotImplementedError


def show_wafer(wafer_id: str) -> WaferStory:
    """All that is recorded of a wafer. Raises `NotFound` with the nearest name."""
    raise NotImplementedError


def add_note(
    order_id: str,
    text: str,
    *,
    wafer_id: str | None = None,
    kind: NoteKind = "note",
    by: str,
    reason: str,
    at: datetime,
) -> RecordedNote:
    """Record words about an order or one of its wafers; a warning is shown until the order is closed."""
    raise NotImplementedError


def set_aside(wafer_id: str, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedWafer:
    """Take a wafer out of the work until it is taken up again; it keeps its place."""
    raise NotImplementedError


def take_up(wafer_id: str, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedWafer:
    """Go on with a wafer that was set aside, where it stood."""
    raise NotImplementedError


def reject_wafer(wafer_id: str, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedWafer:
    """End the work on a wafer that will not be delivered: broken, or out of its limits."""
    raise NotImplementedError
