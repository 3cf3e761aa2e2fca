"""Use cases on files of profiles and maps that need no records: roughness, form, flatness.

Nothing here loads the database. Fringe pictures are in `fringe_maps`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal, TypeVar, get_args

import numpy as np

from lapwright.errors import BadInput, CannotAnswer, Fault, OutOfValidRange
from lapwright.formats.surfaces import read_surface
from lapwright.library.roughness_settings import Rule, SelectedBy
from lapwright.metrology.filters import FilterKind
from lapwright.metrology.flatness import Flatness, flatness, minimum_zone_flatness
from lapwright.metrology.roughness import RoughnessResult, chosen_roughness, measured_roughness, settings_for_cutoff
from lapwright.metrology.roughness_areal import (
    ArealForm,
    ArealResult,
    ArealSettings,
    measured_areal_roughness,
    tile_values,
)
from lapwright.metrology.roughness_form import FormKind
from lapwright.metrology.roughness_settings import UNKNOWN_INSTRUMENT, ProfileInstrument
from lapwright.metrology.roughness_uncertainty import RoughnessUncertainty, roughness_uncertainty, sampled_uncertainty
from lapwright.metrology.shape import PERCENTILES, ShapeResult, measured_shape
from lapwright.metrology.shape_bow import BowAndWarp, bow_and_warp
from lapwright.metrology.shape_grid import Aperture, fitted_aperture, grid_axes
from lapwright.metrology.shape_profiles import RollOff, radial_profile, roll_off
from lapwright.metrology.shape_sites import GlobalFlatness, SiteFlatness, SiteGrid, global_flatness, site_flatness
from lapwright.metrology.zernike import ZernikeFit, zernike_fit
from lapwright.model.surface import HeightMap, HeightProfile, Surface

MapOf = Literal["face", "thickness", "median"]
Notice = tuple[str, str]
T = TypeVar("T")
F = TypeVar("F")
_OF_PROFILE: dict[str, FormKind] = {name: name for name in get_args(FormKind)}
_OF_MAP: dict[str, ArealForm] = {name: name for name in get_args(ArealForm)}
_TILES = 3  # along each side of a map, to see how its roughness varies from place to place


@dataclass(frozen=True, slots=True, kw_only=True)
class RoughnessQuestion:
    """How a roughness is to be taken; None leaves the choice to the standard's table. Lengths in m."""

    cutoff: float | None = None
    short_cutoff: float | None = None
    sections: int | None = 5
    filter_kind: FilterKind = "gaussian"
    form: FormKind | ArealForm | None = None
    rule: Rule = "iso21920"
    selected_by: SelectedBy = "ra"
    instrument: ProfileInstrument = UNKNOWN_INSTRUMENT


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredProfile:
    """Roughness of a profile; the uncertainties of Ra and Rq, None with a single section."""

    profile: HeightProfile
    result: RoughnessResult
    ra: RoughnessUncertainty | None
    rq: RoughnessUncertainty | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredArea:
    """Roughness of a map with the uncertainties of Sa and Sq."""

    surface: HeightMap
    result: ArealResult
    sa: RoughnessUncertainty | None
    sq: RoughnessUncertainty | None


def roughness_of_file(path: Path, question: RoughnessQuestion) -> MeasuredProfile | MeasuredArea:
    """Roughness of the profile or map in a file.

    Raises `FileFormatError` and `BadInput` for a bad file, `SurfaceRefused` and its kin when it cannot answer.
    """
    return roughness_of_surface(read_surface(path), question)


