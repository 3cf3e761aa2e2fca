"""Reading what was turned at a jig."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any, Literal, get_args

from lapwright.model.jig_moves import JigMove, RecordedMove
from lapwright.records import models, rows
from lapwright.records.coding import from_plain
from lapwright.records.faults import translated
from lapwright.records.queries import find

WaferTable = Literal["readingset", "run", "bond", "jigmove"]
WAFER_TABLES: tuple[WaferTable, ...] = get_args(WaferTable)


def moves(jig_id: str, *, newest: int | None = None, wafer_id: str | None = None) -> tuple[RecordedMove, ...]:
    """The moves of a jig, the earliest first; a correction stands in the place of what it corrects.

    All of them, or the newest so many written, or those made for one wafer.
    """
    with translated():
        jig = find(models.Jig.objects.all(), "jig_id", jig_id)
        found = jig.moves.select_related("wafer")
        if wafer_id is not None:
            found = found.filter(wafer__wafer_id=wafer_id)
        read = list(found if newest is None else found.order_by("-pk")[:newest])
        known = {one.pk for one in read}
        while older := {one.corrects_id for one in read if one.corrects_id is not None} - known:
            read += list(jig.moves.select_related("wafer").filter(pk__in=older))
            known |= older
        replaced = {one.corrects_id: one.pk for one in read if one.corrects_id is not None}
        by_id = {one.pk: one for one in read}

        def place(one: models.JigMove) -> tuple[datetime, int]:
            while one.corrects_id is not None:
                one = by_id[one.corrects_id]
            return one.at, one.pk

        return tuple(
            _move(one, jig_id, replaced.get(one.pk), place(one)[0])
            for one in sorted(read, key=lambda one: (*place(one), one.pk))
        )


def wafers_of_rows(table: WaferTable, keys: Collection[int]) -> frozenset[str]:
    """The wafers that some rows of a table belong to; of corrected moves there may be others, too."""
    with translated():
        rows_written = _TABLES[table]._default_manager.filter(pk__in=list(keys))  # noqa: SLF001  Django's public name
        return frozenset(rows_written.exclude(wafer=None).values_list("wafer__wafer_id", flat=True))


def is_a_correction(keys: Collection[int]) -> bool:
    """Whether one of some moves corrects another."""
    with translated():
        return models.JigMove.objects.filter(pk__in=list(keys)).exclude(corrects=None).exists()


# ----------------------------------------------------------------------------------------------------------------------

_TABLES: dict[WaferTable, Any] = {
    "readingset": models.ReadingSet, "run": models.Run, "bond": models.Bond, "jigmove": models.JigMove
}  # fmt: skip


def _move(row: models.JigMove, jig_id: str, replaced_by: int | None, made_at: datetime) -> RecordedMove:
    move = JigMove(
        jig_id=jig_id,
        wafer_id=None if row.wafer is None else row.wafer.wafer_id,
        turns=from_plain(row.turns),
        corrects=row.corrects_id,
    )
    return RecordedMove(
        move_id=row.pk, move=move, made_at=made_at, replaced_by=replaced_by, signature=rows.signature(row)
    )
