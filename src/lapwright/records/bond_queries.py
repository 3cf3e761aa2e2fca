"""Reading what bonds brought so far."""

from __future__ import annotations

from lapwright.model.job import RecordedBond
from lapwright.model.wafer import Wedge
from lapwright.records import queries, rows
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
        waiting = queries.wafer_rows().filter(state__in=("measured_in", "rebond"))[:most]
        return tuple((row.order.order_id, row.wafer_id) for row in waiting)
