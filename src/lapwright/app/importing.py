"""Use case: a file of readings recorded whole, or not at all."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from lapwright.errors import BadInput, Conflict, Fault, LapwrightError
from lapwright.model.job import RecordedSet
from lapwright.model.readings import Conditions, Reading, Signature
from lapwright.model.request import ImportRequest, SetRequest
from lapwright.model.wafer import SitePattern

if TYPE_CHECKING:
    from lapwright.formats.readings_csv import ReadSet
    from lapwright.records.writer.readings import NewReading, NewSet


def import_readings(
    path: Path, request: ImportRequest, *, by: str, reason: str, at: datetime
) -> tuple[RecordedSet, ...]:
    """Record all sets of a readings file, one per piece, closed; all of them or none.

    Gauge, held free or clamped, soaked and zeros are taken from the file where it names them, else from the request.
    Raises `BadInput` with every fault of the file, `Conflict` when the same file was imported before or
    a gauge is to be refused.
    """
    from lapwright.app import gauge_care, readings
    from lapwright.formats.readings_csv import read_readings
    from lapwright.records import queries, writer

    signature = Signature(by=by, at=at, reason=reason)
    sha256 = hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else ""
    file = read_readings(path, keep_texts=True)
    with writer.transaction():
        known = queries.set_with_source(sha256)
        if known is not None:
            raise Conflict(
                f"This file was imported already, on {known.opened.at:%Y-%m-%d %H:%M} UTC (set {known.set_id})."
                " Void those sets first if it is to be taken in again."
            )
        new = _checked(list(file), request, source=path.name, sha256=sha256)
        gauge_ids = {one.request.gauge_id for one, _readings in new}
        flags = {gauge_id: gauge_care.flag_of(gauge_id, on=at.date()) for gauge_id in gauge_ids}
        new = [(replace(one, gauge_flag=flags[one.request.gauge_id]), taken) for one, taken in new]
        recorded = writer.import_sets(new, signature)
        for closed in recorded:
            readings.move_on(closed, signature)
        return recorded


# ----------------------------------------------------------------------------------------------------------------------


def _checked(
    read: list[ReadSet], request: ImportRequest, *, source: str, sha256: str
) -> list[tuple[NewSet, list[NewReading]]]:
    """The sets to write. Raises `BadInput` with what is wrong with each piece."""
    from lapwright.app import readings
    from lapwright.records.writer.readings import NewSet

    new, faults = [], []
    for one in read:
        asked = _request_of(one, request)
        try:
            _check_piece(one, asked, request.order_id)
            stage_id = readings.check_moment(asked)
        except LapwrightError as error:
            row = int(one.rows[0]) if len(one.rows) else None
            faults.append(Fault(sentence=f"{asked.piece}: {error.sentence}", row=row, field="wafer", code=error.code))
            continue
        pattern = SitePattern(name="from file", labels=one.readings.labels, x=one.readings.x, y=one.readings.y)
        planned = NewSet(request=asked, pattern=pattern, stage_id=stage_id, source=source, source_sha256=sha256)
        new.append((planned, _new_readings(one)))
    if faults:
        raise BadInput(faults, subject=source)
    return new


def _request_of(one: ReadSet, request: ImportRequest) -> SetRequest:
    given, asked = one.readings.conditions, request.conditions
    repeats = int(one.repeats.max()) if len(one.repeats) else 1
    return SetRequest(
        piece=one.readings.piece,
        subject=request.subject,
        moment=request.moment,
        gauge_id=one.readings.gauge or request.gauge_id,
        pattern="from file",
        repeats=repeats,
        unit=one.unit,
        conditions=Conditions(
            hold=given.hold or asked.hold,
            temperature=asked.temperature if given.temperature is None else given.temperature,
            soaked=asked.soaked if given.soaked is None else given.soaked,
            zero_before=asked.zero_before if given.zero_before is None else given.zero_before,
            zero_after=asked.zero_after if given.zero_after is None else given.zero_after,
        ),
        zero=False,
    )


def _check_piece(one: ReadSet, asked: SetRequest, order_id: str | None) -> None:
    from lapwright.app import set_values
    from lapwright.metrology.outlines import is_inside
    from lapwright.records import queries

    queries.gauge(asked.gauge_id)
    if asked.subject != "carrier" and order_id is not None and queries.wafer(asked.piece).order_id != order_id:
        raise BadInput([Fault(sentence=f"It belongs to another order than {order_id!r}. Mend file or order.")])
    outline, _ = set_values.outline_of(asked.subject, asked.piece)
    off = ~is_inside(outline, one.readings.x, one.readings.y)
    if np.any(off):
        named = ", ".join(label for label, out in zip(one.readings.labels, off, strict=True) if out)
        raise BadInput([Fault(sentence=f"Sites off the piece: {named}. Mend their places.", field="x")])


def _new_readings(one: ReadSet) -> list[NewReading]:
    from lapwright.records.writer.readings import NewReading

    taken = one.readings
    return [
        NewReading(
            kind="site",
            reading=Reading(
                site=taken.labels[site],
                x=float(taken.x[site]),
                y=float(taken.y[site]),
                thickness=float(value),
                text=text,
                unit=one.unit,
                repeat=int(repeat),
            ),
        )
        for site, value, text, repeat in zip(
            taken.site.tolist(), taken.thickness.tolist(), one.texts, one.repeats.tolist(), strict=True
        )
    ]
