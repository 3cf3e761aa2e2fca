"""Reading all of a wafer or of an order at once, in a number of queries that does not grow with the wafers."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db.models import OuterRef, Q, Subquery

from lapwright.model.job import (
    RecordedDocument,
    RecordedFinding,
    RecordedNote,
    RecordedRoute,
    RecordedRun,
    RecordedSet,
    RecordedStage,
    RecordedVerdict,
    WaferState,
)
from lapwright.model.readings import Moment
from lapwright.model.story import (
    OrderStanding,
    OrderStory,
    SetHead,
    VoidSet,
    WaferAtWork,
    WaferStanding,
    WaferStory,
)
from lapwright.records import kept, models, queries, rows
from lapwright.records.faults import translated
from lapwright.records.of_wafers import OfWafers, grouped
from lapwright.records.queries import find


def wafer_story(wafer_id: str) -> WaferStory:
    """All of one wafer."""
    with translated():
        row = find(queries.wafer_rows(), "wafer_id", wafer_id)
        return _stories([row])[0]


def order_story(order_id: str) -> OrderStory:
    """All of one order."""
    with translated():
        row = find(queries.orders_with_wafers(), "order_id", order_id)
        carrier_sets = kept.sets().filter(order=row, subject="carrier").order_by("at", "pk")
        return OrderStory(
            order=rows.order(row),
            wafers=_stories(row.wafers.all()),
            carrier_sets=kept.reading_sets(carrier_sets),
            routes=_routes(row),
            notes=_notes(row),
            documents=_documents(row),
        )


def order_standing(order_id: str) -> OrderStanding:
    """Where an order stands, with none of its readings but those of the latest set of each wafer."""
    with translated():
        row = find(queries.orders_with_wafers(), "order_id", order_id)
        return OrderStanding(
            order=rows.order(row),
            wafers=_standings(row.wafers.all()),
            routes=_routes(row),
            notes=_notes(row),
            documents=_documents(row),
        )


def order_documents(order_id: str) -> tuple[RecordedDocument, ...]:
    """The documents of an order as a whole."""
    with translated():
        return _documents(find(models.Order.objects.all(), "order_id", order_id))


def findings_by_key(keys: Collection[int]) -> tuple[RecordedFinding, ...]:
    """Findings on record by their keys, the earliest first."""
    with translated():
        found = models.Finding.objects.select_related("wafer", "gauge").filter(pk__in=list(keys)).order_by("pk")
        return tuple(rows.finding(row) for row in found)


def order_verdicts(order_id: str) -> dict[str, tuple[RecordedVerdict, ...]]:
    """Wafer of an order -> its verdicts, the earliest first. Raises `NotFound` for an order that is not on record."""
    with translated():
        row = find(models.Order.objects.prefetch_related("wafers"), "order_id", order_id)
        found = grouped(
            (one.wafer_id, rows.verdict(one)) for one in queries.verdict_rows().filter(wafer__in=row.wafers.all())
        )
        return {wafer.wafer_id: found.get(wafer.pk, ()) for wafer in row.wafers.all()}


def set_heads(order_id: str) -> tuple[SetHead, ...]:
    """The sets of an order's wafers, and of carriers read for it, without readings, the earliest opened first."""
    with translated():
        # by keys: with names in joined tables the database would go through all sets
        keys = list(models.Wafer.objects.filter(order__order_id=order_id).order_by().values_list("pk", flat=True))
        order = models.Order.objects.filter(order_id=order_id).values_list("pk", flat=True).first()
        of_order = Q(wafer__in=keys) | Q(order=order, order__isnull=False)
        found = models.ReadingSet.objects.filter(of_order).order_by("at", "pk")
        return tuple(
            SetHead(
                set_id=row.pk,
                piece=row.piece,
                wafer_id=row.wafer.wafer_id if row.wafer else None,
                moment=row.moment,  # type: ignore[arg-type]
                gauge_id=row.gauge.gauge_id,
                pattern=row.pattern["name"],
                repeats=row.repeats,
                unit=row.unit,
                state=row.state,  # type: ignore[arg-type]
                opened=rows.signature(row),
            )
            for row in found.select_related("wafer", "gauge")
        )


def open_sets_of(piece: str) -> tuple[tuple[int, str | None, Moment], ...]:
    """The open sets of a wafer or carrier: number, order and moment."""
    with translated():
        found = models.ReadingSet.objects.filter(piece=piece, state="open").order_by("pk")
        names = found.values_list("pk", "wafer__order__order_id", "order__order_id", "moment")
        return tuple((number, of_wafer or of_carrier, moment) for number, of_wafer, of_carrier, moment in names)  # type: ignore[misc]


def open_carrier_sets() -> tuple[tuple[str, str, datetime], ...]:
    """The carriers whose set is being taken for an order: name, order, since when."""
    with translated():
        found = models.ReadingSet.objects.filter(state="open", wafer=None).exclude(order=None).order_by("pk")
        return tuple(found.values_list("piece", "order__order_id", "at"))


