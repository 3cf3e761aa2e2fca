"""Use case: records computed anew by this version and compared with what was recorded; nothing is written unasked."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import datetime
from typing import Any

from lapwright import __version__
from lapwright.app import bond_voids, reprocess_work, surface_records
from lapwright.app.workers import Finished, Work, Workers, worked
from lapwright.app.workers.port import Progress
from lapwright.errors import BadInput, Fault, LapwrightError
from lapwright.model.reprocessed import Changed, NotDone, Reprocessable, ReprocessReport
from lapwright.model.surface_record import BondPhoto, FringeSettings, RecordedSurface, SurfaceRequest

#: Records in a chunk: some seconds of work at most, so that little is lost with a worker.
CHUNKS: dict[Reprocessable, int] = {"fringes": 4, "profiles": 16, "sets": 200, "runs": 4}
TOLERANCE = 1e-12  # relative or in SI; more than another machine's rounding comes to


def reprocess(
    kind: Reprocessable,
    workers: AbstractContextManager[Workers],
    *,
    tolerance: float = TOLERANCE,
    finished: Finished | None = None,
    progress: Progress | None = None,
) -> ReprocessReport:
    """All records of a kind computed anew. Raises `WorkersLost`, and `RecordError` when a kept file was altered."""
    ids, load, do = _parts(kind, tolerance)
    size = CHUNKS[kind]
    keys = [tuple(ids[first : first + size]) for first in range(0, len(ids), size)]
    told = {"kind": kind, "version": __version__, "tolerance": tolerance, "ids": list(ids), "chunk": size}
    work = Work(do=do, keys=keys, load=load, told=told)
    return _report(kind, tolerance, worked(work, workers, finished=finished, progress=progress))


def record_changed(report: ReprocessReport, *, by: str, reason: str, at: datetime) -> ReprocessReport:
    """Record the faces whose numbers changed once more, from their own files: a new face beside the old one.

    Raises `BadInput` for sets and runs: their values are computed whenever they are shown, so that there is nothing to
    write.
    """
    if report.kind not in ("fringes", "profiles"):
        sentence = f"Nothing is kept of {report.kind} but their readings, so that nothing can be recorded anew."
        raise BadInput([Fault(sentence=sentence, field="record")])
    recorded, refused = [], list(report.refused)
    for surface_id in sorted({one.record_id for one in report.changed}):
        face = surface_records.show_surface(surface_id)
        try:
            recorded.append(_recorded_again(face, by=by, reason=reason, at=at).surface_id)
        except LapwrightError as error:
            refused.append(NotDone(record_id=surface_id, piece=face.wafer_id, sentence=error.sentence))
    return replace(report, recorded=tuple(recorded), refused=tuple(refused))


# ----------------------------------------------------------------------------------------------------------------------


def _parts(
    kind: Reprocessable, tolerance: float
) -> tuple[Sequence[int], Callable[[Any], Any], Callable[[Any], dict[str, Any]]]:
    """Numbers of the records, what loads some of them, and what a worker does with them."""
    from lapwright import records
    from lapwright.records import reprocess_queries as queries

    if kind == "sets":
        drift = records.current_settings().zero_drift_um * 1e-6

        def sets(ids: tuple[int, ...]) -> reprocess_work.SetLoad:
            return reprocess_work.SetLoad(tolerance=tolerance, allowed_drift=drift, sets=queries.sets_of(ids))

        return queries.judged_set_ids(), sets, reprocess_work.sets_again
    if kind == "runs":
        return (
            queries.ended_stream_ids(),
            lambda ids: reprocess_work.RunLoad(streams=queries.streams_of(ids)),
            reprocess_work.runs_again,
        )

    def faces(ids: tuple[int, ...]) -> reprocess_work.FaceLoad:
        found = tuple(
            (face, surface_records.surface_files(face), surface_records.material_of(face.wafer_id))
            for face in queries.surfaces_of(ids)
        )
        return reprocess_work.FaceLoad(tolerance=tolerance, faces=found)

    return queries.surface_ids("fringes" if kind == "fringes" else "profile"), faces, reprocess_work.faces_again


def _report(kind: Reprocessable, tolerance: float, parts: list[dict[str, Any]]) -> ReprocessReport:
    def not_done(name: str) -> tuple[NotDone, ...]:
        return tuple(
            NotDone(record_id=number, piece=piece, sentence=sentence)
            for part in parts
            for number, piece, sentence in part[name]
        )

    return ReprocessReport(
        kind=kind,
        version=__version__,
        tolerance=tolerance,
        records=sum(part["records"] for part in parts),
        numbers=sum(part["numbers"] for part in parts),
        largest=max((part["largest"] for part in parts), default=0.0),
        changed=tuple(
            Changed(record_id=number, piece=piece, name=name, told=told, found=found)
            for part in parts
            for number, piece, name, told, found in part["changed"]
        ),
        refused=not_done("refused"),
        left_out=not_done("left_out"),
    )


def _recorded_again(face: RecordedSurface, *, by: str, reason: str, at: datetime) -> RecordedSurface:
    request = SurfaceRequest(
        wafer_id=face.wafer_id,
        moment=face.moment,
        files=surface_records.surface_files(face),
        stage_id=face.stage_id,
        gauge_id=face.gauge_id,
        instrument=face.instrument,
    )
    why = f"{reason}; face {face.surface_id} read again by version {__version__}"
    if isinstance(face.settings, FringeSettings):
        return surface_records.record_fringes(request, face.settings, by=by, reason=why, at=at)
    if isinstance(face.settings, BondPhoto):
        name, content = request.files[0]
        return bond_voids.record_bond_photo(face.wafer_id, name, content, face.settings, by=by, reason=why, at=at)
    return surface_records.record_profile(request, face.settings, by=by, reason=why, at=at)
