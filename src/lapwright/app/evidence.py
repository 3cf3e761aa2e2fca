"""Use case: the evidence for one wafer as one archive, and the same numbers out of it again, elsewhere.

The archive holds what the numbers rest on and nothing that would have to be believed: readings as entered with the
gauge and its calibrations, raw streams, pictures and profiles as received, the certificates, and what was certified.
`recompute_archive` needs no database: it computes every number anew from the parts.
"""

from __future__ import annotations

import json
import math
import platform
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from lapwright import __version__
from lapwright.app.evidence_values import from_json, to_json
from lapwright.errors import FileFormatError, LapwrightError
from lapwright.formats.evidence_archive import Archive, archive_bytes, read_archive
from lapwright.model.evidence import ArchiveReport, Recomputed
from lapwright.model.job import RecordedFinding, RecordedSet, RecordedVerdict
from lapwright.model.story import OrderStory, WaferStory
from lapwright.model.surface_record import BondPhoto, FringeSettings, RecordedSurface

#: Difference allowed on another platform, relative or in SI: other vector instructions round sums otherwise, and a fit
#: to a million pixels makes up to 1e-13 m of that.
ELSEWHERE = 1e-12
#: The formula behind each judged quantity: our function, which names its source.
FORMULAS = {
    "thickness": "lapwright.metrology.thickness.thickness_statistics: mean",
    "ttv": "lapwright.metrology.thickness.thickness_statistics: ttv less its noise bias",
    "wedge": "lapwright.metrology.thickness.thickness_statistics: wedge of the least-squares plane",
    "flatness": "lapwright.app.surface_readings.read_fringes",
    "roughness_ra": "lapwright.app.profile_readings.read_profile",
    "roughness_rq": "lapwright.app.profile_readings.read_profile",
}


def export_evidence(wafer_id: str, *, at: datetime) -> bytes:
    """The archive of one wafer. Raises `NotFound`, and `RecordError` when a kept file was altered."""
    from lapwright import records
    from lapwright.records import odd_queries, queries, story_queries
    from lapwright.records.chain_check import last_link

    story = story_queries.wafer_story(wafer_id)
    order = story_queries.order_story(queries.wafer(wafer_id).order_id)
    drift = records.current_settings().zero_drift_um * 1e-6
    sets = [one for one in (*story.sets, *order.carrier_sets) if one.state == "closed"]
    told = {
        "wafer": wafer_id,
        "order": order.order.order.order_id,
        "material": order.order.order.material,
        "simulated": order.order.simulated,
        "written": at.isoformat(),
        "software_version": __version__,
        "platform": _platform(),
        "allowed_zero_drift_m": drift,
        "chain": dict(zip(("number", "digest"), last_link(), strict=True)),
        "formulas": FORMULAS,
    }
    parts = {
        "sets.json": _bytes([to_json(one) for one in sets]),
        "findings.json": _bytes([to_json(one) for one in story.findings]),
        "surfaces.json": _bytes([to_json(one) for one in story.surfaces]),
        "verdicts.json": _bytes([to_json(one) for one in story.verdicts]),
        "decisions.json": _bytes([to_json(one) for one in odd_queries.odd_wafer(wafer_id).decisions]),
        "certified.json": _bytes({one.set_id: _numbers(one, drift) for one in sets}),
        **dict(_streams(story)),
        **dict(_documents(story, order)),
    }
    return archive_bytes(told, parts)


