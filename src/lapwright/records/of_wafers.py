"""What tables hold of some wafers, by wafer."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any, TypeVar

from django.db.models import Q, QuerySet

from lapwright.model.job import RecordedBond
from lapwright.records import models, queries, rows

Value = TypeVar("Value")


class OfWafers:
    """What other tables hold of some wafers, by wafer; the wafer of a row is not read once more with each."""

    def __init__(self, wafers: Sequence[models.Wafer]) -> None:
        self.mine = Q(wafer__in=[row.pk for row in wafers])
        self.given = {row.pk: row for row in wafers}

    def told(self, found: QuerySet[Any], row_of: Callable[[Any], Value], *names: str) -> dict[int, tuple[Value, ...]]:
        """The rows of a table that need the wafer and, by its name, what else is named."""
        listed = found.select_related(None).defer(None).filter(self.mine)
        listed = rows.named(listed, *names) if names else listed
        return grouped((row.wafer_id, row_of(self._with_wafer(row))) for row in listed)

    def bonds(self) -> dict[int, tuple[RecordedBond, ...]]:
        """The bonds with their carriers."""
        return grouped((row.wafer_id, rows.bond(row)) for row in queries.bond_rows().filter(self.mine))

    def _with_wafer(self, row: Any) -> Any:
        row.wafer = self.given[row.wafer_id]
        return row


def grouped(pairs: Iterable[tuple[Any, Value]]) -> dict[int, tuple[Value, ...]]:
    """Values by the key that each comes with, in the order in which they come."""
    listed: dict[int, list[Value]] = {}
    for key, value in pairs:
        listed.setdefault(key, []).append(value)
    return {key: tuple(values) for key, values in listed.items()}
