"""Use cases: measured faces kept with a wafer, and the findings that rest on them.

A face is recorded with the files as received and the settings they were read by. When the moment allows it, a finding
is recorded with it and points at it, so that verdict and certificate rest on what was measured.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from lapwright import __version__, units
from lapwright.app import profile_readings, surface_readings, verdicts
from lapwright.app.documents import checked_path, show_document, store_document
from lapwright.app.profile_readings import ProfileReading, read_profile, told_settings
from lapwright.app.surface_readings import Files, FringeReading, read_fringes
from lapwright.errors import BadInput, Fault, NotFound
from lapwright.model.job import RecordedFinding
from lapwright.model.order import Quantity
from lapwright.model.readings import HoldState, Moment, Signature
from lapwright.model.request import FindingRequest
from lapwright.model.surface_record import (
    BondPhoto,
    FringeSettings,
    ProfileSettings,
    RecordedSurface,
    SurfaceKind,
    SurfaceRequest,
)

__all__ = [
    "FringeReading",
    "ProfileReading",
    "list_surfaces",
    "list_wafers",
    "read_again",
    "record_fringes",
    "record_profile",
    "show_surface",
    "stage_before",
    "surface_files",
]

#: Pages offer the wafers of so many orders; an older one is named by its own page.
_NEWEST_ORDERS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class _Finding:
    """What a face is judged by: value and expanded uncertainty [m], how it was measured."""

    quantity: Quantity
    value: float
    expanded_uncertainty: float | None
    unit: str
    method: str


def record_fringes(
    request: SurfaceRequest, settings: FringeSettings, *, by: str, reason: str, at: datetime
) -> RecordedSurface:
    """Record a face measured by fringes: files, settings and numbers, and its flatness as a finding.

    Raises as `read_fringes`: pictures that give no map are not recorded. `NotFound` for an unknown wafer.
    """
    reading = read_fringes(request.files, settings)
    hold = _hold_of(request.wafer_id)
    not_judged = _why_not_flatness(request.moment, hold)
    finding = None if not_judged else _flatness_finding(reading, request.instrument)
    signature = Signature(by=by, reason=reason, at=at)
    return _recorded("fringes", request, reading, finding=finding, not_judged=not_judged, signature=signature)


def record_profile(
    request: SurfaceRequest, settings: ProfileSettings, *, by: str, reason: str, at: datetime
) -> RecordedSurface:
    """Record the finish of a face from a profile or small map: file, settings and numbers, and Ra or Sq as a finding.

    Raises as `read_profile`; `BadInput` for more than one file; `NotFound` for an unknown wafer.
    """
    if len(request.files) != 1:
        sentence = f"{len(request.files)} files came; one profile or map is expected. Record each by itself."
        raise BadInput([Fault(sentence=sentence, field="files")])
    name, content = request.files[0]
    reading = read_profile(content, settings, name=name, material=material_of(request.wafer_id))
    not_judged = _why_not_finish(request.moment)
    finding = None if not_judged else _finish_finding(reading, request.instrument)
    signature = Signature(by=by, reason=reason, at=at)
    return _recorded("profile", request, reading, finding=finding, not_judged=not_judged, signature=signature)


def show_surface(surface_id: int) -> RecordedSurface:
    """One measured face. Raises `NotFound`."""
    from lapwright.records import queries

    return queries.surface(surface_id)


def list_surfaces(kind: SurfaceKind, *, wafer_id: str | None = None, newest: int = 200) -> tuple[RecordedSurface, ...]:
    """Measured faces of a kind, so many of the newest, the newest first; of one wafer or of all."""
    from lapwright.records import queries

    return queries.surfaces(kind, wafer_id, newest=newest)


def list_wafers(*, besides: str = "") -> tuple[tuple[str, str], ...]:
    """Order and wafer of every wafer of the newest orders that can still be measured, and of one wafer besides."""
    from lapwright.records import queries

    return queries.wafers_to_measure(_NEWEST_ORDERS, besides=besides)


def stage_before(wafer_id: str) -> int | None:
    """The stage that a wafer has been through last; None before the first."""
    from lapwright.records import queries

    done = [one for one in queries.stages(wafer_id) if one.state == "done" and one.stage.kind in ("lap", "polish")]
    return done[-1].stage_id if done else None


def surface_files(surface: RecordedSurface) -> Files:
    """The files of a measured face as they were received. Raises `RecordError` when one was altered since."""
    files = [show_document(one) for one in surface.document_ids]
    return tuple((one.name, checked_path(one).read_bytes()) for one in files)


def read_again(surface: RecordedSurface) -> FringeReading | ProfileReading:
    """A recorded face read again from its own files, for drawing. Raises `NotFound` for a photograph of a bond."""
    files = surface_files(surface)
    if isinstance(surface.settings, BondPhoto):
        raise NotFound(f"Record {surface.surface_id} is a photograph of a bond; it stands on the wafer's Bond line.")
    if isinstance(surface.settings, FringeSettings):
        return surface_readings.read_fringes(files, surface.settings)
    name, content = files[0]
    material = material_of(surface.wafer_id)
    return profile_readings.read_profile(content, surface.settings, name=name, material=material)


def findings_of(surface: RecordedSurface) -> tuple[RecordedFinding, ...]:
    """The numbers that were given with a face, for its wafer to be judged by."""
    from lapwright.records import story_queries

    return story_queries.findings_by_key(surface.finding_ids) if surface.finding_ids else ()


def value_again(surface: RecordedSurface) -> float | None:
    """The value of the finding that rests on a face, from its own files once more [m]; None when they give none."""
    from lapwright.units import parse

    reading = read_again(surface)
    if isinstance(reading, FringeReading):
        found: _Finding | None = _flatness_finding(reading, surface.instrument)
    else:
        found = _finish_finding(reading, surface.instrument)
    return None if found is None else parse(_entered(found.value, found.unit), "length")


def material_of(wafer_id: str) -> str:
    """The material of a wafer's order. Raises `NotFound`."""
    from lapwright.records import queries

    return queries.order(queries.wafer(wafer_id).order_id).order.material


