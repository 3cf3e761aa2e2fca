"""Whether a profile can answer for its roughness: long, fine, whole and unclipped enough, taken with a fine enough tip.

All reasons are found before anything is refused. Limits without a standard behind them are common practice, no source.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import (
    Fault,
    HeightsClipped,
    ProfileTooShort,
    SamplingTooCoarse,
    SurfaceRefused,
    TipTooLarge,
    TooManyMissing,
)
from lapwright.library.roughness_settings import setting_classes
from lapwright.metrology.roughness_parameters import RoughnessParameters
from lapwright.metrology.roughness_settings import Notice, ProfileInstrument, RoughnessSettings

Array = NDArray[np.float64]

POINTS_PER_CUTOFF = 25  # fewer and the filter itself is no longer what it says
POINTS_PER_SHORT_CUTOFF = 5  # ISO 3274:1996, table 1: spacing at most a fifth of the short cutoff (from memory)
LARGEST_MISSING = 0.1
_FLAT_RUN = 4  # neighbours at the very same extreme value
_LARGEST_FLAT_SHARE = 0.005
_LEAST_LEVELS = 100  # with fewer different heights, equal neighbours mean coarse steps and not clipping
_BLUNT_ALLOWED = 5e-6  # m, tip radius allowed at 0.8 mm where Ra > 0.5 µm or Rz > 3 µm: ISO 3274:1996, table 1, note

_CLASSES: dict[str, type[SurfaceRefused]] = {
    leaf.code: leaf for leaf in (ProfileTooShort, SamplingTooCoarse, HeightsClipped, TipTooLarge, TooManyMissing)
}


def profile_faults(
    height: Array, *, spacing: float, settings: RoughnessSettings, instrument: ProfileInstrument
) -> list[Fault]:
    """Reasons why a raw profile cannot answer with these settings; empty when it can.

    Parameters
    ----------
    height : float array, shape (n,) [m]
        Raw heights; NaN = not measured.
    spacing : float [m]
        Distance between neighbours.
    settings : RoughnessSettings
        What is to be asked.
    instrument : ProfileInstrument
        What it was measured with.

    Returns
    -------
    list of Fault
        Each with its code.

    Examples
    --------
    >>> from lapwright.metrology.roughness_settings import UNKNOWN_INSTRUMENT
    >>> short = np.random.default_rng(1).normal(0.0, 1e-7, 3000)
    >>> found = profile_faults(short, spacing=1e-6, settings=RoughnessSettings(cutoff=0.8e-3),
    ...                        instrument=UNKNOWN_INSTRUMENT)
    >>> [fault.code for fault in found]
    ['surface.too_short']
    """
    found = [
        _too_short(height.size * spacing, spacing, settings),
        _too_coarse(spacing, settings),
        clipped_fault(height),
        _missing(float(np.mean(~np.isfinite(height))) if height.size else 1.0),
        _tip_of_class(settings, instrument),
    ]
    return [fault for fault in found if fault is not None]


def filtered_faults(
    roughness: Array, parameters: RoughnessParameters | None, *, instrument: ProfileInstrument, cutoff: float
) -> list[Fault]:
    """Reasons that show only after filtering: too little supported by measured heights, valleys too sharp for the tip.

    Parameters
    ----------
    roughness : float array, shape (n,) [m]
        Roughness profile over the evaluation length; NaN = not measured or not supported.
    parameters : RoughnessParameters or None
        Of that profile; None when it could not be taken.
    instrument : ProfileInstrument
        What it was measured with.
    cutoff : float [m]
        With which the profile was filtered.

    Returns
    -------
    list of Fault

    Notes
    -----
    A wave of the profile's Rq and Rdq has the radius Rq / (√2 Rdq²) in its valleys; a blunter tip cannot reach them.
    The profile is the one the tip has already smoothed, so the test errs on the side of the instrument.

    Examples
    --------
    >>> from lapwright.metrology.roughness_settings import UNKNOWN_INSTRUMENT
    >>> filtered_faults(np.zeros(10), None, instrument=UNKNOWN_INSTRUMENT, cutoff=8e-4)
    []
    """
    found = [_missing(float(np.mean(~np.isfinite(roughness))))]
    if parameters is not None:
        found.append(_tip_in_valleys(parameters, instrument))
        found.append(_tip_at_cutoff(parameters, instrument, cutoff))
    return [fault for fault in found if fault is not None]


def refuse(faults: list[Fault]) -> None:
    """Raise the error of the faults: its own class for one kind, `SurfaceRefused` for several; nothing for none.

    Parameters
    ----------
    faults : list of Fault
        Each with the code of its error.

    Raises
    ------
    SurfaceRefused
        Or its leaf.

    Examples
    --------
    >>> refuse([])
    """
    codes = {fault.code for fault in faults}
    sentence = " ".join(fault.sentence for fault in faults)
    if len(codes) == 1:
        raise _CLASSES[str(codes.pop())](sentence, faults=faults)
    if codes:
        raise SurfaceRefused(sentence, faults=faults)


def clipped_fault(height: Array) -> Fault | None:
    """The fault of heights cut off at an end of the range, or None.

    Parameters
    ----------
    height : float array, any shape [m]
        Raw heights; NaN = not measured. Neighbours are those along the last axis.

    Returns
    -------
    Fault or None

    Notes
    -----
    More than 0.5 % of the points in rows of four or more at the very same extreme value. Heights in fewer than a
    hundred different steps are not judged.

    Examples
    --------
    >>> wave = np.sin(np.arange(5000) * 0.01)
    >>> clipped_fault(wave) is None, clipped_fault(np.minimum(wave, 0.8)).code
    (True, 'surface.clipped')
    """
    known = height[np.isfinite(height)]
    if known.size < 2 or _levels(known) < _LEAST_LEVELS:
        return None
    worst = max(("highest", _flat_share(height, float(known.max()))),
                ("lowest", _flat_share(height, float(known.min()))), key=lambda pair: pair[1])  # fmt: skip
    if worst[1] <= _LARGEST_FLAT_SHARE:
        return None
    return _fault(
        HeightsClipped,
        f"{100.0 * worst[1]:.1f} % of the points stand in rows at the very {worst[0]} value: the instrument ran out of "
        f"range (allowed {100.0 * _LARGEST_FLAT_SHARE:g} %). Level the sample, choose a larger range, measure again.",
    )


def raw_notices(height: Array, *, spacing: float, settings: RoughnessSettings) -> list[Notice]:
    """What the reader must know of a raw profile that is not refused.

    Parameters
    ----------
    height : float array, shape (n,) [m]
        Raw heights; NaN = not measured.
    spacing : float [m]
        Distance between neighbours.
    settings : RoughnessSettings
        As asked.

    Returns
    -------
    list of (code, sentence)

    Examples
    --------
    >>> raw_notices(np.arange(200.0), spacing=1e-7, settings=RoughnessSettings(cutoff=1e-5, short_cutoff=2e-6))
    []
    """
    notices = []
    known = height[np.isfinite(height)]
    if known.size < height.size:
        sentence = f"{height.size - known.size} of {height.size} points have no height; they were left out, not filled."
        notices.append(("surface.points_missing", sentence))
    if _levels(known) < _LEAST_LEVELS:
        sentence = f"The profile holds only {_levels(known)} different heights; steps that coarse show in every figure."
        notices.append(("surface.coarse_steps", sentence))
    if settings.short_cutoff is None:
        sentence = (
            "No short cutoff was applied, so the finest detail depends on the spacing "
            f"({spacing * 1e6:.3g} µm) and on the instrument; compare only with profiles taken alike."
        )
        notices.append(("surface.no_short_cutoff", sentence))
    return notices


# ----------------------------------------------------------------------------------------------------------------------


def _too_short(length: float, spacing: float, settings: RoughnessSettings) -> Fault | None:
    sections = settings.sections or 1
    needed = sections * settings.cutoff
    if length >= needed - spacing:
        return None
    return _fault(
        ProfileTooShort,
        f"The profile is {length * 1e3:.4g} mm long; {sections} section{'s' if sections > 1 else ''} of "
        f"{settings.cutoff * 1e3:.3g} mm need {needed * 1e3:.4g} mm. Measure a longer profile, or state a shorter "
        "cutoff or fewer sections.",
    )


def _too_coarse(spacing: float, settings: RoughnessSettings) -> Fault | None:
    largest = settings.cutoff / POINTS_PER_CUTOFF
    what = f"cutoff of {settings.cutoff * 1e3:.3g} mm"
    if settings.short_cutoff is not None:
        largest = min(largest, settings.short_cutoff / POINTS_PER_SHORT_CUTOFF)
        what = f"short cutoff of {settings.short_cutoff * 1e6:.3g} µm"
    if spacing <= largest * (1.0 + 1e-9):
        return None
    return _fault(
        SamplingTooCoarse,
        f"The points are {spacing * 1e6:.3g} µm apart; a {what} needs {largest * 1e6:.3g} µm or less. "
        "Measure with a smaller spacing, or state a longer cutoff.",
    )


def _flat_share(height: Array, extreme: float) -> float:
    """Share of points that stand at an extreme value with enough neighbours at the same."""
    there = np.concatenate(([0], (height.ravel() == extreme).astype(np.int8), [0]))
    turns = np.flatnonzero(np.diff(there))
    lengths = turns[1::2] - turns[::2]
    return float(lengths[lengths >= _FLAT_RUN].sum() / height.size)


def _levels(known: Array) -> int:
    """Number of different heights, counted up to the limit that matters."""
    step = max(1, known.size // 20_000)
    return int(np.unique(known[::step]).size)


def _missing(share: float) -> Fault | None:
    if share <= LARGEST_MISSING:
        return None
    return _fault(
        TooManyMissing,
        f"{100.0 * share:.3g} % of the points have no height that can be used; at most {100.0 * LARGEST_MISSING:g} % "
        "may be missing. Raise the light, clean the sample, or evaluate a part that is whole.",
    )


def _tip_of_class(settings: RoughnessSettings, instrument: ProfileInstrument) -> Fault | None:
    """A tip too large for a class whatever the surface; the exception for rough surfaces comes after filtering."""
    if instrument.tip_radius is None or _largest_tip(settings.cutoff) is None:
        return None
    allowed = max(_largest_tip(settings.cutoff) or 0.0, _BLUNT_ALLOWED if settings.cutoff >= 0.8e-3 - 1e-9 else 0.0)
    return None if instrument.tip_radius <= allowed * (1.0 + 1e-9) else _tip_fault(instrument.tip_radius, allowed)


def _tip_at_cutoff(parameters: RoughnessParameters, instrument: ProfileInstrument, cutoff: float) -> Fault | None:
    allowed = _largest_tip(cutoff)
    rough = parameters.ra > 0.5e-6 or parameters.rz > 3e-6
    if instrument.tip_radius is None or allowed is None or rough or instrument.tip_radius <= allowed * (1.0 + 1e-9):
        return None
    return _tip_fault(instrument.tip_radius, allowed)


def _largest_tip(cutoff: float) -> float | None:
    """Largest tip of the finest class with that cutoff or a longer one; None beyond the table."""
    longer = [row for row in setting_classes("iso21920", "ra") if row.cutoff >= cutoff * (1.0 - 1e-9)]
    return longer[0].tip_radius if longer else None


def _tip_fault(radius: float, allowed: float) -> Fault:
    return _fault(
        TipTooLarge,
        f"The tip has a radius of {radius * 1e6:.3g} µm; this cutoff allows {allowed * 1e6:.3g} µm. "
        "Take a finer tip, or an optical instrument.",
    )


def _tip_in_valleys(parameters: RoughnessParameters, instrument: ProfileInstrument) -> Fault | None:
    if instrument.tip_radius is None or not parameters.rdq or not parameters.rq > 0.0:
        return None
    reachable = parameters.rq / (math.sqrt(2.0) * parameters.rdq**2)
    if instrument.tip_radius <= reachable:
        return None
    return _fault(
        TipTooLarge,
        f"The tip has a radius of {instrument.tip_radius * 1e6:.3g} µm; the valleys found have about "
        f"{reachable * 1e6:.3g} µm, so it did not reach their ground. Take a finer tip, or an optical instrument.",
    )


def _fault(leaf: type[SurfaceRefused], sentence: str) -> Fault:
    return Fault(sentence=sentence, code=leaf.code)