def roughness_of_surface(surface: Surface, question: RoughnessQuestion) -> MeasuredProfile | MeasuredArea:
    """Roughness of a profile or map; raises as `roughness_of_file`."""
    if isinstance(surface, HeightMap):
        return _areal(surface, question)
    result = _profile_roughness(surface, question)
    if (result.settings.sections or 0) < 2:
        return MeasuredProfile(profile=surface, result=result, ra=None, rq=None)
    return MeasuredProfile(
        profile=surface,
        result=result,
        ra=roughness_uncertainty([result], parameter="ra"),
        rq=roughness_uncertainty([result], parameter="rq"),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapeQuestion:
    """What is asked of a map. Lengths in m; `map_of` None takes what the file says, a face if it says nothing."""

    map_of: MapOf | None = None
    diameter: float | None = None
    edge_exclusion: float = 0.0
    sites: SiteGrid | None = None
    min_measured: float = 1.0
    percentiles: tuple[float, float] = PERCENTILES
    zernike_terms: int = 22


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredShape:
    """Form, flatness and site terms of a map; None where the map cannot carry one or it was not asked."""

    surface: HeightMap
    map_of: MapOf
    shape: ShapeResult
    flatness: Flatness
    minimum_zone: float | None
    zernike: ZernikeFit | None
    overall: GlobalFlatness
    bow: BowAndWarp
    sites: SiteFlatness | None
    rim: RollOff | None
    warnings: tuple[Notice, ...]


def shape_of_file(path: Path, question: ShapeQuestion) -> MeasuredShape:
    """Form and flatness of the map in a file.

    Raises `FileFormatError` and `BadInput` for a bad file or a profile, `ShapeNotDetermined` for too few places.
    """
    surface = read_surface(path)
    if isinstance(surface, HeightProfile):
        sentence = f"{path.name} holds a profile; a map is expected. Take its roughness with 'lapwright roughness'."
        raise BadInput([Fault(sentence=sentence, field="map")])
    return shape_of_map(surface, question)


def shape_of_map(surface: HeightMap, question: ShapeQuestion) -> MeasuredShape:
    """Form and flatness of a map; raises as `shape_of_file`."""
    pixel = surface.pixel_size
    full = fitted_aperture(np.isfinite(surface.height), pixel_size=pixel)
    if question.diameter is not None:
        full = Aperture(x=full.x, y=full.y, radius=0.5 * question.diameter)
    if not 0.0 <= question.edge_exclusion < full.radius:
        expected = f"zero or more and less than the radius ({full.radius:g} m)"
        raise OutOfValidRange("edge_exclusion", question.edge_exclusion, expected)
    inner = replace(full, radius=full.radius - question.edge_exclusion)
    shape = measured_shape(surface.height, pixel_size=pixel, aperture=inner, percentiles=question.percentiles)
    rows, columns = np.nonzero(np.isfinite(shape.levelled))
    x, y = grid_axes(surface.height.shape, pixel_size=pixel)
    places = (x[columns], y[rows], shape.levelled[rows, columns])
    area = {"pixel_size": pixel, "aperture": full, "edge_exclusion": question.edge_exclusion}
    notices: list[Notice] = []
    return MeasuredShape(
        surface=surface,
        map_of=question.map_of or ("thickness" if surface.quantity == "thickness" else "face"),
        shape=shape,
        flatness=flatness(*places),
        minimum_zone=_or_notice(notices, lambda: minimum_zone_flatness(*places)),
        zernike=_or_notice(
            notices,
            lambda: zernike_fit(surface.height, pixel_size=pixel, terms=question.zernike_terms, aperture=inner),
        ),
        overall=global_flatness(surface.height, **area),  # type: ignore[arg-type]  # the names are those of its parameters
        bow=bow_and_warp(surface.height, **area),  # type: ignore[arg-type]  # as above
        sites=None
        if question.sites is None
        else site_flatness(
            surface.height,
            sites=question.sites,
            min_measured=question.min_measured,
            **area,  # type: ignore[arg-type]  # as above
        ),
        rim=_or_notice(notices, lambda: _rim(shape, pixel, full)),
        warnings=tuple(notices),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _profile_roughness(profile: HeightProfile, question: RoughnessQuestion) -> RoughnessResult:
    if question.form is not None and question.cutoff is None:
        sentence = "A form was chosen without a cutoff; the table's classes take a straight line out. State a cutoff."
        raise BadInput([Fault(sentence=sentence, field="form")])
    if question.cutoff is None:
        return chosen_roughness(
            profile.height,
            spacing=profile.spacing,
            selected_by=question.selected_by,
            rule=question.rule,
            instrument=question.instrument,
            filter_kind=question.filter_kind,
        )
    settings = settings_for_cutoff(
        question.cutoff, spacing=profile.spacing, sections=question.sections, filter_kind=question.filter_kind
    )
    if question.short_cutoff is not None:
        settings = replace(settings, short_cutoff=question.short_cutoff)
    if question.form is not None:
        settings = replace(settings, form=_form(question.form, _OF_PROFILE, "profile"))
    return measured_roughness(
        profile.height, spacing=profile.spacing, settings=settings, instrument=question.instrument
    )


def _areal(surface: HeightMap, question: RoughnessQuestion) -> MeasuredArea:
    settings = ArealSettings(
        cutoff=question.cutoff,
        short_cutoff=question.short_cutoff,
        form=_form(question.form or "plane", _OF_MAP, "map"),
    )
    result = measured_areal_roughness(
        surface.height, pixel_size=surface.pixel_size, settings=settings, instrument=question.instrument
    )
    told: list[RoughnessUncertainty | None] = []
    for parameter in ("sa", "sq"):
        tiles = tile_values(result.roughness, tiles=_TILES, parameter=parameter)
        told.append(
            sampled_uncertainty(tiles, parameter=parameter, instrument=question.instrument) if tiles.size > 1 else None
        )
    return MeasuredArea(surface=surface, result=result, sa=told[0], sq=told[1])


def _form(name: str, known: dict[str, F], kind: str) -> F:
    """A form by its name; `BadInput` for one that belongs to the other kind of surface."""
    if name not in known:
        sentence = f"The form {name!r} cannot be taken out of a {kind}; expected one of {', '.join(known)}. Choose one."
        raise BadInput([Fault(sentence=sentence, field="form")])
    return known[name]


def _or_notice(notices: list[Notice], take: Callable[[], T]) -> T | None:
    """What is taken, or None and the reason among the notices."""
    try:
        return take()
    except CannotAnswer as error:
        notices.append((error.code, error.sentence))
        return None


def _rim(shape: ShapeResult, pixel_size: tuple[float, float], full: Aperture) -> RollOff:
    rings = radial_profile(shape.levelled, pixel_size=pixel_size, aperture=shape.aperture)
    return roll_off(rings, edge=full.radius)