# ----------------------------------------------------------------------------------------------------------------------


def _recorded(
    kind: SurfaceKind,
    request: SurfaceRequest,
    reading: FringeReading | ProfileReading,
    *,
    finding: _Finding | None,
    not_judged: str,
    signature: Signature,
) -> RecordedSurface:
    from lapwright.records import queries, writer
    from lapwright.records.writer.surfaces import NewSurface

    why = {"by": signature.by, "reason": signature.reason, "at": signature.at}
    with writer.transaction():
        order_id = queries.wafer(request.wafer_id).order_id
        documents = tuple(
            store_document(
                order_id, Path(name).name, content, kind="surface", wafer_id=request.wafer_id,
                **why,  # type: ignore[arg-type]  # the three that sign
            ).document_id
            for name, content in request.files
        )  # fmt: skip
        new = NewSurface(
            kind=kind,
            document_ids=documents,
            settings=reading.settings,
            numbers=reading.numbers,
            sign_ambiguous=isinstance(reading, FringeReading) and reading.fringes.sign_ambiguous,
            not_judged=not_judged,
            software_version=__version__,
        )
        surface = writer.add_surface(request, new, signature)
        if finding is not None:
            found = FindingRequest(
                wafer_id=request.wafer_id,
                quantity=finding.quantity,
                text=_entered(finding.value, finding.unit),
                method=f"{finding.method}; measured face {surface.surface_id}",
                expanded_uncertainty=finding.expanded_uncertainty,
                gauge_id=request.gauge_id,
                moment=request.moment,
                surface_id=surface.surface_id,
            )
            verdicts.record_finding(found, by=signature.by, reason=signature.reason, at=signature.at)
        return show_surface(surface.surface_id)


def _hold_of(wafer_id: str) -> HoldState:
    from lapwright.records import queries

    return queries.order(queries.wafer(wafer_id).order_id).order.hold


def _why_not_flatness(moment: Moment, hold: HoldState) -> str:
    if moment == "final" or (moment == "on_carrier" and hold == "clamped"):
        return ""
    if moment == "on_carrier":
        return "Measured on the carrier; the order judges the free wafer."
    return "Measured during the work; the finished wafer is judged."


def _why_not_finish(moment: Moment) -> str:
    """A finish stays when the wafer is taken off its carrier."""
    if moment in ("final", "on_carrier"):
        return ""
    return "Measured during the work; the finished wafer is judged."


def _flatness_finding(reading: FringeReading, instrument: str) -> _Finding:
    fringes, settings = reading.fringes, reading.settings
    exclusion = settings.edge_exclusion * 1e3
    parts = [
        {"carrier": "one picture with tilt fringes", "closed": "one picture with closed fringes"}.get(
            fringes.method, f"{len(reading.pictures)} pictures with stepped phase"
        ),
        f"{fringes.fringe_height * 1e6:.4g} µm a fringe",
        "peak to valley, plane taken out",
        f"edge exclusion {exclusion:g} mm" if exclusion else "to the edge",
    ]
    if fringes.sign_ambiguous:
        parts.append("which way is up is not known")
    return _Finding(
        quantity="flatness",
        value=reading.shape.pv,
        expanded_uncertainty=None if reading.flatness is None else reading.flatness.expanded_uncertainty,
        unit="µm",
        method="; ".join([*([instrument] if instrument else []), *parts]),
    )


def _finish_finding(reading: ProfileReading, instrument: str) -> _Finding | None:
    """Ra or Sq; its uncertainty only when noise and height scale of the instrument are known."""
    found = reading.main
    parameter = "sq" if reading.is_areal else "ra"
    value = reading.numbers[parameter]
    expanded = None
    if found is not None and found.combined is not None:
        value = found.combined.value
        if reading.settings.noise is not None and reading.settings.height_uncertainty is not None:
            expanded = found.combined.expanded_uncertainty
    if value is None or not math.isfinite(value):
        return None
    return _Finding(
        quantity="roughness_sq" if reading.is_areal else "roughness_ra",
        value=value,
        expanded_uncertainty=expanded,
        unit="nm",
        method="; ".join([*([instrument] if instrument else []), told_settings(reading)]),
    )


def _entered(value: float, unit: str) -> str:
    """A value as text that reads back to it, with six figures."""
    return f"{units.to_unit(value, units.find_unit(unit, 'length')):.6g} {unit}"
