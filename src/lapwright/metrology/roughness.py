"""Roughness of a measured profile: form out, fine detail out, waviness out, then the parameters of what is left.

One call from raw heights to parameters, with the settings that were used, the filtered parts for drawing, and what the
reader must know. A profile that cannot answer is refused with every reason. Sources: ISO 21920-2 and -3:2021,
ISO 16610-21 and -28. Left out: motifs, and profiles at uneven spacing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import Fault, OutOfValidRange, ProfileTooShort, SamplingTooCoarse
from lapwright.library.roughness_settings import Rule, SelectedBy, SettingClass, setting_classes
from lapwright.metrology.filters import (
    FilterKind,
    gaussian_mean_line,
    robust_gaussian_mean_line,
    spline_mean_line,
)
from lapwright.metrology.roughness_checks import (
    POINTS_PER_CUTOFF,
    POINTS_PER_SHORT_CUTOFF,
    filtered_faults,
    profile_faults,
    raw_notices,
    refuse,
)
from lapwright.metrology.roughness_form import profile_form
from lapwright.metrology.roughness_parameters import RoughnessParameters, profile_parameters
from lapwright.metrology.roughness_settings import (
    SECTIONS,
    UNKNOWN_INSTRUMENT,
    Notice,
    ProfileInstrument,
    RoughnessSettings,
    is_above,
    is_within,
)

Array = NDArray[np.float64]

_MEAN_LINES: dict[FilterKind, Callable[..., Array]] = {
    "gaussian": gaussian_mean_line,
    "robust_gaussian": robust_gaussian_mean_line,
    "spline": spline_mean_line,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RoughnessResult:
    """Roughness of one profile.

    Attributes
    ----------
    parameters : RoughnessParameters
        Of the roughness profile over the evaluation length.
    waviness_parameters : RoughnessParameters
        The same numbers of the waviness profile (Wa, Wq, Wz …), from its own mean height.
    settings : RoughnessSettings
        As used; `sections` is always a number here.
    instrument : ProfileInstrument
        As stated.
    spacing : float [m]
        Distance between neighbours.
    evaluated : tuple of int
        First place evaluated and the one after the last, into the arrays below.
    form, waviness, roughness : float array, shape (n,) [m]
        The parts of the profile over its whole length; NaN where not measured or not supported. Form + waviness +
        roughness is the profile less the detail that the short cutoff left out.
    n_missing : int
        Points of the evaluation length without a usable height.
    end_effects : str
        How the ends of the profile were dealt with.
    warnings : tuple of (code, sentence)
        What the reader must know.
    """

    parameters: RoughnessParameters
    waviness_parameters: RoughnessParameters
    settings: RoughnessSettings
    instrument: ProfileInstrument
    spacing: float
    evaluated: tuple[int, int]
    form: Array
    waviness: Array
    roughness: Array
    n_missing: int
    end_effects: str
    warnings: tuple[Notice, ...]

    def __post_init__(self) -> None:
        for array in (self.form, self.waviness, self.roughness):
            array.setflags(write=False)

    @property
    def evaluated_roughness(self) -> Array:
        """The roughness profile over the evaluation length [m]."""
        return self.roughness[slice(*self.evaluated)]


def measured_roughness(
    height: Array,
    *,
    spacing: float,
    settings: RoughnessSettings | None = None,
    instrument: ProfileInstrument = UNKNOWN_INSTRUMENT,
) -> RoughnessResult:
    """Roughness of a raw profile.

    Parameters
    ----------
    height : float array, shape (n,) [m]
        Raw heights at even spacing; NaN = not measured.
    spacing : float [m]
        Distance between neighbours.
    settings : RoughnessSettings or None
        How to take it; None chooses the class of settings by the profile's own Ra (`chosen_roughness`).
    instrument : ProfileInstrument
        What it was measured with.

    Returns
    -------
    RoughnessResult

    Raises
    ------
    ProfileTooShort, SamplingTooCoarse, HeightsClipped, TipTooLarge, TooManyMissing
        The profile cannot answer for the one reason named.
    SurfaceRefused
        It cannot for several reasons; all are listed.
    OutOfValidRange
        `spacing` is not above zero, or heights are infinite.

    Notes
    -----
    The evaluation length lies in the middle of the profile; what is left at both ends only feeds the filter. Where that
    run-up is shorter than the cutoff, the mean line near the end is a local straight line (ISO 16610-28).

    References
    ----------
    .. [1] ISO 21920-2:2021 and ISO 21920-3:2021. Keys ``iso21920_2``, ``iso21920_3``.

    Examples
    --------
    >>> wave = 1e-6 * np.sin(2 * np.pi * np.arange(12000) / 100)
    >>> found = measured_roughness(wave, spacing=0.5e-6, settings=RoughnessSettings(cutoff=0.8e-3))
    >>> round(found.parameters.ra * 1e6, 3), found.settings.sections
    (0.636, 5)
    """
    _need_profile(height, spacing)
    if settings is None:
        return chosen_roughness(height, spacing=spacing, instrument=instrument)
    refuse(profile_faults(height, spacing=spacing, settings=settings, instrument=instrument))
    return _evaluated(height, spacing=spacing, settings=settings, instrument=instrument)


def chosen_roughness(
    height: Array,
    *,
    spacing: float,
    selected_by: SelectedBy = "ra",
    rule: Rule = "iso21920",
    instrument: ProfileInstrument = UNKNOWN_INSTRUMENT,
    filter_kind: FilterKind = "gaussian",
) -> RoughnessResult:
    """Roughness with the class of settings that the profile itself asks for.

    Parameters
    ----------
    height : float array, shape (n,) [m]
        Raw heights at even spacing; NaN = not measured.
    spacing : float [m]
        Distance between neighbours.
    selected_by : "ra", "rz" or "rsm"
        Parameter that chooses.
    rule : "iso21920" or "iso4288"
        Whose table.
    instrument : ProfileInstrument
        What it was measured with.
    filter_kind : "gaussian", "robust_gaussian" or "spline"
        Filter of the mean line.

    Returns
    -------
    RoughnessResult

    Raises
    ------
    ProfileTooShort, SamplingTooCoarse, HeightsClipped, TipTooLarge, TooManyMissing, SurfaceRefused
        As `measured_roughness`; also when the class asked for needs a longer or a finer profile.
    OutOfValidRange
        The rule has no table for that parameter.

    Notes
    -----
    The classes are tried from the finest that the spacing carries; the first whose own result does not lie above its
    limits is kept. The short cutoff of the class is applied where the spacing is a fifth of it or less.

    References
    ----------
    .. [1] ISO 4288:1996, 7.2; ISO 21920-3:2021. Key ``iso21920_3``.

    Examples
    --------
    >>> wave = 1e-6 * np.sin(2 * np.pi * np.arange(12000) / 100)
    >>> chosen_roughness(wave, spacing=0.5e-6).settings.cutoff
    0.0008
    """
    _need_profile(height, spacing)
    classes = setting_classes(rule, selected_by)
    if not classes:
        raise OutOfValidRange("number of setting classes", 0, f"a table of {rule} by {selected_by}", "Choose by Ra.")
    usable = [row for row in classes if row.cutoff / POINTS_PER_CUTOFF >= spacing * (1.0 - 1e-9)] or list(classes[-1:])
    for row in usable:
        settings = replace(_settings_of(row, spacing), filter_kind=filter_kind, rule=rule)
        faults = profile_faults(height, spacing=spacing, settings=settings, instrument=instrument)
        refuse(_advised(faults, row, usable[0]))
        found = _evaluated(height, spacing=spacing, settings=settings, instrument=instrument)
        value = getattr(found.parameters, selected_by)
        if value is not None and not is_above(value, row):
            break
    if row is usable[0] and row is not classes[0]:
        refuse(_asks_for_finer(value, row, spacing))
    return replace(found, warnings=(*found.warnings, *_beyond_table(value, row, is_finest=row is classes[0])))


def settings_for_cutoff(
    cutoff: float, *, spacing: float, sections: int | None = SECTIONS, filter_kind: FilterKind = "gaussian"
) -> RoughnessSettings:
    """Settings with a stated cutoff and the short cutoff that the standard's table puts beside it.

    Parameters
    ----------
    cutoff : float [m]
        Wavelength that separates waviness from roughness.
    spacing : float [m]
        Distance between neighbours; the short cutoff is applied only where this is a fifth of it or less.
    sections : int or None
        Sections to evaluate; None takes as many as the profile holds.
    filter_kind : "gaussian", "robust_gaussian" or "spline"
        Filter of the mean line.

    Returns
    -------
    RoughnessSettings

    Examples
    --------
    >>> settings_for_cutoff(0.8e-3, spacing=0.5e-6).short_cutoff
    2.5e-06
    """
    rows = [row for row in setting_classes("iso21920", "ra") if abs(row.cutoff - cutoff) <= 1e-6 * cutoff]
    if rows:
        return replace(_settings_of(rows[0], spacing), sections=sections, filter_kind=filter_kind)
    return RoughnessSettings(cutoff=cutoff, sections=sections, filter_kind=filter_kind)


# ----------------------------------------------------------------------------------------------------------------------


def _need_profile(height: Array, spacing: float) -> None:
    if not (np.isfinite(spacing) and spacing > 0.0):
        raise OutOfValidRange("spacing", spacing, "a length above zero")
    if np.isinf(height).any():
        raise OutOfValidRange("height", float("inf"), "finite heights", "Write an unmeasured height as empty.")


def _settings_of(row: SettingClass, spacing: float) -> RoughnessSettings:
    fine = spacing * POINTS_PER_SHORT_CUTOFF <= row.short_cutoff * (1.0 + 1e-9)
    return RoughnessSettings(cutoff=row.cutoff, short_cutoff=row.short_cutoff if fine else None, setting_class=row.name)


def _advised(faults: list[Fault], row: SettingClass, first: SettingClass) -> list[Fault]:
    """The faults; a short profile whose roughness asks for this class is told so."""
    if row is first:
        return faults
    why = f"The roughness found asks for class {row.name}. "
    return [
        replace(fault, sentence=why + fault.sentence) if fault.code == ProfileTooShort.code else fault
        for fault in faults
    ]


def _asks_for_finer(value: float | None, row: SettingClass, spacing: float) -> list[Fault]:
    """The fault of a profile too coarse for the class that its roughness asks for."""
    if value is None or is_within(value, row) or is_above(value, row):
        return []
    sentence = (
        f"The roughness asks for a finer class than {row.name}, and the points are {spacing * 1e6:.3g} µm apart, "
        "too far for one. Measure with a smaller spacing, or state the cutoff."
    )
    return [Fault(sentence=sentence, code=SamplingTooCoarse.code)]


def _beyond_table(value: float | None, row: SettingClass, *, is_finest: bool) -> list[Notice]:
    if value is None:
        return [("surface.beyond_table", f"The parameter that chooses cannot be taken here; {row.name} was used.")]
    if is_above(value, row):
        return [("surface.beyond_table", f"The roughness lies above the coarsest class; {row.name} was used.")]
    if is_finest and not is_within(value, row):
        return [("surface.below_table", f"The roughness lies below the finest class; {row.name} was used.")]
    return []


def _evaluated(
    height: Array, *, spacing: float, settings: RoughnessSettings, instrument: ProfileInstrument
) -> RoughnessResult:
    form = profile_form(height, spacing=spacing, form=settings.form)
    primary = height - form
    if settings.short_cutoff is not None:
        fine = gaussian_mean_line(primary, spacing=spacing, cutoff=settings.short_cutoff)
        primary = np.where(np.isfinite(height), fine, np.nan)
    waviness = _MEAN_LINES[settings.filter_kind](primary, spacing=spacing, cutoff=settings.cutoff)
    roughness = primary - waviness
    sections, (start, stop) = _evaluation(height.size, spacing, settings)
    part, wavy = roughness[start:stop], waviness[start:stop]
    refuse_after = partial(filtered_faults, part, instrument=instrument, cutoff=settings.cutoff)
    refuse(refuse_after(None))
    parameters = profile_parameters(part, spacing=spacing, sections=sections)
    refuse(refuse_after(parameters))
    return RoughnessResult(
        parameters=parameters,
        waviness_parameters=profile_parameters(wavy - np.nanmean(wavy), spacing=spacing, sections=sections),
        settings=replace(settings, sections=sections),
        instrument=instrument,
        spacing=spacing,
        evaluated=(start, stop),
        form=form,
        waviness=waviness,
        roughness=roughness,
        n_missing=int(np.count_nonzero(~np.isfinite(part))),
        end_effects=_told_ends(start * spacing, settings),
        warnings=tuple(raw_notices(height, spacing=spacing, settings=settings)),
    )


def _evaluation(count: int, spacing: float, settings: RoughnessSettings) -> tuple[int, tuple[int, int]]:
    """Sections, and the part in the middle that they cover; with run-up of half a cutoff where sections are free."""
    per_section = settings.cutoff / spacing
    sections = settings.sections
    if sections is None:
        sections = max(1, int((count + 1) / per_section - 1.0))
    points = min(count, round(sections * per_section))
    start = (count - points) // 2
    return sections, (start, start + points)


def _told_ends(run_up: float, settings: RoughnessSettings) -> str:
    cutoff = settings.cutoff
    told = f"{run_up * 1e3:.3g} mm at each end only fed the filter." if run_up > 0.0 else "Evaluated to both ends."
    if run_up >= cutoff or settings.filter_kind == "spline":
        return told
    shape = "straight line" if settings.filter_kind == "gaussian" else "parabola"
    return f"{told} Within {cutoff * 1e3:.3g} mm of an end the mean line is a weighted local {shape}."