def quantities_found(wafer_ids: Iterable[str]) -> dict[str, frozenset[str]]:
    """Wafer -> the quantities that were measured of it otherwise than by sets."""
    found: dict[str, set[str]] = {}
    with translated():
        rows_found = models.Finding.objects.filter(wafer__wafer_id__in=list(wafer_ids))
        for wafer_id, quantity in rows_found.values_list("wafer__wafer_id", "quantity"):
            found.setdefault(wafer_id, set()).add(quantity)
    return {wafer_id: frozenset(quantities) for wafer_id, quantities in found.items()}


def void_sets(states: Iterable[WaferState]) -> tuple[VoidSet, ...]:
    """The sets declared unusable of wafers that stand in some states, the latest last."""
    with translated():
        found = models.ReadingSet.objects.filter(state="void", wafer__state__in=list(states)).order_by("pk")
        listed = list(found.select_related("wafer__order"))
        told = models.Change.objects.filter(table="readingset", row__in=[row.pk for row in listed]).order_by("pk")
        since = dict(told.values_list("row", "at"))
        return tuple(
            VoidSet(
                set_id=row.pk,
                wafer_id=row.wafer.wafer_id,
                order_id=row.wafer.order.order_id,
                state=row.wafer.state,  # type: ignore[arg-type]
                moment=row.moment,  # type: ignore[arg-type]
                reason=row.void_reason or "",
                since=since.get(row.pk, row.at),
            )
            for row in listed
            if row.wafer is not None
        )


def closed_moments(wafer_ids: Iterable[str]) -> dict[str, frozenset[str]]:
    """Wafer -> the moments of which it has a closed set."""
    found: dict[str, set[str]] = {}
    with translated():
        closed = models.ReadingSet.objects.filter(state="closed", wafer__wafer_id__in=list(wafer_ids)).order_by()
        for wafer_id, moment in closed.values_list("wafer__wafer_id", "moment").distinct():
            found.setdefault(wafer_id, set()).add(moment)
    return {wafer_id: frozenset(moments) for wafer_id, moments in found.items()}


def order_notes(order_id: str) -> tuple[RecordedNote, ...]:
    """The notes of an order as a whole."""
    with translated():
        return tuple(rows.note(row) for row in queries.note_rows().filter(order__order_id=order_id, wafer=None))


def stages_ahead(wafer_ids: Iterable[str]) -> dict[str, RecordedStage]:
    """Wafer -> its first stage that waits or runs."""
    with translated():
        open_ones = queries.stage_rows().filter(state__in=("waiting", "running"))
        first = open_ones.filter(wafer=OuterRef("wafer")).order_by("number").values("number")[:1]
        found = open_ones.filter(wafer__wafer_id__in=list(wafer_ids), number=Subquery(first))
        return {row.wafer.wafer_id: rows.stage(row) for row in found}


def finished_wafers(*, newest: int) -> tuple[tuple[RecordedSet, tuple[RecordedRun, ...]], ...]:
    """Last closed final set and runs of those of the newest wafers that have such a set, the newest wafer first."""
    with translated():
        keys = list(models.Wafer.objects.order_by("-order_id", "-position").values_list("pk", flat=True)[:newest])
        runs = grouped((row.wafer_id, rows.run(row)) for row in queries.run_rows().filter(wafer__in=keys))
        closed = kept.sets().filter(wafer__in=keys, subject="wafer", moment="final", state="closed")
        last = {row.wafer_id: row for row in closed.order_by("closed_at", "pk")}
        wanted = [key for key in keys if key in last]
        sets = kept.reading_sets([last[key] for key in wanted])
        return tuple((one, runs.get(key, ())) for key, one in zip(wanted, sets, strict=True))


def sets_by_key(keys: Sequence[int]) -> tuple[RecordedSet, ...]:
    """Sets on record by their keys, in the order of these."""
    with translated():
        found = {one.set_id: one for one in kept.reading_sets(kept.sets().filter(pk__in=keys))}
        return tuple(found[key] for key in keys)


def wafer_at_work(wafer_id: str) -> WaferAtWork:
    """What the next step of a wafer rests on."""
    with translated():
        return _at_work([find(queries.wafer_rows(), "wafer_id", wafer_id)])[0]


def wafers_at_work(wafer_ids: Sequence[str]) -> tuple[WaferAtWork, ...]:
    """What the next steps of several wafers rest on, in the order of the wafers on record."""
    with translated():
        return _at_work(list(queries.wafer_rows().filter(wafer_id__in=wafer_ids)))


# ----------------------------------------------------------------------------------------------------------------------


def _routes(row: models.Order) -> tuple[RecordedRoute, ...]:
    return tuple(rows.route(item) for item in row.routes.select_related("order").order_by("pk"))


def _notes(row: models.Order) -> tuple[RecordedNote, ...]:
    return tuple(rows.note(item) for item in queries.note_rows().filter(order=row, wafer=None))


def _documents(row: models.Order) -> tuple[RecordedDocument, ...]:
    return tuple(rows.document(item) for item in queries.document_rows().filter(order=row, wafer=None))


