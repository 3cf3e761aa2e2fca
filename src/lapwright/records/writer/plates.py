"""Writing plates and their history."""

from __future__ import annotations

from lapwright.errors import Conflict
from lapwright.model.plates import Plate, PlateEntry
from lapwright.model.readings import Signature
from lapwright.records import models, queries
from lapwright.records.coding import to_plain
from lapwright.records.faults import one_transaction
from lapwright.records.writer.base import add, change, locked


def put_plate(plate: Plate, signature: Signature, *, version: int | None = None) -> None:
    """A plate, new or changed."""
    with one_transaction():
        definition = to_plain(plate)
        if not models.Plate.objects.filter(plate_id=plate.plate_id).exists():
            add(models.Plate, signature, plate_id=plate.plate_id, definition=definition)
            return
        row = locked(models.Plate, plate_id=plate.plate_id)
        if row.definition != definition:
            change(row, signature, version=version, definition=definition)


def add_plate_entry(plate_id: str, entry: PlateEntry, signature: Signature) -> int:
    """A line of a plate's history; gives its number."""
    with one_transaction():
        row = queries.find(models.Plate.objects.all(), "plate_id", plate_id)
        if entry.corrects is not None:
            old = row.entries.filter(pk=entry.corrects, kind="check").first()
            if old is None or models.PlateEntry.objects.filter(corrects=old).exists():
                raise Conflict(
                    f"Check {entry.corrects} of plate {plate_id!r} is not there or corrected already."
                    " Look at its history and correct the one that stands."
                )
        return add(
            models.PlateEntry, signature, plate=row, kind=entry.kind, ran_s=entry.ran, entry=to_plain(entry),
            corrects_id=entry.corrects,
        ).pk  # fmt: skip
