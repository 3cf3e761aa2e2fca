"""What the analysis of fringes ends with: the map, what of it can be trusted, and what it cannot say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Method = Literal["carrier", "steps", "closed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Island:
    """A patch of the sample that no trusted pixel joins to the largest one: its pixels and middle (row, column)."""

    n_pixels: int
    centre: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Carrier:
    """The fringes of the set-up's tilt: how many across the sample, and which way the phase runs [rad].

    `azimuth` is counter-clockwise from the picture's x axis (y up), square to the fringes.
    """

    fringes_across: float
    azimuth: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FringeResult:
    """A height map from fringes.

    Attributes
    ----------
    method : str
        "carrier", "steps" or "closed".
    height : float array, shape (ny, nx) [m]
        Height out of the face, least-squares plane taken out; NaN where it cannot be trusted. Row 0 is the top of the
        picture. When `sign_ambiguous` is true the map may be upside down: domed and dished cannot be told apart.
    mask : bool array, shape (ny, nx)
        Where the sample was taken to be.
    confidence : float array, shape (ny, nx) [1]
        0 to 1: share of the local variation of intensity that the fringes explain, less where little light counts.
    pixel_size : tuple of float [m]
        Height and width of a pixel on the sample.
    fringe_height : float [m]
        Height per fringe.
    n_pixels : int
        Pixels with a height.
    coverage : float [1]
        `n_pixels` over the pixels of `mask`.
    islands : tuple of Island
        Patches left out because nothing joins them to the rest.
    carrier : Carrier or None
        Fringes of the tilt, where the method needs them.
    tilt : float [m]
        Height of the plane taken out over the sample's extent along its steepest line: the set-up's, not a wedge.
    tilt_azimuth : float or None [rad]
        Where the gap opens to; None when there is no tilt or its sense is not known.
    contrast : float [1]
        Median of fringe amplitude over mean intensity.
    noise : float [1]
        Noise of a pixel as a share of the fringe amplitude.
    sign_ambiguous : bool
        True until something outside the picture has told which way is up.
    steps : float array or None [rad]
        Phase steps used, for stepped pictures.
    warnings : tuple of str
        What a reader of the map must know.
    """

    method: Method
    height: NDArray[np.float64]
    mask: NDArray[np.bool_]
    confidence: NDArray[np.float32]
    pixel_size: tuple[float, float]
    fringe_height: float
    n_pixels: int
    coverage: float
    islands: tuple[Island, ...] = ()
    carrier: Carrier | None = None
    tilt: float = 0.0
    tilt_azimuth: float | None = None
    contrast: float
    noise: float
    sign_ambiguous: bool = True
    steps: NDArray[np.float64] | None = None
    warnings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for array in (self.height, self.mask, self.confidence, self.steps):
            if array is not None:
                array.setflags(write=False)
