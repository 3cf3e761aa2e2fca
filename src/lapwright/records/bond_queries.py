"""Reading what bonds brought so far."""

from __future__ import annotations

from collections.abc import Collection

from lapwright.model.job import RecordedBond
from lapwright.model.wafer import Wedge
from lapwright.records import models, queries, rows
from lapwright.records.faults import translated


def bond_wedges(*, most: int) -> tuple[Wedge, ...]:
    """Wedges of the latest judged bonds, in the wafer frame; those that cannot be told are left out."""
    with translated():
        found = [rows.bond(row) for row in queries.bond_rows().exclude(numbers=None).order_by("-pk")[:most]]
    return tuple(one.numbers.wedge for one in found if one.numbers is not None and one.numbers.wedge is not None)


def latest_bond(*, adhesive: str | None, taken_off: bool) -> RecordedBond | None:
    """The last bond of all, with an adhesive, or of those taken off again."""
    with translated():
        found = queries.bond_rows()
        if adhesive is not None:
            found = found.filter(adhesive=adhesive)
        if taken_off:
            found = found.exclude(undone_at=None)
        row = found.order_by("-pk").first()
        return None if row is None else rows.bond(row)


def wafers_to_bond(*, most: int) -> tuple[tuple[str, str], ...]:
    """Order and name of the wafers that were read and wait for a carrier."""
    with translated():
        waiting = models.Wafer.objects.filter(state__in=("measured_in", "rebond")).order_by("order_id", "position")
        return tuple(waiting.values_list("order__order_id", "wafer_id")[:most])


def wafers_of_sets(keys: Collection[int]) -> frozenset[str | None]:
    """The wafers of some sets; None among them where one is of a carrier alone."""
    with translated():
        return frozenset(models.ReadingSet.objects.filter(pk__in=list(keys)).values_list("wafer__wafer_id", flat=True))


def wafers_of_rows(keys: Collection[int]) -> frozenset[str]:
    """The names of some wafers by their keys."""
    with translated():
        return frozenset(models.Wafer.objects.filter(pk__in=list(keys)).values_list("wafer_id", flat=True))