def _stories(wafers: Sequence[models.Wafer]) -> tuple[WaferStory, ...]:
    of = OfWafers(wafers)
    set_rows = list(kept.sets().filter(of.mine).order_by("at", "pk"))
    groups: dict[str, dict[int, tuple[Any, ...]]] = {
        "events": of.told(models.WaferEvent.objects.order_by("pk"), rows.event),
        "sets": grouped(zip((row.wafer_id for row in set_rows), kept.reading_sets(set_rows), strict=True)),
        "bonds": of.bonds(),
        "stages": of.told(queries.stage_rows(), rows.stage),
        "zeros": of.told(queries.zero_rows(), rows.zero, "station", "jig"),
        "runs": of.told(queries.run_rows(), rows.run, "station", "jig"),
        "findings": of.told(models.Finding.objects.order_by("pk"), rows.finding, "gauge"),
        "verdicts": of.told(queries.verdict_rows(), rows.verdict),
        "notes": of.told(queries.note_rows(), rows.note, "order"),
        "documents": of.told(queries.document_rows(), rows.document, "order"),
        "surfaces": grouped((row.wafer_id, rows.surface(row)) for row in queries.surface_rows().filter(of.mine)),
    }
    return tuple(
        WaferStory(wafer=rows.wafer(row), **{name: group.get(row.pk, ()) for name, group in groups.items()})
        for row in wafers
    )


def _standings(wafers: Sequence[models.Wafer]) -> tuple[WaferStanding, ...]:
    of = OfWafers(wafers)
    closed = models.ReadingSet.objects.filter(of.mine, subject="wafer", state="closed").order_by("at", "pk")
    latest = dict(closed.values_list("wafer_id", "pk"))
    sets = {one.set_id: one for one in kept.reading_sets(kept.sets().filter(pk__in=latest.values()))}
    bonds, stages = of.bonds(), of.told(queries.stage_rows(), rows.stage)
    verdicts = of.told(queries.verdict_rows(), rows.verdict)
    return tuple(
        WaferStanding(
            wafer=rows.wafer(row),
            latest=_found(sets, latest.get(row.pk)),
            bonds=bonds.get(row.pk, ()),
            stages=stages.get(row.pk, ()),
            verdicts=verdicts.get(row.pk, ()),
        )
        for row in wafers
    )


def _at_work(wafers: Sequence[models.Wafer]) -> tuple[WaferAtWork, ...]:
    mine = Q(wafer__in=[row.pk for row in wafers])
    bonds = {row.pk: row for row in queries.bond_rows().filter(pk__in=[row.bond_id for row in wafers if row.bond_id])}
    stages = grouped((row.wafer_id, rows.stage(row)) for row in queries.stage_rows().filter(mine))
    zeros = grouped((row.wafer_id, rows.zero(row)) for row in queries.zero_rows().filter(mine))
    runs = grouped((row.wafer_id, rows.run(row)) for row in queries.run_rows().filter(mine))
    closed = models.ReadingSet.objects.filter(mine, state="closed").order_by("-closed_at", "-pk")
    heads = grouped((row[0], row) for row in closed.values_list("wafer_id", "pk", "subject", "moment", "at"))
    latest = {row.pk: _latest_of(heads.get(row.pk, ()), _judged(row, bonds)) for row in wafers}
    bonded = {row.pk: _bond_sets(_judged(row, bonds)) for row in wafers}
    wanted = {pk for pk in latest.values() if pk is not None}.union(*bonded.values())
    sets = {one.set_id: one for one in kept.reading_sets(kept.sets().filter(pk__in=wanted))}
    return tuple(
        WaferAtWork(
            wafer=rows.wafer(row),
            bond=rows.bond(bonds[row.bond_id]) if row.bond_id in bonds else None,
            stages=stages.get(row.pk, ()),
            zeros=zeros.get(row.pk, ()),
            runs=runs.get(row.pk, ()),
            latest=_found(sets, latest[row.pk]),
            bond_sets=tuple(sets[pk] for pk in bonded[row.pk] if pk in sets),
        )
        for row in wafers
    )


def _judged(row: models.Wafer, bonds: Mapping[int, models.Bond]) -> models.Bond | None:
    bond = bonds.get(row.bond_id) if row.bond_id is not None else None
    return None if bond is None or bond.numbers is None else bond


def _bond_sets(judged: models.Bond | None) -> tuple[int, ...]:
    """The sets of the wafer and of the stack that a bond was judged by."""
    keys = () if judged is None else (judged.wafer_set_id, judged.stack_set_id)
    return tuple(sorted(key for key in keys if key is not None))


def _latest_of(heads: Sequence[tuple[Any, ...]], judged: models.Bond | None) -> int | None:
    """The closed set that says how thick a wafer is now, of those given with the latest first."""
    if judged is not None:
        for _wafer, pk, _subject, moment, at in heads:
            if moment in ("after_stage", "on_carrier") and at >= judged.at:
                return int(pk)
    return next((int(pk) for _wafer, pk, subject, _moment, _at in heads if subject == "wafer"), None)


def _found(sets: Mapping[int, RecordedSet], key: int | None) -> RecordedSet | None:
    return None if key is None else sets.get(key)
