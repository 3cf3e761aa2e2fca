"""Roughness parameters of a filtered profile, as ISO 21920-2:2021 defines them.

Heights are measured from the mean line, positive out of the material. Ra, Rq, Rsk, Rku, Rdq, Rt and the material ratio
curve are taken over the whole evaluation length; Rp, Rv and Rz are means over its sections. The same numbers of a
waviness profile are Wa, Wq, Wz … Left out: motif parameters.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.metrology.roughness_curves import CoreHeights, core_heights

Array = NDArray[np.float64]

_HEIGHT_DISCRIMINATION = 0.1  # of Rz: smallest peak and valley that count as an element, ISO 4287:1997, 3.2.7


@dataclass(frozen=True, slots=True, kw_only=True)
class RoughnessParameters:
    """Parameters of one profile. Heights and rsm in m; rsk, rku, rdq without unit.

    `rsm` is None when the profile holds no two whole elements, `rdq` where no height has three measured ones on
    either side; `core`, `rsk` and `rku` are None for a profile without height.
    """

    ra: float
    rq: float
    rz: float
    rt: float
    rp: float
    rv: float
    rsk: float | None
    rku: float | None
    rdq: float | None
    rsm: float | None
    core: CoreHeights | None


def profile_parameters(height: Array, *, spacing: float, sections: int = 5) -> RoughnessParameters:
    r"""Roughness parameters of a profile whose mean line has been taken out.

    Parameters
    ----------
    height : float array, shape (n,) [m]
        Heights above the mean line over the evaluation length; NaN = not measured.
    spacing : float [m]
        Distance between neighbours.
    sections : int
        Number of equal sections for Rp, Rv and Rz.

    Returns
    -------
    RoughnessParameters

    Raises
    ------
    OutOfValidRange
        Fewer than 8 measured heights a section, or a section without any.

    Notes
    -----
    .. math:: Ra = \overline{|z|},\; Rq = \sqrt{\overline{z^2}},\; Rsk = \overline{z^3}/Rq^3

    and Rku the same with fourth powers.

    References
    ----------
    .. [1] ISO 21920-2:2021, profile: terms, definitions and surface texture parameters (clauses from memory).

    Examples
    --------
    >>> wave = 1e-6 * np.sin(2 * np.pi * np.arange(5000) / 100)
    >>> found = profile_parameters(wave, spacing=1e-6)
    >>> round(found.ra * 1e6, 3), round(found.rsm * 1e6, 2)
    (0.636, 100.0)
    """
    known = np.isfinite(height)
    fewest = min(int(part.sum()) for part in np.array_split(known, sections))
    if fewest < 8:
        raise OutOfValidRange("number of heights in a section", fewest, "at least 8", "Measure a longer profile.")
    z = height[known]
    rp, rv = _section_means(height, sections)
    square = z * z
    rq = math.sqrt(float(square.mean()))
    cube = float((square * z).mean())
    fourth = float((square * square).mean())
    return RoughnessParameters(
        ra=float(np.abs(z).mean()),
        rq=rq,
        rz=rp + rv,
        rt=float(z.max() - z.min()),
        rp=rp,
        rv=rv,
        rsk=cube / rq**3 if rq > 0.0 else None,
        rku=fourth / rq**4 if rq > 0.0 else None,
        rdq=root_mean_square_slope(height, spacing=spacing),
        rsm=mean_element_spacing(height, spacing=spacing, discrimination=_HEIGHT_DISCRIMINATION * (rp + rv)),
        core=core_heights(z) if rq > 0.0 else None,
    )


def root_mean_square_slope(height: Array, *, spacing: float) -> float | None:
    """Root mean square slope (Rdq), with the slope at each place from the six heights around it.

    Parameters
    ----------
    height : float array, shape (n,) [m]
        Heights; NaN = not measured, and slopes next to it are left out.
    spacing : float [m]
        Distance between neighbours.

    Returns
    -------
    float or None [1]
        None where no place has three measured heights on either side.

    References
    ----------
    .. [1] ISO 4287:1997, 3.1.9: (z₊₃ − 9 z₊₂ + 45 z₊₁ − 45 z₋₁ + 9 z₋₂ − z₋₃) / 60Δx.

    Examples
    --------
    >>> round(root_mean_square_slope(np.arange(20.0), spacing=2.0), 9)
    0.5
    """
    ahead = 45.0 * (height[4:-2] - height[2:-4]) - 9.0 * (height[5:-1] - height[1:-5]) + (height[6:] - height[:-6])
    slope = ahead[np.isfinite(ahead)] / (60.0 * spacing)
    return math.sqrt(float(slope @ slope) / slope.size) if slope.size else None


def mean_element_spacing(height: Array, *, spacing: float, discrimination: float) -> float | None:
    """Mean spacing of profile elements (Rsm): a peak and the valley next to it, between upward crossings.

    Parameters
    ----------
    height : float array, shape (n,) [m]
        Heights above the mean line; NaN = not measured and bridged.
    spacing : float [m]
        Distance between neighbours.
    discrimination : float [m]
        Peaks and valleys that do not reach this far from the mean line are no elements.

    Returns
    -------
    float or None [m]
        None when there are fewer than two upward crossings.

    Notes
    -----
    The state changes to peak above +discrimination and to valley below −discrimination; the crossing is the last zero
    before the change, interpolated.

    References
    ----------
    .. [1] ISO 4287:1997, 3.2.7 and 4.3.1, height discrimination 10 % of Rz (from memory); ISO 21920-2:2021 keeps the
       idea.

    Examples
    --------
    >>> wave = np.sin(2 * np.pi * np.arange(1000) / 50)
    >>> round(mean_element_spacing(wave, spacing=1.0, discrimination=0.2), 6)
    50.0
    """
    places = np.flatnonzero(np.isfinite(height))
    z = height[places]
    marked = np.where(z > discrimination, 1, np.where(z < -discrimination, -1, 0))
    telling = np.flatnonzero(marked)
    turns = telling[1:][(marked[telling[1:]] == 1) & (marked[telling[:-1]] == -1)]
    if turns.size < 2:
        return None
    below = np.maximum.accumulate(np.where(z <= 0.0, np.arange(z.size), 0))[turns]
    share = -z[below] / (z[below + 1] - z[below])
    crossings = places[below] + share * (places[below + 1] - places[below])
    return float((crossings[-1] - crossings[0]) / (crossings.size - 1) * spacing)


# ----------------------------------------------------------------------------------------------------------------------


def _section_means(height: Array, sections: int) -> tuple[float, float]:
    """Mean over the sections of the highest peak and of the deepest valley."""
    parts = np.array_split(height, sections)
    return float(np.mean([np.nanmax(part) for part in parts])), float(-np.mean([np.nanmin(part) for part in parts]))
