"""Reading plates, their history, and how long a station ran."""

from __future__ import annotations

import math
from datetime import datetime

from lapwright.model.plates import Plate, RecordedEntry, RecordedPlate
from lapwright.records import models, rows
from lapwright.records.coding import from_plain
from lapwright.records.faults import translated
from lapwright.records.queries import find


def plates() -> tuple[RecordedPlate, ...]:
    """All plates, by name."""
    with translated():
        return tuple(_plate(row) for row in models.Plate.objects.order_by("plate_id"))


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
        read = list(row.entries.all())
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


def ran_on(station_id: str, *, since: datetime | None, until: datetime) -> float:
    """How long a station ran in a time, by its recorded runs [s]; pieces that run together count once."""
    with translated():
        runs = models.Run.objects.filter(station__station_id=station_id, with_run=None, at__lt=until)
        if since is not None:
            runs = runs.exclude(ended_at__lt=since)
        spans = [(one.at if since is None else max(one.at, since), min(one.ended_at or until, until)) for one in runs]
        return math.fsum(max((end - start).total_seconds(), 0.0) for start, end in spans)


# ----------------------------------------------------------------------------------------------------------------------


def _plate(row: models.Plate) -> RecordedPlate:
    definition: Plate = from_plain(row.definition)
    return RecordedPlate(plate=definition, version=row.version, signature=rows.signature(row))
