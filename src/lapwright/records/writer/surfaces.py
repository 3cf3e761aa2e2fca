"""Writing measured faces."""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.model.readings import Signature
from lapwright.model.surface_record import Numbers, RecordedSurface, SurfaceKind, SurfaceRequest, SurfaceSettings
from lapwright.records import models, queries, rows
from lapwright.records.coding import to_plain
from lapwright.records.faults import one_transaction
from lapwright.records.writer.base import add


@dataclass(frozen=True, slots=True, kw_only=True)
class NewSurface:
    """What came out of a measured face, beside what was asked; its files are documents already."""

    kind: SurfaceKind
    document_ids: tuple[int, ...]
    settings: SurfaceSettings
    numbers: Numbers
    sign_ambiguous: bool
    not_judged: str
    software_version: str


def add_surface(request: SurfaceRequest, new: NewSurface, signature: Signature) -> RecordedSurface:
    """A new measured face."""
    with one_transaction():
        stage = None
        if request.stage_id is not None:
            of_wafer = models.Stage.objects.filter(wafer__wafer_id=request.wafer_id)
            stage = queries.find(of_wafer, "pk", request.stage_id, what="stage of this wafer")
        gauges = models.Gauge.objects.all()
        return rows.surface(
            add(
                models.Surface,
                signature,
                kind=new.kind,
                wafer=queries.find(models.Wafer.objects.all(), "wafer_id", request.wafer_id),
                stage=stage,
                moment=request.moment,
                gauge=None if request.gauge_id is None else queries.find(gauges, "gauge_id", request.gauge_id),
                instrument=request.instrument,
                documents=list(new.document_ids),
                settings=to_plain(new.settings),
                numbers=dict(new.numbers),
                sign_ambiguous=new.sign_ambiguous,
                not_judged=new.not_judged,
                software_version=new.software_version,
            )
        )
