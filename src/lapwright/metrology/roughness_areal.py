"""Roughness of an area: form out, fine detail out, waviness out, then the areal parameters of ISO 25178-2.

Heights are measured from the mean surface, positive out of the material; every measured pixel counts alike. Left out:
feature parameters, and maps on an uneven grid.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import Fault, OutOfValidRange, ProfileTooShort, SamplingTooCoarse, TooManyMissing
from lapwright.metrology.autocorrelation import autocorrelation_lengths
from lapwright.metrology.filters_areal import gaussian_mean_surface
from lapwright.metrology.roughness_checks import LARGEST_MISSING, POINTS_PER_SHORT_CUTOFF, clipped_fault, refuse
from lapwright.metrology.roughness_curves import CoreHeights, core_heights
from lapwright.metrology.roughness_settings import UNKNOWN_INSTRUMENT, Notice, ProfileInstrument
from lapwright.metrology.surface_terms import fitted_terms

Array = NDArray[np.float64]
ArealForm = Literal["level", "plane", "quadric"]

_DEGREE: dict[ArealForm, int] = {"level": 0, "plane": 1, "quadric": 2}
_LEAST_PIXELS = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class ArealParameters:
    """Areal parameters. Heights and `sal` in m; ssk, sku, sdq, sdr and str_ratio (Str) without unit.

    `ssk`, `sku`, `core` (the Sk family) are None for a map without height; `sdq` and `sdr` where no pixel has three
    measured ones on every side; `sal` and `str_ratio` when the autocorrelation does not fall to a fifth within half the
    map, in any direction (`sal`) or in all of them (`str_ratio`).
    """

    sa: float
    sq: float
    sz: float
    sp: float
    sv: float
    ssk: float | None
    sku: float | None
    sdq: float | None
    sdr: float | None
    sal: float | None
    str_ratio: float | None
    core: CoreHeights | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ArealSettings:
    """How an areal roughness is taken: cutoff and short cutoff [m], each None for no filter; form taken out first."""

    cutoff: float | None = None
    short_cutoff: float | None = None
    form: ArealForm = "plane"


@dataclass(frozen=True, slots=True, kw_only=True)
class ArealResult:
    """Areal roughness of a map.

    Attributes
    ----------
    parameters : ArealParameters
        Of the roughness surface.
    settings : ArealSettings
        As used.
    instrument : ProfileInstrument
        As stated.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.
    form, waviness, roughness : float array, shape (ny, nx) [m]
        The parts of the map; NaN where not measured or not supported.
    n_missing : int
        Pixels without a usable height.
    warnings : tuple of (code, sentence)
        What the reader must know.
    """

    parameters: ArealParameters
    settings: ArealSettings
    instrument: ProfileInstrument
    pixel_size: tuple[float, float]
    form: Array
    waviness: Array
    roughness: Array
    n_missing: int
    warnings: tuple[Notice, ...]

    def __post_init__(self) -> None:
        for array in (self.form, self.waviness, self.roughness):
            array.setflags(write=False)


def measured_areal_roughness(
    height: Array,
    *,
    pixel_size: tuple[float, float],
    settings: ArealSettings | None = None,
    instrument: ProfileInstrument = UNKNOWN_INSTRUMENT,
) -> ArealResult:
    """Areal roughness of a raw map.

    Parameters
    ----------
    height : float array, shape (ny, nx) [m]
        Raw heights on an even grid; NaN = not measured.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.
    settings : ArealSettings or None
        How to take it; None takes a plane out and filters nothing.
    instrument : ProfileInstrument
        What it was measured with.

    Returns
    -------
    ArealResult

    Raises
    ------
    ProfileTooShort, SamplingTooCoarse, HeightsClipped, TooManyMissing, SurfaceRefused
        The map cannot answer; every reason is listed.
    OutOfValidRange
        A pixel size is not above zero, or heights are infinite.

    Notes
    -----
    Within one cutoff of a border or a gap the mean surface is a weighted local plane.

    References
    ----------
    .. [1] ISO 25178-2:2021 and ISO 25178-3:2012. Key ``iso25178_2``.

    Examples
    --------
    >>> steps = np.arange(400) * 2 * np.pi / 40
    >>> box = 1e-7 * np.sin(steps)[:, None] * np.sin(steps)
    >>> found = measured_areal_roughness(box, pixel_size=(1e-6, 1e-6))
    >>> round(found.parameters.sq * 1e9, 2), round(found.parameters.sku, 2)
    (50.0, 2.25)
    """
    chosen = settings or ArealSettings()
    if not min(pixel_size) > 0.0:
        raise OutOfValidRange("pixel_size", min(pixel_size), "a length above zero")
    if np.isinf(height).any():
        raise OutOfValidRange("height", math.inf, "finite heights", "Write an unmeasured height as empty.")
    refuse(_map_faults(height, pixel_size, chosen))
    form = fitted_terms(height, degree=_DEGREE[chosen.form])
    primary = height - form
    if chosen.short_cutoff is not None:
        fine = gaussian_mean_surface(primary, pixel_size=pixel_size, cutoff=chosen.short_cutoff)
        primary = np.where(np.isfinite(height), fine, np.nan)
    waviness = np.zeros_like(primary)
    if chosen.cutoff is not None:
        waviness = gaussian_mean_surface(primary, pixel_size=pixel_size, cutoff=chosen.cutoff)
    roughness = primary - waviness
    refuse(_missing_fault(roughness))
    return ArealResult(
        parameters=areal_parameters(roughness, pixel_size=pixel_size),
        settings=chosen,
        instrument=instrument,
        pixel_size=pixel_size,
        form=form,
        waviness=waviness,
        roughness=roughness,
        n_missing=int(np.count_nonzero(~np.isfinite(roughness))),
        warnings=tuple(_notices(height, pixel_size, chosen)),
    )


def areal_parameters(height: Array, *, pixel_size: tuple[float, float]) -> ArealParameters:
    r"""Areal parameters of a map whose mean surface has been taken out.

    Parameters
    ----------
    height : float array, shape (ny, nx) [m]
        Heights; NaN = not measured. Taken from their mean.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.

    Returns
    -------
    ArealParameters

    Raises
    ------
    TooManyMissing
        Fewer than 64 measured pixels.

    Notes
    -----
    .. math:: Sq = \sqrt{\overline{z^2}}, \; Ssk = \overline{z^3}/Sq^3, \;
              Sdr = \overline{\sqrt{1 + z_x^2 + z_y^2}} - 1

    with slopes from the six pixels around each, as for Rdq.

    References
    ----------
    .. [1] ISO 25178-2:2021, clause 4 (from memory). Key ``iso25178_2``.

    Examples
    --------
    >>> steps = np.arange(400) * 2 * np.pi / 40
    >>> box = 1e-7 * np.sin(steps)[:, None] * np.sin(steps)
    >>> round(areal_parameters(box, pixel_size=(1e-6, 1e-6)).sal * 1e6, 1)
    8.8
    """
    z = height[np.isfinite(height)]
    if z.size < _LEAST_PIXELS:
        raise TooManyMissing(
            f"{z.size} pixels have a height; areal parameters need at least {_LEAST_PIXELS}. Measure more of the face."
        )
    mean = float(z.mean())
    z = z - mean
    square = z * z
    sq = math.sqrt(float(square.mean()))
    flat = not sq > 0.0
    slope, developed = _slopes(height, pixel_size)
    shortest, longest = (None, None) if flat else autocorrelation_lengths(height - mean, pixel_size=pixel_size)
    return ArealParameters(
        sa=float(np.abs(z).mean()),
        sq=sq,
        sz=float(z.max() - z.min()),
        sp=float(z.max()),
        sv=float(-z.min()),
        ssk=None if flat else float((square * z).mean()) / sq**3,
        sku=None if flat else float((square * square).mean()) / sq**4,
        sdq=slope,
        sdr=developed,
        sal=shortest,
        str_ratio=shortest / longest if shortest is not None and longest is not None else None,
        core=None if flat else core_heights(z),
    )


def tile_values(roughness: Array, *, tiles: int, parameter: Literal["sa", "sq"]) -> Array:
    """Sa or Sq over equal tiles of a roughness surface, for its uncertainty.

    Parameters
    ----------
    roughness : float array, shape (ny, nx) [m]
        Heights above the mean surface; NaN = not measured.
    tiles : int
        Tiles along each side.
    parameter : "sa" or "sq"
        What to take over each tile.

    Returns
    -------
    float array, shape (n,) [m]
        One value per tile with at least half of its pixels measured.

    Examples
    --------
    >>> tile_values(np.ones((40, 40)), tiles=2, parameter="sa").tolist()
    [1.0, 1.0, 1.0, 1.0]
    """
    found = []
    for rows in np.array_split(roughness, tiles, axis=0):
        for part in np.array_split(rows, tiles, axis=1):
            z = part[np.isfinite(part)]
            if z.size >= 0.5 * part.size:
                found.append(float(np.abs(z).mean()) if parameter == "sa" else math.sqrt(float(np.mean(z * z))))
    return np.array(found)


# ----------------------------------------------------------------------------------------------------------------------


def _map_faults(height: Array, pixel_size: tuple[float, float], settings: ArealSettings) -> list[Fault]:
    extent = min(count * size for count, size in zip(height.shape, pixel_size, strict=True))
    found = _missing_fault(height)
    clipped = clipped_fault(height)
    if clipped is not None:
        found.append(clipped)
    if settings.cutoff is not None and extent < settings.cutoff * (1.0 - 1e-9):
        sentence = (
            f"The shorter side of the map is {extent * 1e3:.3g} mm; a cutoff of {settings.cutoff * 1e3:.3g} mm needs a "
            "side of its own length at least. Measure a larger map, or state a shorter cutoff."
        )
        found.append(Fault(sentence=sentence, code=ProfileTooShort.code))
    if settings.short_cutoff is not None:
        largest = settings.short_cutoff / POINTS_PER_SHORT_CUTOFF
        if max(pixel_size) > largest * (1.0 + 1e-9):
            sentence = (
                f"The pixels are {max(pixel_size) * 1e6:.3g} µm wide; a short cutoff of "
                f"{settings.short_cutoff * 1e6:.3g} µm needs {largest * 1e6:.3g} µm or less. Magnify more, or state a "
                "longer one."
            )
            found.append(Fault(sentence=sentence, code=SamplingTooCoarse.code))
    return found


def _missing_fault(height: Array) -> list[Fault]:
    share = float(np.mean(~np.isfinite(height))) if height.size else 1.0
    if share <= LARGEST_MISSING:
        return []
    sentence = (
        f"{100.0 * share:.3g} % of the pixels have no height that can be used; at most {100.0 * LARGEST_MISSING:g} % "
        "may be missing. Raise the light, clean the sample, or evaluate a part that is whole."
    )
    return [Fault(sentence=sentence, code=TooManyMissing.code)]


def _notices(height: Array, pixel_size: tuple[float, float], settings: ArealSettings) -> list[Notice]:
    notices = []
    missing = int(np.count_nonzero(~np.isfinite(height)))
    if missing:
        sentence = f"{missing} of {height.size} pixels have no height; they were left out, not filled."
        notices.append(("surface.points_missing", sentence))
    if settings.short_cutoff is None:
        sentence = (
            f"No short cutoff was applied, so the finest detail depends on the pixel ({max(pixel_size) * 1e6:.3g} µm) "
            "and on the instrument; compare only with maps taken alike."
        )
        notices.append(("surface.no_short_cutoff", sentence))
    if settings.cutoff is None:
        sentence = "No cutoff was applied: waviness is in the figures, and a larger map would give larger ones."
        notices.append(("surface.no_cutoff", sentence))
    return notices


def _slopes(height: Array, pixel_size: tuple[float, float]) -> tuple[float | None, float | None]:
    """Root mean square slope, and developed area over its projection less one."""
    along_y = _derivative(height, pixel_size[0])[:, 3:-3]
    along_x = _derivative(height.T, pixel_size[1]).T[3:-3, :]
    square = along_x**2 + along_y**2
    square = square[np.isfinite(square)]
    if not square.size:
        return None, None
    grown = square / (np.sqrt(1.0 + square) + 1.0)  # sqrt(1 + s) - 1 without loss of digits
    return math.sqrt(float(square.mean())), float(grown.mean())


def _derivative(height: Array, step: float) -> Array:
    """Slope along the first axis from six neighbours, as ISO 4287:1997, 3.1.9; three rows fewer at each end."""
    ahead = 45.0 * (height[4:-2] - height[2:-4]) - 9.0 * (height[5:-1] - height[1:-5]) + (height[6:] - height[:-6])
    return np.asarray(ahead / (60.0 * step))