def recompute_archive(path: Path) -> ArchiveReport:
    """Every number of an archive computed anew. Raises `FileFormatError` for a file that is no archive of evidence."""
    archive = read_archive(path)
    same = archive.told.get("platform") == _platform()
    drift = archive.told.get("allowed_zero_drift_m")
    if not isinstance(drift, float):
        raise FileFormatError("The archive does not say how much a zero may drift; expected allowed_zero_drift_m.")
    sets: dict[int, RecordedSet] = {one.set_id: one for one in _part(archive, "sets.json", RecordedSet)}
    surfaces = _part(archive, "surfaces.json", RecordedSurface)
    tolerance = 0.0 if same else ELSEWHERE
    numbers = [
        *_of_sets(archive, sets, drift, tolerance),
        *_of_surfaces(archive, surfaces, tolerance),
        *_of_verdicts(archive, sets, drift, tolerance),
    ]
    return ArchiveReport(
        wafers=(str(archive.told.get("wafer")),),
        written_by=str(archive.told.get("software_version")),
        platform_same=same,
        tolerance=tolerance,
        numbers=tuple(numbers),
        faults=tuple(_stray_faults(numbers)),
    )


def judged_numbers(recorded: RecordedSet, drift: float) -> dict[str, float | None]:
    """The values of a set that limits are judged by [m]: thickness, TTV less its noise bias, wedge."""
    numbers = _numbers(recorded, drift)
    ttv = numbers.get("ttv_corrected_m")
    return {
        "thickness": numbers.get("mean_m"),
        "ttv": numbers.get("ttv_m") if ttv is None else ttv,
        "wedge": numbers.get("wedge_m"),
    }


# ----------------------------------------------------------------------------------------------------------------------


def _numbers(recorded: RecordedSet, drift: float) -> dict[str, float | None]:
    """The numbers of a set in SI."""
    from lapwright.app.set_values import computed
    from lapwright.model.wafer import WORKED_FRAME

    try:
        result = computed(recorded, WORKED_FRAME, allowed_drift=drift)
    except LapwrightError:
        return {}
    wedge = result.wedge
    found = {
        "mean_m": result.mean,
        "ttv_m": result.ttv,
        "ttv_corrected_m": result.ttv_corrected,
        "wedge_m": None if wedge is None else wedge.amount,
        "wedge_azimuth_rad": None if wedge is None else wedge.azimuth,
    }
    budgets = {"mean": result.mean_uncertainty, "ttv": result.ttv_uncertainty, "wedge": result.wedge_uncertainty}
    for name, budget in budgets.items():
        found[f"{name}_expanded_uncertainty_m"] = None if budget is None else budget.expanded_uncertainty
    return found


def _streams(story: WaferStory) -> Iterator[tuple[str, bytes]]:
    """The raw readings of each run that was followed: time and length, as they came."""
    from lapwright.records import stream_queries

    for run in story.runs:
        stream = stream_queries.stream_of_run(run.run_id)
        if stream is not None and stream.dropped is not None:
            gone = json.dumps(asdict(stream.dropped), default=str)
            yield f"streams/run-{run.run_id}-let-go.json", gone.encode()
        elif stream is not None:
            times, lengths = stream_queries.stream_readings(stream.stream_id)
            rows = (f"{time!r},{length!r}" for time, length in zip(times.tolist(), lengths.tolist(), strict=True))
            yield f"streams/run-{run.run_id}.csv", "\n".join(("time_s,length_m", *rows, "")).encode()


def _documents(story: WaferStory, order: OrderStory) -> Iterator[tuple[str, bytes]]:
    from lapwright.app.documents import document_path

    for kept in (*order.documents, *story.documents):
        yield f"documents/{kept.document_id}/{kept.name}", document_path(kept.document_id).read_bytes()


def _of_sets(archive: Archive, sets: Mapping[int, RecordedSet], drift: float, tolerance: float) -> Iterator[Recomputed]:
    told = _json(archive, "certified.json")
    for set_id, recorded in sets.items():
        before = told.get(str(set_id)) if isinstance(told, dict) else None
        found = _numbers(recorded, drift)
        for name in sorted({*(before or {}), *found}):
            yield _compared(
                f"set {set_id} {recorded.moment} {name}", (before or {}).get(name), found.get(name), tolerance
            )


