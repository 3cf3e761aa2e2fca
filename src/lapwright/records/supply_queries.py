"""Reading lots of what is used up."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any, Literal

from django.db.models import Q, QuerySet, Subquery

from lapwright.model.supply import BondFacts, RecordedLot, RecordedUse, RunTime
from lapwright.records import models, rows
from lapwright.records.coding import from_plain
from lapwright.records.faults import translated
from lapwright.records.queries import find

Stretch = tuple[datetime | None, datetime | None]
MOST_ASKED = 10_000  # keys in one question; a database takes no more than some ten thousand


def lots() -> tuple[RecordedLot, ...]:
    """All lots with their uses, by item and arrival."""
    with translated():
        return tuple(_lot(row) for row in _lots().order_by("item", "at", "pk"))


def lot_names() -> tuple[str, ...]:
    """The names of all lots, by item and arrival."""
    with translated():
        return tuple(models.SupplyLot.objects.order_by("item", "at", "pk").values_list("lot_id", flat=True))


def lots_named(names: Collection[str]) -> dict[str, RecordedLot]:
    """Some lots with their uses, by their names."""
    with translated():
        return {row.lot_id: _lot(row) for row in _lots().filter(lot_id__in=list(names))}


def lot(lot_id: str) -> RecordedLot:
    """One lot, by the name it has or had."""
    with translated():
        row = row_named(lot_id)
        return _lot(find(_lots(), "lot_id", lot_id, what="lot") if row is None else _lots().get(pk=row.pk))


def row_named(name: str | None) -> models.SupplyLot | None:
    """The row of the lot that has a name, or had it before it was renamed; no two lots ever share one."""
    if not name:
        return None
    row = models.SupplyLot.objects.filter(lot_id=name).first()
    if row is None:
        keys = [key for key, names in _former_names().items() if name in names]
        row = models.SupplyLot.objects.filter(pk__in=keys).first()
    return row


def names_now() -> dict[str, str]:
    """Every name that a lot has or had, and the one it has now."""
    with translated():
        held = dict(models.SupplyLot.objects.values_list("pk", "lot_id"))
        former = {name: held[key] for key, names in _former_names().items() for name in names}
        return former | {name: name for name in held.values()}


def bonds_of_lot(lot_id: str, *, newest: int | None = None) -> tuple[BondFacts, ...]:
    """Order, wafer and moment of the bonds that point at a lot of adhesive, or of the newest, the earliest first."""
    with translated():
        return _bond_facts(_newest(models.Bond.objects.filter(adhesive_supply__lot_id=lot_id), newest))


def bonds_by_name() -> dict[str, tuple[BondFacts, ...]]:
    """The same of the bonds that only name a lot, by the name noted."""
    with translated():
        found = models.Bond.objects.filter(adhesive_supply=None).exclude(adhesive_lot="")
        names = set(found.values_list("adhesive_lot", flat=True))
        return {name: _bond_facts(found.filter(adhesive_lot=name)) for name in sorted(names)}


def adhesives_of_wafer(wafer_id: str) -> tuple[tuple[str, str, datetime], ...]:
    """What each bond of a wafer took: the adhesive, its lot (empty where none was noted) and when; the earliest first.

    A lot that the bond points at goes by the name that it has now.
    """
    with translated():
        found = models.Bond.objects.filter(wafer__wafer_id=wafer_id).order_by("pk")
        told = found.values_list("adhesive", "adhesive_lot", "adhesive_supply__lot_id", "at")
        return tuple((adhesive, noted if lot is None else lot, at) for adhesive, noted, lot, at in told)


def runs_of_lot(lot_id: str, *, newest: int | None = None) -> tuple[RunTime, ...]:
    """Runs with an abrasive that are over and point at a lot of it, then those of a pad, the earliest first.

    With `newest` no more than so many of either, the latest.
    """
    with translated():
        key = find(models.SupplyLot.objects.only("pk"), "lot_id", lot_id).pk
        over = models.Run.objects.exclude(ended_at=None).exclude(abrasive=None).filter(with_run=None)
        both = (over.filter(abrasive_supply=key), over.filter(pad_supply=key))
        return tuple(run for runs in both for run in _run_times(_newest(runs, newest)))


def cut_times(lot_id: str) -> tuple[tuple[datetime, float], ...]:
    """When each run of `runs_of_lot` began and how long it cut [s], and nothing else of it."""
    with translated():
        key = find(models.SupplyLot.objects.only("pk"), "lot_id", lot_id).pk
        over = models.Run.objects.exclude(ended_at=None).exclude(abrasive=None).filter(with_run=None)
        columns = ("at", "ended_at", "time_s", "stream__end__after_s")
        found = [*over.filter(abrasive_supply=key).values_list(*columns)]
        found += over.filter(pad_supply=key).values_list(*columns)
        return tuple((at, _cut_time(at, ended, time, after)) for at, ended, time, after in found)


def lots_of_runs(keys: Collection[int]) -> frozenset[str]:
    """The lots that some runs point at."""
    with translated():
        runs = models.Run.objects.filter(pk__in=list(keys))
        both = runs.values_list("abrasive_supply__lot_id", "pad_supply__lot_id")
        return frozenset(name for names in both for name in names if name is not None)


def lots_of_bonds(keys: Collection[int]) -> frozenset[str]:
    """The lots that some bonds point at."""
    with translated():
        found = models.Bond.objects.filter(pk__in=list(keys)).exclude(adhesive_supply=None)
        return frozenset(found.values_list("adhesive_supply__lot_id", flat=True))


def lots_of_uses(keys: Collection[int]) -> frozenset[str]:
    """The lots of which something was entered by hand."""
    with translated():
        found = models.SupplyUse.objects.filter(pk__in=list(keys))
        return frozenset(found.values_list("lot__lot_id", flat=True))


def lots_of_rows(keys: Collection[int]) -> frozenset[str]:
    """The names of some lots by their keys."""
    with translated():
        return frozenset(models.SupplyLot.objects.filter(pk__in=list(keys)).values_list("lot_id", flat=True))


def runs_by_name(kind: Literal["abrasive", "pad"], noted: Mapping[str, Stretch]) -> tuple[RunTime, ...]:
    """Runs that are over and point at no lot of a kind, at stations that named one in a stretch of time.

    `noted` says from when until when, None for as far as the records go.
    """
    with translated():
        which = Q(pk__in=[])
        for station_id, (begun, ended) in noted.items():
            stretch = Q(station__station_id=station_id)
            if begun is not None:
                stretch &= Q(at__gte=begun)
            if ended is not None:
                stretch &= Q(at__lt=ended)
            which |= stretch
        over = models.Run.objects.exclude(ended_at=None).filter(which, with_run=None, **{f"{kind}_supply": None})
        return _run_times(over) if noted else ()


def runs_of_wafer(wafer_id: str) -> tuple[RunTime, ...]:
    """The runs of a wafer with an abrasive, also those that go on and those beside others. Raises `NotFound`."""
    with translated():
        # by key: by its name SQLite would go through all runs in the order of time
        key = models.Wafer.objects.filter(wafer_id=wafer_id).order_by().values("pk")
        found = _run_times(models.Run.objects.filter(wafer=Subquery(key)))
        if not found:
            find(models.Wafer.objects.only("pk"), "wafer_id", wafer_id)
        return found


def runs_on_plate(plate_id: str, noted: Collection[str], *, newest: int) -> tuple[RunTime, ...]:
    """Runs that are over with a plate by key, and those without one at stations where its name was noted once.

    Of either so many of the newest.
    """
    with translated():
        over = (
            models.Run.objects.exclude(ended_at=None).filter(with_run=None).order_by("-pk").values_list("pk", flat=True)
        )
        plate = find(models.Plate.objects.only("pk"), "plate_id", plate_id)
        keys = list(over.filter(plate_record=plate)[:newest])
        if noted:
            keys += over.filter(plate_record=None, station__station_id__in=list(noted))[:newest]
        return _run_times(models.Run.objects.filter(pk__in=keys))


def waiting_times() -> dict[str, tuple[float, ...]]:
    """Planned times [s] of the stages that wait, of wafers in work, by abrasive; of each plan only these are read."""
    found: dict[str, list[float]] = defaultdict(list)
    with translated():
        # by the keys of the wafers: joined, SQLite would go through all stages there are
        wafers = models.Wafer.objects.filter(state__in=("ready", "in_work")).order_by().values_list("pk", flat=True)
        waiting = models.Stage.objects.filter(state="waiting", wafer__in=list(wafers))
        for abrasive, time in waiting.values_list("planned__abrasive", "planned__time"):
            if abrasive and time:
                found[abrasive].append(time)
    return {abrasive: tuple(times) for abrasive, times in found.items()}


# ----------------------------------------------------------------------------------------------------------------------


def _former_names() -> dict[int, set[str]]:
    """Names that lots had before they were renamed, by key."""
    found: dict[int, set[str]] = defaultdict(set)
    for row in models.Change.objects.filter(table="supplylot", fields__has_key="lot_id"):
        found[row.row].add(row.fields["lot_id"][0])
    return found


def _newest(found: QuerySet[Any], count: int | None) -> QuerySet[Any]:
    """The rows that were recorded last, so many; all of them without a number."""
    if count is None:
        return found
    # sorted here: to sort them itself SQLite would go through all rows of the table
    return found.filter(pk__in=sorted(found.order_by().values_list("pk", flat=True))[-count:])


def _run_times(runs: QuerySet[Any]) -> tuple[RunTime, ...]:
    found = list(
        runs.exclude(abrasive=None).order_by("at", "pk").values_list(
            "pk", "wafer__order__order_id", "wafer__wafer_id", "station__station_id", "at", "ended_at", "abrasive",
            "time_s", "stream__end__after_s", "abrasive_supply__lot_id", "pad_supply__lot_id", "plate_record__plate_id",
        )
    )  # fmt: skip
    beside: dict[int, list[tuple[str, str]]] = defaultdict(list)
    # a range, which SQLite seeks in its index; sorted below, for in the order of keys it would go through all runs
    companions = models.Run.objects.filter(with_run__gt=0).order_by()
    if companions.exists():
        beside_these = companions
        if len(found) <= MOST_ASKED:
            beside_these = companions.filter(with_run__in=[row[0] for row in found])
        named = beside_these.values_list("pk", "with_run", "wafer__order__order_id", "wafer__wafer_id")
        for _, first, order_id, wafer_id in sorted(named):
            beside[first or 0].append((order_id, wafer_id))
    return tuple(
        RunTime(
            run_id=pk,
            order_id=order_id,
            wafer_id=wafer_id,
            station_id=station_id,
            started=at,
            abrasive=abrasive or "",
            cut_time=_cut_time(at, ended, time, after),
            lot_id=lot_id,
            pad_lot_id=pad_lot_id,
            plate_id=plate_id,
            companions=tuple(beside[pk]),
        )
        for pk, order_id, wafer_id, station_id, at, ended, abrasive, time, after, lot_id, pad_lot_id, plate_id in found
    )


def _cut_time(at: datetime, ended: datetime | None, time: float | None, after: float | None) -> float:
    """How long a run cut [s]: by its recorder, else by the clock, else from start to end."""
    return after or time or ((ended or at) - at).total_seconds()


def _bond_facts(found: QuerySet[Any]) -> tuple[BondFacts, ...]:
    told = found.order_by("pk").values_list("wafer__order__order_id", "wafer__wafer_id", "at")
    return tuple(BondFacts(order_id=order_id, wafer_id=wafer_id, at=at) for order_id, wafer_id, at in told)


def _lots() -> QuerySet[Any]:
    return models.SupplyLot.objects.prefetch_related("uses")


def _lot(row: models.SupplyLot) -> RecordedLot:
    return RecordedLot(
        lot=from_plain(row.definition),
        uses=tuple(
            RecordedUse(
                use_id=one.pk,
                lot_id=row.lot_id,
                kind=one.kind,
                amount=one.amount,
                signature=rows.signature(one),
            )
            for one in row.uses.all()
        ),
        version=row.version,
        signature=rows.signature(row),
    )
