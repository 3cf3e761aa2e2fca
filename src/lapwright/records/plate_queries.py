"""Reading plates, their history, and how long a station ran."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Generic, TypeVar

from django.db.models import F, Max, QuerySet

from lapwright.model.name_order import name_key
from lapwright.model.plates import EntryHead, Plate, PlateEntry, RecordedEntry, RecordedPlate
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


def heads() -> dict[str, tuple[EntryHead, ...]]:
    """The history of every plate by name without its readings, in the same order; of the ring with its place."""
    with translated():
        names = dict(models.Plate.objects.values_list("pk", "plate_id"))
        lines = models.PlateEntry.objects.filter(plate_id__in=list(names))
        last = dict.fromkeys(names, 0) | dict(lines.order_by().values_list("plate_id").annotate(last=Max("pk")))
        found = kept.added_to("heads of a plate", last, _heads_on)
        return {name: found[key].lines for key, name in names.items()}


def entries_numbered(keys: Collection[int]) -> dict[int, PlateEntry]:
    """Some lines by their numbers; they are never changed, so each is read once."""

    def read(missing: list[int]) -> dict[int, PlateEntry]:
        found = models.PlateEntry.objects.filter(pk__in=missing).order_by().values_list("pk", "entry")
        return {key: from_plain(plain) for key, plain in found}

    with translated():
        return kept.while_last("line of a plate", {key: key for key in keys}, read)


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


Line = TypeVar("Line", RecordedEntry, EntryHead)


@dataclass(frozen=True, slots=True)
class _History(Generic[Line]):
    """Lines in their order, and for each the moment and the number of the line whose place it has."""

    lines: tuple[Line, ...]
    places: Mapping[int, tuple[datetime, int]]


def _histories(keys: list[int]) -> dict[int, tuple[RecordedEntry, ...]]:
    """Histories of plates by key; lines are never changed, so only those are read that were added since."""
    lines = models.PlateEntry.objects.filter(plate_id__in=keys)
    last = dict.fromkeys(keys, 0) | dict(lines.order_by().values_list("plate_id").annotate(last=Max("pk")))
    return {key: one.lines for key, one in kept.added_to("history of a plate", last, _read_on).items()}


def _read_on(before: dict[int, tuple[int, _History[RecordedEntry] | None]]) -> dict[int, _History[RecordedEntry]]:
    """Histories carried on from the line up to which they were read."""
    return _carried_on(before, models.PlateEntry.objects.all(), _entry)


def _entry(row: models.PlateEntry) -> RecordedEntry:
    return RecordedEntry(entry_id=row.pk, entry=from_plain(row.entry), replaced_by=None, signature=rows.signature(row))


def _heads_on(before: dict[int, tuple[int, _History[EntryHead] | None]]) -> dict[int, _History[EntryHead]]:
    """The same without readings, which take most of the time: only of the ring's moves is more read than the row."""
    first = min(end for end, _ in before.values())
    of_ring = models.PlateEntry.objects.filter(plate_id__in=list(before), kind="ring", pk__gt=first).order_by()
    moves = {key: from_plain(plain) for key, plain in of_ring.values_list("pk", "entry")}

    def head(row: Any) -> EntryHead:
        move = moves.get(row.pk)
        return EntryHead(
            entry_id=row.pk, kind=row.kind, ran=row.ran_s, offset=move and move.offset,
            speed_ratio=move and move.speed_ratio, replaced_by=None, at=row.at,
        )  # fmt: skip

    bare = models.PlateEntry.objects.values_list("pk", "plate_id", "at", "corrects_id", "kind", "ran_s", named=True)
    return _carried_on(before, bare, head)


def _carried_on(
    before: dict[int, tuple[int, _History[Line] | None]], lines: QuerySet[Any, Any], made: Callable[[Any], Line]
) -> dict[int, _History[Line]]:
    """Histories with the lines that came since; of plates not read before all lines are read at once."""
    fresh = [key for key, (_, known) in before.items() if known is None]
    grown = {key: end for key, (end, known) in before.items() if known is not None}
    came: dict[int, list[Any]] = {key: [] for key in before}
    for one in lines.filter(plate_id__in=fresh).order_by("pk"):
        came[one.plate_id].append(one)
    for one in lines.filter(plate_id__in=list(grown), pk__gt=min(grown.values(), default=0)).order_by("pk"):
        if one.pk > grown[one.plate_id]:
            came[one.plate_id].append(one)
    return {key: _put_in(known or _History((), {}), came[key], made) for key, (_, known) in before.items()}


def _put_in(known: _History[Line], came: Sequence[Any], made: Callable[[Any], Line]) -> _History[Line]:
    """A history with the lines that came since; what was there stays the same object unless it was corrected."""
    lines, places = {one.entry_id: one for one in known.lines}, dict(known.places)
    for row in came:
        corrected = lines.get(row.corrects_id or 0)
        places[row.pk] = (row.at, row.pk) if row.corrects_id is None else places[row.corrects_id]
        lines[row.pk] = made(row)
        if corrected is not None:
            lines[corrected.entry_id] = replace(corrected, replaced_by=row.pk)
    return _History(tuple(sorted(lines.values(), key=lambda one: (places[one.entry_id], one.entry_id))), places)


def _plate(row: models.Plate) -> RecordedPlate:
    definition: Plate = from_plain(row.definition)
    return RecordedPlate(plate=definition, version=row.version, signature=rows.signature(row))
