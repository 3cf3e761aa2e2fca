"""Reading plates, their history, and how long a station ran."""

from __future__ import annotations

import math
from collections.abc import Collection
from datetime import datetime

from django.db.models import F, Max

from lapwright.model.name_order import name_key
from lapwright.model.plates import Plate, RecordedEntry, RecordedPlate
from lapwright.records import kept, models, rows
from lapwright.records.coding import from_plain
from lapwright.records.faults import translated
from lapwright.records.queries import find


def plates() -> tuple[RecordedPlate, ...]:
    """All plates, by name."""
    with translated():
        return tuple(_plate(row) for row in sorted(models.Plate.objects.all(), key=lambda row: name_key(row.plate_id)))


def plate_names() -> frozenset[str]:
    """The names of all plates."""
    with translated():
        return frozenset(models.Plate.objects.values_list("plate_id", flat=True))


def plate(plate_id: str) -> RecordedPlate:
    """One plate."""
    with translated():
        return _plate(find(models.Plate.objects.all(), "plate_id", plate_id))


def entries(plate_id: str) -> tuple[RecordedEntry, ...]:
    """The history of a plate, the earliest first; a correction stands in the place of what it corrects."""
    with translated():
        row = find(models.Plate.objects.all(), "plate_id", plate_id)
        return _histories([row.pk])[row.pk]


def histories() -> dict[str, tuple[RecordedEntry, ...]]:
    """The history of every plate, by name, each as `entries` gives it: the same object while no line was added."""
    with translated():
        names = dict(models.Plate.objects.values_list("pk", "plate_id"))
        found = _histories(list(names))
        return {name: found[key] for key, name in names.items()}


def plates_of_entries(keys: Collection[int]) -> frozenset[str]:
    """The plates that some lines of their histories are of."""
    with translated():
        made = models.PlateEntry.objects.filter(pk__in=list(keys))
        return frozenset(made.values_list("plate__plate_id", flat=True))


def ran_on(station_id: str, *, since: datetime | None, until: datetime) -> float:
    """How long a station ran in a time, by its recorded runs [s]; pieces that run together count once."""
    with translated():
        key = find(models.Station.objects.only("pk"), "station_id", station_id).pk
        # reckoned with, so that SQLite seeks by the end and does not go through all runs of the station
        of_station = models.Run.objects.annotate(place=F("station_id") + 0).filter(place=key, with_run=None)
        over = of_station.filter(ended_at__isnull=False) if since is None else of_station.filter(ended_at__gte=since)
        runs = [*over.values_list("at", "ended_at"), *of_station.filter(ended_at=None).values_list("at", "ended_at")]
        spans = [
            (begun if since is None else max(begun, since), min(ended or until, until))
            for begun, ended in runs
            if begun < until
        ]
        return math.fsum(max((end - start).total_seconds(), 0.0) for start, end in spans)


# ----------------------------------------------------------------------------------------------------------------------


def _histories(keys: list[int]) -> dict[int, tuple[RecordedEntry, ...]]:
    """Histories of plates by key; lines are never changed, so one is read again only when a line was added."""
    lines = models.PlateEntry.objects.filter(plate_id__in=keys)
    last = dict.fromkeys(keys, 0) | dict(lines.order_by().values_list("plate_id").annotate(last=Max("pk")))
    return kept.while_last("history of a plate", last, _read_histories)


def _read_histories(keys: list[int]) -> dict[int, tuple[RecordedEntry, ...]]:
    read: dict[int, list[models.PlateEntry]] = {key: [] for key in keys}
    for one in models.PlateEntry.objects.filter(plate_id__in=keys):
        read[one.plate_id].append(one)
    return {key: _history(lines) for key, lines in read.items()}


def _history(read: list[models.PlateEntry]) -> tuple[RecordedEntry, ...]:
    replaced = {one.corrects_id: one.pk for one in read if one.corrects_id is not None}
    by_id = {one.pk: one for one in read}

    def place(one: models.PlateEntry) -> tuple[datetime, int]:
        while one.corrects_id is not None:
            one = by_id[one.corrects_id]
        return one.at, one.pk

    return tuple(
        RecordedEntry(
            entry_id=one.pk, entry=from_plain(one.entry), replaced_by=replaced.get(one.pk),
            signature=rows.signature(one),
        )
        for one in sorted(read, key=place)
    )  # fmt: skip


def _plate(row: models.Plate) -> RecordedPlate:
    definition: Plate = from_plain(row.definition)
    return RecordedPlate(plate=definition, version=row.version, signature=rows.signature(row))
