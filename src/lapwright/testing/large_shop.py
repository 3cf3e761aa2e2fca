"""A database as large as years of work leave it: a few wafers worked through the use cases, then copied in SQL.

A copy has its own names, keys and times and is otherwise what the use cases wrote: signed, its changes beside it, its
readings as they were; the chain of digests knows it once `link_copies` has run. All invented. For SQLite. As a program
(``python -m lapwright.testing.large_shop DATA``) it makes 2 000 orders, 20 000 wafers and 2.7 million readings in a new
folder.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from itertools import islice
from pathlib import Path
from typing import Any

from lapwright.testing import large_desk
from lapwright.testing.lot import CARRIER_THICKNESS, ORDER, Lot, flat

WAFERS_PER_ORDER = 10
LINKED_AT_ONCE = 10_000  # rows in one link
#: Points of the job at which wafers are copied; the first is the end of it, the last keeps the carrier.
POINTS = ("certified", "judged", "odd", "debonded", "received", "measured_in", "in_work")
WAITING_POINTS = len(POINTS) - 1
#: Tables whose rows are copied with an order, and with a wafer: name -> which rows, given the key of either.
OF_ORDER = {
    "order": "id = {}",
    "lot": "order_id = {}",
    "route": "order_id = {}",
    "document": "order_id = {}",
    "signing": "order_id = {}",
}
OF_WAFER = {
    "wafer": "id = {}",
    "waferevent": "wafer_id = {}",
    "readingset": "wafer_id = {}",
    "reading": "set_id IN (SELECT id FROM records_readingset WHERE wafer_id = {})",
    "bond": "wafer_id = {}",
    "stage": "wafer_id = {}",
    "cleancheck": "stage_id IN (SELECT id FROM records_stage WHERE wafer_id = {})",
    "zero": "wafer_id = {}",
    "run": "wafer_id = {}",
    "finding": "wafer_id = {}",
    "verdict": "wafer_id = {}",
}
CARRIER = {"carrier": "id IN (SELECT carrier_id FROM records_bond WHERE wafer_id = {} AND undone_at IS NULL)"}
#: Columns that hold a name of the order, its wafer or its carrier, alone or within a value.
NAMING = ("order_id", "lot_id", "wafer_id", "carrier_id", "piece", "definition", "name", "document_number")

#: Columns that point at a row which is not copied.
STAYING = ("carrier_set_id",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Copies:
    """So many orders made of one: which are counted on from `first`, each `days_apart` older than the one before."""

    order_id: str
    first: int
    orders: int
    days_apart: float
    keeps_carrier: bool


def fill(*, finished: int, waiting: int) -> None:
    """Make so many finished orders, and so many at each of the other points, on empty started records."""
    from django.apps import apps
    from django.db import connection, transaction

    from lapwright.records.statistics import renew_statistics

    tables = {model.__name__.lower(): model for model in apps.get_app_config("records").get_models()}
    made = list(_worked(finished, waiting))
    with connection.cursor() as cursor:
        step = 1 + max(_highest_key(cursor, tables[name]) for name in (*OF_ORDER, *OF_WAFER, "carrier", "change"))
    for copies in made:
        with transaction.atomic(), connection.cursor() as cursor:
            for statement in _statements(cursor, tables, copies, step):
                cursor.execute(statement)
    renew_statistics()


def link_copies() -> int:
    """Link every row that the chain does not know, so that it verifies; how many there were."""
    from lapwright.records import chain
    from lapwright.records.chain_form import covered_models, form_of
    from lapwright.records.chain_rows import covered_rows, row_digests, side_by_side
    from lapwright.records.faults import one_transaction

    linked = 0
    with closing(covered_rows()) as known:
        for name, model in covered_models().items():
            both = side_by_side(row_digests(form_of(model)), known.rows(name))
            unknown = (f"row {name} {key} {digest}" for key, digest, told in both if told is None)
            while lines := list(islice(unknown, LINKED_AT_ONCE)):
                with one_transaction():
                    chain.add_link(lines, by="program", reason="copies of a large shop")
                linked += len(lines)
    return linked


def counts() -> dict[str, int]:
    """How many orders, wafers, sets and readings there are."""
    from django.db import connection

    found = {}
    with connection.cursor() as cursor:
        for name in ("order", "wafer", "readingset", "reading"):
            cursor.execute(f'SELECT count(*) FROM "records_{name}"')  # noqa: S608  a name of our own
            found[name] = int(cursor.fetchone()[0])
    return found


# ----------------------------------------------------------------------------------------------------------------------


def _worked(finished: int, waiting: int) -> Iterator[Copies]:
    """One wafer worked to each point, and how often it is to be copied."""
    from lapwright.app import certificates, routes

    bench = Lot(now=datetime(2026, 11, 2, 8, 0, tzinfo=UTC))
    bench.furnish()
    bench.receive()
    bench.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    plan = None
    first = 0
    for number, point in enumerate(POINTS, start=2):
        order = replace(ORDER, order_id=f"AP-{number}", due=date(2027, 1, 15))
        bench.receive(order)
        if point not in ("received", "measured_in"):
            plan = plan or routes.propose_routes(ORDER.order_id)[0]
            routes.choose_route(order.order_id, plan, **bench.why())
        _work_to(bench, f"{order.order_id}-01", point)
        if point == "certified":
            certificates.issue_certificate(order.order_id, **bench.why())
        many, apart = (finished, 0.7) if point == "certified" else (waiting, 0.5)
        yield Copies(
            order_id=order.order_id, first=first, orders=many, days_apart=apart, keeps_carrier=point == "in_work"
        )
        first += many


def _work_to(bench: Lot, wafer_id: str, point: str) -> None:
    from lapwright.app import bonding

    if point == "received":
        return
    bench.read(wafer_id, "wafer", "incoming", flat(500e-6), repeats=1)
    if point == "measured_in":
        return
    bond = bench.bond(wafer_id, flat(500e-6))
    if point == "in_work":
        return
    bench.work(wafer_id)
    if point == "debonded":
        bench.read(wafer_id, "stack", "on_carrier", flat(CARRIER_THICKNESS + 104e-6))
        bonding.record_debond(bond.bond_id, "solvent overnight", **bench.why())
        return
    bench.finish(wafer_id, bond.bond_id, _wedged if point == "odd" else flat(100e-6))


def _wedged(x: float, _y: float) -> float:
    """A wafer 3 µm thicker on one side than on the other, where 2 µm are allowed."""
    return 100e-6 + 6e-5 * x


def _statements(cursor: Any, tables: Mapping[str, Any], copies: Copies, step: int) -> Iterator[str]:
    """One INSERT … SELECT a table, and one more for the changes noted of its rows."""
    cursor.execute("SELECT id FROM records_order WHERE order_id = %s", [copies.order_id])
    order_key = int(cursor.fetchone()[0])
    cursor.execute("SELECT id FROM records_wafer WHERE order_id = %s", [order_key])
    wafer_key = int(cursor.fetchone()[0])
    of_wafer = OF_WAFER | (CARRIER if copies.keeps_carrier else {})
    moved = dict.fromkeys(OF_ORDER, "o") | dict.fromkeys(of_wafer, "n")
    for name, rows in (OF_ORDER | of_wafer).items():
        chosen = rows.format(order_key if name in OF_ORDER else wafer_key)
        yield _insert(tables[name], chosen, copies, step, moved)
        noted = f'"table" = \'{name}\' AND "row" IN (SELECT id FROM records_{name} WHERE {chosen})'  # noqa: S608
        yield _insert(tables["change"], noted, copies, step, moved | {"change": moved[name]})


def _insert(model: Any, chosen: str, copies: Copies, step: int, moved: Mapping[str, str]) -> str:
    name = model.__name__.lower()
    offsets = {"n": f"{step} * (n + 1)", "o": f"{step} * (o * {WAFERS_PER_ORDER} + 1)"}
    offset = offsets[moved[name]]
    columns, values = [], []
    for field in model._meta.local_concrete_fields:  # noqa: SLF001  Django's public name for it
        columns.append(f'"{field.column}"')
        target = field.related_model.__name__.lower() if field.related_model else name if field.primary_key else ""
        moving = field.column not in STAYING and (target in moved or (name == "change" and field.column == "row"))
        by = offset if target in (name, "") else offsets[moved.get(target, "n")]
        values.append(f's."{field.column}" + {by}' if moving else _copied(field, copies))
    per_order = moved[name] == "o"
    first = copies.first * (1 if per_order else WAFERS_PER_ORDER)
    last = (copies.first + copies.orders) * (1 if per_order else WAFERS_PER_ORDER) - 1
    counted = "n AS o" if per_order else f"n / {WAFERS_PER_ORDER} AS o"
    return (
        f"WITH RECURSIVE count(n) AS (SELECT {first} UNION ALL SELECT n + 1 FROM count WHERE n < {last}),"  # noqa: S608
        f' copies AS (SELECT n, {counted} FROM count) INSERT INTO "{model._meta.db_table}" ({", ".join(columns)})'  # noqa: SLF001
        f' SELECT {", ".join(values)} FROM "{model._meta.db_table}" s JOIN copies WHERE {chosen}'  # noqa: SLF001
    )


def _copied(field: Any, copies: Copies) -> str:
    """A column of the copy: names renamed, times moved back, the place in the order counted, all else as it was."""
    column = f's."{field.column}"'
    kind = field.get_internal_type()
    back = f"'-' || round((o - {copies.first}) * {copies.days_apart}, 3) || ' days'"
    if kind == "DateTimeField":
        return f"datetime({column}, {back})"
    if kind == "DateField":
        return f"date({column}, {back})"
    if field.column == "position":
        return f"n % {WAFERS_PER_ORDER} + 1"
    if field.column in NAMING:
        order, wafer = "'LS-' || printf('%05d', o + 1)", f"'-' || printf('%02d', n % {WAFERS_PER_ORDER} + 1)"
        renamed = f"replace({column}, '{copies.order_id}-01', {order} || {wafer})"
        renamed = f"replace({renamed}, '{copies.order_id}', {order})"
        return f"replace({renamed}, 'C1', 'C' || (n + 100))" if field.model.__name__ == "Carrier" else renamed
    return column


def _highest_key(cursor: Any, model: Any) -> int:
    cursor.execute(f'SELECT coalesce(max(id), 0) FROM "{model._meta.db_table}"')  # noqa: S608, SLF001
    return int(cursor.fetchone()[0])


def _main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("data", type=Path)
    parser.add_argument("--finished", type=int, default=1960)
    parser.add_argument("--waiting", type=int, default=8)
    parser.add_argument("--desk", action="store_true", help="and what stands around the wafers: gauges, lots, recipes")
    parser.add_argument("--linked", action="store_true", help="have the audit chain know the copies, too")
    given = parser.parse_args()

    from lapwright.app import wiring
    from lapwright.settings import read_settings

    wiring.start(read_settings({"data": given.data}))
    fill(finished=given.finished, waiting=given.waiting)
    if given.desk:
        large_desk.fill()
    if given.linked:
        link_copies()
    sys.stdout.write(f"{counts()}\n")


if __name__ == "__main__":
    _main()
