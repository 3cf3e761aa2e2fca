"""Reading what bonds brought so far."""

from __future__ import annotations

from lapwright.model.wafer import Wedge
from lapwright.records import queries, rows
from lapwright.records.faults import translated


def bond_wedges(*, most: int) -> tuple[Wedge, ...]:
    """Wedges of the latest judged bonds, in the wafer frame; those that cannot be told are left out."""
    with translated():
        found = [rows.bond(row) for row in queries.bond_rows().exclude(numbers=None).order_by("-pk")[:most]]
    return tuple(one.numbers.wedge for one in found if one.numbers is not None and one.numbers.wedge is not None)


def wafers_to_bond(*, most: int) -> tuple[tuple[str, str], ...]:
    """Order and name of the wafers that were read and wait for a carrier."""
    with translated():
        waiting = queries.wafer_rows().filter(state__in=("measured_in", "rebond"))[:most]
        return tuple((row.order.order_id, row.wafer_id) for row in waiting)