def _of_verdicts(
    archive: Archive, sets: Mapping[int, RecordedSet], drift: float, tolerance: float
) -> Iterator[Recomputed]:
    """The values that were judged, as recorded then, against what their readings say now."""
    findings = {one.finding_id: one for one in _part(archive, "findings.json", RecordedFinding)}
    for recorded in _part(archive, "verdicts.json", RecordedVerdict):
        judged = recorded.verdict
        name = f"verdict {recorded.verdict_id} {judged.limit.quantity}"
        if recorded.set_id is not None and recorded.set_id in sets:
            found = judged_numbers(sets[recorded.set_id], drift).get(judged.limit.quantity)
            yield _compared(name, judged.value, found, tolerance)
        elif recorded.finding_id in findings:
            yield _compared(name, judged.value, findings[recorded.finding_id].value, tolerance)
        else:
            yield Recomputed(name=name, told=judged.value, found=None, agrees=False)


def _of_surfaces(archive: Archive, surfaces: list[RecordedSurface], tolerance: float) -> Iterator[Recomputed]:
    for surface in surfaces:
        found = _surface_numbers(archive, surface)
        for name in sorted({*surface.numbers, *found}):
            told = surface.numbers.get(name)
            yield _compared(f"face {surface.surface_id} {name}", told, found.get(name), tolerance)


def _surface_numbers(archive: Archive, surface: RecordedSurface) -> Mapping[str, float | None]:
    from lapwright.app import bond_voids, profile_readings, surface_readings

    files = []
    for number in surface.document_ids:
        names = [name for name in archive.parts if name.startswith(f"documents/{number}/")]
        if not names:
            return {}
        files.append((names[0].rpartition("/")[2], archive.parts[names[0]]))
    try:
        if isinstance(surface.settings, FringeSettings):
            return surface_readings.read_fringes(tuple(files), surface.settings).numbers
        name, content = files[0]
        if isinstance(surface.settings, BondPhoto):
            return bond_voids.photo_numbers(bond_voids.read_bond_photo(content, surface.settings, name=name)[1])
        material = archive.told.get("material")
        return profile_readings.read_profile(
            content, surface.settings, name=name, material=material if isinstance(material, str) else None
        ).numbers
    except LapwrightError:
        return {}


def _compared(name: str, told: float | None, found: float | None, tolerance: float) -> Recomputed:
    if told is None or found is None:
        return Recomputed(name=name, told=told, found=found, agrees=told is found)
    told, found = float(told), float(found)
    agrees = told == found or (math.isnan(told) and math.isnan(found))
    if not agrees and tolerance:
        agrees = abs(told - found) <= tolerance * max(1.0, abs(told), abs(found))
    return Recomputed(name=name, told=told, found=found, agrees=agrees)


def _stray_faults(numbers: list[Recomputed]) -> Iterator[str]:
    if not numbers:
        yield "The archive holds no number that could be computed again."


def _part(archive: Archive, name: str, kind: type[Any]) -> list[Any]:
    found = from_json(_json(archive, name))
    if not isinstance(found, tuple) or not all(isinstance(one, kind) for one in found):
        raise FileFormatError(f"The part {name} of the archive does not hold what it should.")
    return list(found)


def _json(archive: Archive, name: str) -> Any:
    if name not in archive.parts:
        raise FileFormatError(f"The archive lacks its part {name}.")
    try:
        return json.loads(archive.parts[name])
    except (ValueError, RecursionError) as error:
        raise FileFormatError(f"The part {name} of the archive is no JSON: {error}.") from error


def _bytes(value: object) -> bytes:
    return json.dumps(value, indent=1, ensure_ascii=False, allow_nan=False).encode()


def _platform() -> str:
    """What decides whether two computations are equal bit for bit."""
    added = np.lib.introspect.opt_func_info(func_name="^add$", signature="float64")
    vectors = next(iter(added["add"].values()))["current"]
    return (
        f"{platform.machine()} {vectors} {platform.system()} numpy {np.__version__} python {platform.python_version()}"
    )
