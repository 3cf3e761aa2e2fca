"""Uncertainty of a roughness: how it varies along and between lines, the instrument's noise, its scale, the cutoff.

What is meant by "the" roughness is that of the whole face under the same settings. One line is a sample of it; its
sections, or several lines, say how well it is known. Noise always adds, so its share is taken out and told. Left out:
a tip that smooths, and lay: lines must cross it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.metrology.filters import gaussian_mean_line
from lapwright.metrology.roughness import RoughnessResult
from lapwright.metrology.roughness_settings import Notice, ProfileInstrument
from lapwright.metrology.uncertainty import Budget, CombinedUncertainty, Contribution, combined_uncertainty

Array = NDArray[np.float64]
HeightParameter = Literal["ra", "rq"]

_HELD_BACK = 1  # section: their values are skewed and neighbours related; found by our own campaign
_CUTOFF_STEP = 0.02  # relative change of the cutoff by which its effect is found


@dataclass(frozen=True, slots=True, kw_only=True)
class RoughnessUncertainty:
    """Roughness of a face with its uncertainty.

    Attributes
    ----------
    parameter : str
        "ra", "rq", "sa" or "sq".
    measured : float [m]
        Mean over all sections of all lines, noise included.
    noise_bias : float or None [m]
        What the instrument's noise added; None when the noise is not known.
    combined : CombinedUncertainty or None
        Of the value without the noise's share: value, standard and expanded uncertainty [m]; None when the roughness
        cannot be told from noise.
    budget : Budget or None
        Its contributions.
    samples : int
        Sections (or tiles) over which it was taken.
    warnings : tuple of (code, sentence)
        What the uncertainty leaves out, and whether the roughness can be told from noise.
    """

    parameter: str
    measured: float
    noise_bias: float | None
    combined: CombinedUncertainty | None
    budget: Budget | None
    samples: int
    warnings: tuple[Notice, ...]


def roughness_uncertainty(
    lines: Sequence[RoughnessResult], *, parameter: HeightParameter = "ra", repeatability: float = 0.0
) -> RoughnessUncertainty:
    r"""Ra or Rq of a face from one or several lines on it, with its uncertainty.

    Parameters
    ----------
    lines : sequence of RoughnessResult
        Lines at different places, taken with the same settings and instrument.
    parameter : "ra" or "rq"
        What is asked for.
    repeatability : float [m]
        Standard deviation of the parameter when one line is measured again and again, over the root of the repeats;
        it holds what the noise floor does not.

    Returns
    -------
    RoughnessUncertainty

    Raises
    ------
    ShapeMismatch
        No line, or lines of different settings.
    OutOfValidRange
        Fewer than two sections in all.

    Notes
    -----
    The sections are the sample: u = s / √(N − 1) with N − 1 degrees of freedom (Rq by way of the mean square). One is
    held back because section values are skewed and neighbours related. Noise adds in squares:

    .. math:: R^2 = R_m^2 - R_n^2

    with R_n the noise under the same filter (for Ra: noise Rq times √(2/π), right for a Gaussian surface). Height scale
    and cutoff enter as relative standard uncertainties; what the cutoff does to the parameter is found by filtering
    again with a slightly longer one.

    References
    ----------
    .. [1] JCGM 100:2008, 4.2, 5.1 and G.4; noise floor in squares: ISO 25178-600:2019 (from memory). Key ``jcgm100``.

    Examples
    --------
    >>> from lapwright.metrology.roughness import measured_roughness
    >>> from lapwright.metrology.roughness_settings import RoughnessSettings
    >>> rough = 1e-7 * np.random.default_rng(1).standard_normal(12000)
    >>> line = measured_roughness(rough, spacing=1e-6, settings=RoughnessSettings(cutoff=0.8e-3))
    >>> found = roughness_uncertainty([line])
    >>> round(found.combined.value * 1e9, 1), round(found.combined.expanded_uncertainty * 1e9, 1)
    (79.4, 3.5)
    """
    _need_alike(lines)
    sections = [value for line in lines for value in _section_values(line, parameter)]
    if len(sections) < 2:
        raise OutOfValidRange("number of sections", len(sections), "at least 2", "Measure a longer line, or another.")
    sample = np.array(sections)
    measured, sampling = _mean_of(sample, squared=parameter == "rq")
    instrument = lines[0].instrument
    per_cutoff = 0.0
    if instrument.cutoff_uncertainty > 0.0:
        per_cutoff = float(np.mean([_cutoff_effect(line, parameter) for line in lines]))
    factor = 1.0 if parameter == "rq" else math.sqrt(2.0 / math.pi)
    return _combined(
        parameter=parameter,
        measured=measured,
        instrument=instrument,
        noise_factor=factor,
        contributions=[
            _place_to_place(sampling, len(sample)),
            Contribution(name="repeats", standard_uncertainty=repeatability),
            Contribution(name="cutoff", standard_uncertainty=abs(per_cutoff) * instrument.cutoff_uncertainty),
        ],
        samples=len(sample),
    )


def sampled_uncertainty(
    tiles: Array, *, parameter: Literal["sa", "sq"], instrument: ProfileInstrument
) -> RoughnessUncertainty:
    """Sa or Sq of a face from the values of its tiles, with its uncertainty.

    Parameters
    ----------
    tiles : float array, shape (n,) [m]
        The parameter over tiles of equal size, each wider than the cutoff or than several autocorrelation lengths.
    parameter : "sa" or "sq"
        What the tiles hold.
    instrument : ProfileInstrument
        Noise and height scale.

    Returns
    -------
    RoughnessUncertainty

    Raises
    ------
    OutOfValidRange
        Fewer than two tiles.

    Notes
    -----
    As `roughness_uncertainty`, with tiles in place of sections.

    Examples
    --------
    >>> from lapwright.metrology.roughness_settings import UNKNOWN_INSTRUMENT
    >>> found = sampled_uncertainty(np.array([1e-9, 1.2e-9, 1.1e-9]), parameter="sa", instrument=UNKNOWN_INSTRUMENT)
    >>> round(found.measured * 1e9, 3)
    1.1
    """
    if tiles.size < 2:
        raise OutOfValidRange("number of tiles", tiles.size, "at least 2", "Measure a larger map.")
    measured, sampling = _mean_of(tiles, squared=parameter == "sq")
    return _combined(
        parameter=parameter,
        measured=measured,
        instrument=instrument,
        noise_factor=1.0 if parameter == "sq" else math.sqrt(2.0 / math.pi),
        contributions=[_place_to_place(sampling, tiles.size)],
        samples=tiles.size,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _need_alike(lines: Sequence[RoughnessResult]) -> None:
    kinds = {replace(line.settings, sections=None) for line in lines}
    if len(kinds) != 1 or len({line.instrument for line in lines}) != 1:
        raise ShapeMismatch(settings_of_lines=(len(kinds),), lines=(len(lines),))


def _section_values(line: RoughnessResult, parameter: HeightParameter) -> list[float]:
    parts = np.array_split(line.evaluated_roughness, line.settings.sections or 1)
    return [_height(part[np.isfinite(part)], parameter) for part in parts]


def _height(z: Array, parameter: HeightParameter) -> float:
    return float(np.abs(z).mean()) if parameter == "ra" else math.sqrt(float(np.mean(z * z)))


def _mean_of(sample: Array, *, squared: bool) -> tuple[float, float]:
    """Mean and its standard uncertainty; root mean square values by way of their squares."""
    if not squared:
        return float(sample.mean()), float(sample.std(ddof=1) / math.sqrt(sample.size))
    squares = sample**2
    root = math.sqrt(float(squares.mean()))
    return root, float(squares.std(ddof=1) / math.sqrt(sample.size)) / (2.0 * root) if root > 0.0 else 0.0


def _place_to_place(sampling: float, samples: int) -> Contribution:
    held = sampling * math.sqrt(samples / (samples - _HELD_BACK))
    return Contribution(name="place to place", standard_uncertainty=held, degrees_of_freedom=samples - 1.0)


def _cutoff_effect(line: RoughnessResult, parameter: HeightParameter) -> float:
    """Change of the parameter for a relative change of one in the cutoff."""
    primary = line.waviness + line.roughness
    longer = (1.0 + _CUTOFF_STEP) * line.settings.cutoff
    changed = (primary - gaussian_mean_line(primary, spacing=line.spacing, cutoff=longer))[slice(*line.evaluated)]
    before = gaussian_mean_line(primary, spacing=line.spacing, cutoff=line.settings.cutoff)
    standard = (primary - before)[slice(*line.evaluated)]
    told = np.isfinite(changed) & np.isfinite(standard)
    return (_height(changed[told], parameter) - _height(standard[told], parameter)) / _CUTOFF_STEP


def _combined(
    *,
    parameter: str,
    measured: float,
    instrument: ProfileInstrument,
    noise_factor: float,
    contributions: list[Contribution],
    samples: int,
) -> RoughnessUncertainty:
    notices: list[Notice] = []
    value, bias = measured, None
    if instrument.noise is None:
        sentence = "The noise of the instrument is not known; it adds to every roughness and is not taken out."
        notices.append(("surface.noise_unknown", sentence))
    else:
        noise = noise_factor * instrument.noise
        if measured <= noise:
            return _hidden(parameter, measured=measured, noise=noise, samples=samples)
        value = math.sqrt(measured**2 - noise**2)
        bias = measured - value
        amplified = measured / value
        contributions = [replace(one, sensitivity=amplified) for one in contributions]
        contributions.append(_of_noise(noise, instrument, sensitivity=noise / value))
    if instrument.height_uncertainty is None:
        sentence = "The uncertainty of the height scale is not known; calibrate it on a step or roughness standard."
        notices.append(("surface.height_scale_unknown", sentence))
    else:
        scale = instrument.height_uncertainty * value
        contributions.append(Contribution(name="height scale", standard_uncertainty=scale))
    budget = Budget(contributions=tuple(contributions))
    return RoughnessUncertainty(
        parameter=parameter,
        measured=measured,
        noise_bias=bias,
        combined=combined_uncertainty(budget, value=value),
        budget=budget,
        samples=samples,
        warnings=tuple(notices),
    )


def _of_noise(noise: float, instrument: ProfileInstrument, *, sensitivity: float) -> Contribution:
    """How well the noise floor itself is known, from the number of values behind it."""
    degrees = instrument.noise_degrees_of_freedom
    return Contribution(
        name="noise floor",
        standard_uncertainty=noise / math.sqrt(2.0 * degrees),
        sensitivity=sensitivity,
        degrees_of_freedom=degrees,
    )


def _hidden(parameter: str, *, measured: float, noise: float, samples: int) -> RoughnessUncertainty:
    sentence = (
        f"The roughness found ({measured * 1e9:.3g} nm) is not above the noise of the instrument "
        f"({noise * 1e9:.3g} nm); it cannot be told from none. Take a quieter instrument, or average more."
    )
    return RoughnessUncertainty(
        parameter=parameter,
        measured=measured,
        noise_bias=None,
        combined=None,
        budget=None,
        samples=samples,
        warnings=(("surface.hidden_in_noise", sentence),),
    )
