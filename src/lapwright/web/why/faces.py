"""Numbers of a face worked out: flatness by fringes, roughness of a profile."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import asdict, replace

import numpy as np
from django.urls import reverse
from django.utils.translation import gettext as _

from lapwright.app import orders, surface_records
from lapwright.app.profile_readings import ProfileReading
from lapwright.app.surface_readings import FringeReading, height_per_fringe
from lapwright.app.surfaces import MeasuredProfile
from lapwright.errors import NotFound
from lapwright.model.surface_record import RecordedSurface, SurfaceKind
from lapwright.web.drawn_faces import kept_case
from lapwright.web.sentences import said
from lapwright.web.why.case import Case, Other, Table, bare, budget_table, case_again, figures, plus_minus, put, um
from lapwright.web.why.place import Place, is_number, picked


def flatness(place: Place) -> Case:
    """Peak to valley of the map, and the scale that it rests on."""
    recorded, others = _asked_for(place, "fringes")
    told = kept_case(recorded, "flatness", lambda: asdict(_flatness_case(recorded)))
    return replace(case_again(told), of=recorded.wafer_id, files=_files(recorded), others=others)


def roughness(place: Place) -> Case:
    """Ra, Rq and Rz of a profile, section by section."""
    recorded, others = _asked_for(place, "profile")
    reading = surface_records.read_again(recorded)
    if not isinstance(reading, ProfileReading) or not isinstance(reading.measured, MeasuredProfile):
        raise NotFound(_("This face was read as a map; its numbers stand on its page with their settings."))
    result, settings = reading.measured.result, reading.measured.result.settings
    z = result.evaluated_roughness * 1e9
    count, found = int(np.isfinite(z).sum()), result.parameters
    start, stop = (place_ * result.spacing * 1e3 for place_ in result.evaluated)
    parts = np.array_split(z, settings.sections or 1)
    rows = tuple(
        (
            str(number),
            bare(float(np.nanmean(np.abs(part))), 4),
            bare(float(np.nanmax(part)), 4),
            bare(float(-np.nanmin(part)), 4),
        )
        for number, part in enumerate(parts, start=1)
    )
    total, squares = float(np.nansum(np.abs(z))), float(np.nansum(z * z))
    main = reading.main
    given = [
        put("λc", _("cutoff"), f"{figures(settings.cutoff * 1e3, 3)}\u00a0mm"),
        put("λs", _("short cutoff"), "–" if settings.short_cutoff is None else um(settings.short_cutoff, 2)),
        put("", _("form taken out first, and filter"), f"{settings.form}, {settings.filter_kind}"),
        put("Δx", _("distance of neighbours"), um(result.spacing, 4)),
        put("l", _("evaluated from … to"), f"{bare(start, 4)} … {bare(stop, 4)}\u00a0mm"),
        put("n", _("heights in it"), str(count)),
    ]
    steps = [
        f"Ra = {bare(total, 2)}/{count} = {bare(found.ra * 1e9, 4)}\u00a0nm",
        f"Rq = √({bare(squares, 3)}/{count}) = {bare(found.rq * 1e9, 4)}\u00a0nm",
        _("Rz = mean of the highest peaks + mean of the deepest valleys") + f" = {bare(found.rz * 1e9, 4)}\u00a0nm",
    ]
    if main is not None and main.noise_bias is not None and main.combined is not None:
        given.append(put("b", _("what the instrument's noise added"), f"{figures(main.noise_bias * 1e9)}\u00a0nm"))
        steps.append(
            _("judged, without the noise:") + f" {bare(main.measured * 1e9, 4)} − {bare(main.noise_bias * 1e9, 4)}"
            f" = {bare(main.combined.value * 1e9, 4)}\u00a0nm"
        )
    combined, budget = (None, None) if main is None else (main.combined, main.budget)
    return Case(
        of=recorded.wafer_id,
        result=f"Ra = {bare(found.ra * 1e9, 3)}\u00a0nm",
        given=tuple(given),
        steps=tuple(steps),
        tables=(
            Table(title=_("Section by section"), heads=(_("Section"), "Ra, nm", "Rp, nm", "Rv, nm"), rows=rows),
            *budget_table(budget, unit="nm", factor=1e9),
        ),
        doubt=plus_minus(combined, unit="nm")
        if combined is not None
        else _("What is known of the instrument does not carry one."),
        files=_files(recorded),
        others=others,
    )


FACES: dict[str, Callable[[Place], Case]] = {"flatness": flatness, "roughness": roughness}


# ----------------------------------------------------------------------------------------------------------------------


def _flatness_case(recorded: RecordedSurface) -> Case:
    reading = surface_records.read_again(recorded)
    if not isinstance(reading, FringeReading):
        raise NotFound(_("This face was not read by fringes."))
    settings, shape, fringes = reading.settings, reading.shape, reading.fringes
    height = height_per_fringe(settings)
    given = [
        put("h_f", _("height per fringe"), um(height, 5)),
        put("n", _("pixels of the map inside the edge exclusion"), str(shape.n_pixels)),
        put("", _("size of a pixel"), " × ".join(um(one, 2) for one in fringes.pixel_size)),
        put("", _("edge exclusion"), f"{bare(settings.edge_exclusion * 1e3, 2)}\u00a0mm"),
    ]
    steps = []
    if settings.fringe_height is None and settings.wavelength is not None:
        angle = math.degrees(settings.incidence)
        given += [
            put("λ", _("wavelength"), f"{bare(settings.wavelength * 1e9, 2)}\u00a0nm"),
            put("θ", _("angle of incidence"), f"{bare(angle, 2)}°"),
        ]
        steps.append(f"h_f = {bare(settings.wavelength * 1e6, 5)}/(2·cos {bare(angle, 2)}°) = {um(height, 5)}")
    levelled = shape.levelled[np.isfinite(shape.levelled)]
    steps += [
        f"PV = {bare(float(levelled.max()) * 1e6, 4)} − ({bare(float(levelled.min()) * 1e6, 4)}) = {um(shape.pv)}",
        f"rms = √(Σ h²/n) = √({figures(float((levelled**2).sum()) * 1e12)}/{levelled.size}) = {um(shape.rms, 4)}",
    ]
    doubt = plus_minus(reading.flatness) if reading.flatness is not None else str(said(reading.unsure))
    return Case(
        of=recorded.wafer_id,
        result=um(shape.pv),
        given=tuple(given),
        steps=tuple(steps),
        tables=(_section(shape.levelled, fringes.pixel_size), *budget_table(reading.flatness_budget)),
        doubt=doubt,
    )


def _asked_for(place: Place, kind: SurfaceKind) -> tuple[RecordedSurface, tuple[Other, ...]]:
    """The face of the page, the one named, else the latest that the page lists; and the others it lists."""
    named = place.of if is_number(place.of) else place.name("surface_id")
    if place.name("surface_id"):
        return surface_records.show_surface(int(named)), ()
    wafer_id = place.name("wafer_id")
    listed = surface_records.list_surfaces(kind, wafer_id=wafer_id or None, newest=200 if wafer_id else 50)
    found = picked(named, {str(one.surface_id): one for one in listed}, _("No such face is recorded here."))
    others = tuple(
        Other(name=f"{one.wafer_id}, {one.signature.at:%Y-%m-%d %H:%M}", of=str(one.surface_id))
        for one in listed
        if one is not found
    )
    return found, others


def _files(recorded: RecordedSurface) -> tuple[tuple[str, str], ...]:
    order_id = orders.recorded_wafer(recorded.wafer_id).order_id
    return tuple(
        (_("file as received, document %(n)d") % {"n": number}, reverse("document", args=[order_id, number]))
        for number in recorded.document_ids
    )


def _section(levelled: np.ndarray, pixel: tuple[float, float]) -> Table:
    """Heights along the middle row, so that the map can be followed without reading the picture."""
    row = levelled[levelled.shape[0] // 2]
    places = np.flatnonzero(np.isfinite(row))
    kept = places[:: max(1, places.size // 40)]
    rows = tuple((bare(float(i) * pixel[1] * 1e3, 3), bare(float(row[i]) * 1e6, 4)) for i in kept)
    return Table(title=_("Heights along the middle row, plane taken out"), heads=("x, mm", "h, µm"), rows=rows)
