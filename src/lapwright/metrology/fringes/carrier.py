"""One picture with tilt fringes to a height map.

Fourier search for the carrier (Takeda, Ina, Kobayashi 1982), unwrapping on a coarse grid, then the local fit of
`fit` that takes out what the Fourier window leaves at edges and in steep places. Works where the tilt is steeper than
the surface everywhere; says so where it is not.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lapwright.metrology.fringes import _refusal as refusal
from lapwright.metrology.fringes._assemble import Scale, assembled
from lapwright.metrology.fringes._fit import Fields, Fit, Light, Window, fitted
from lapwright.metrology.fringes._grid import Grid, Single
from lapwright.metrology.fringes._outline import sample_outline
from lapwright.metrology.fringes._search import Lobe, Region, carrier_lobe, lobe_at, rough_region
from lapwright.metrology.fringes._sense import tilt_sense
from lapwright.metrology.fringes.result import FringeResult
from lapwright.metrology.unwrap import TURN, unwrapped_phase

NODES_PER_FRINGE = 1.6
DEGREES = (5, 6)  # of the polynomial that carries the first phase beyond the edge: few fringes, many
MANY = 50.0  # square fringes
LEAST_CORE = 60  # nodes well inside, below which those at the edge are used as well
EDGE_BY_FRINGES = "The sample's edge was drawn by its fringes alone, as the surrounding is not plain."
WINDOW = 0.5  # sigma of the local fit, in fringes


def height_from_carrier(
    image: NDArray[np.number],
    *,
    fringe_height: float,
    pixel_size: float | tuple[float, float],
    mask: NDArray[np.bool_] | None = None,
    tilt_opens_toward: float | None = None,
    pressed_fringes_toward: float | None = None,
) -> FringeResult:
    """Height map of a sample from one picture with tilt fringes.

    Parameters
    ----------
    image : array, shape (ny, nx) [1]
        Intensities, in any scale; pixels that are not finite are left out.
    fringe_height : float [m]
        Height per fringe, see `fringe_height`.
    pixel_size : float or tuple of float [m]
        Size of a pixel on the sample: one number, or height and width (a grazing view shortens one of them).
    mask : bool array, shape (ny, nx), or None
        Where the sample is; None: found by fringes and brightness.
    tilt_opens_toward : float or None [rad]
        Direction, counter-clockwise from the picture's x axis with y up, in which the gap between reference and sample
        opens. None: not known, and the map may be upside down.
    pressed_fringes_toward : float or None [rad]
        Direction in which the fringes move when the sample is pressed towards the reference; the gap opens that way.

    Returns
    -------
    FringeResult
        Map, confidence and what is not known. Height has the picture's rows: row 0 is the top.

    Raises
    ------
    BadInput, ShapeMismatch, OutOfValidRange
        A picture, mask, scale or direction that does not fit.
    NoSampleFound, TooFewFringes, FringesUndersampled, FringesTooWeak, FringesSaturated, FringesClosed, FringesRefused
        Pictures that must not become a map.

    Notes
    -----
    Six to two hundred fringes across the sample, at least 2.5 pixels each, and a tilt steeper than the surface
    everywhere. The least-squares plane over the trusted pixels is taken out; it is that of the set-up. What is finer
    than about one fringe is smoothed away. The second harmonic of the fringes (camera curve) is fitted and taken out.

    References
    ----------
    .. [1] takeda1982: M. Takeda, H. Ina, S. Kobayashi, "Fourier-transform method of fringe-pattern analysis for
       computer-based topography and interferometry," J. Opt. Soc. Am. 72 (1982) 156-160, doi:10.1364/JOSA.72.000156.
    .. [2] keys1981: R. G. Keys, "Cubic convolution interpolation for digital image processing," IEEE Trans. ASSP 29
       (1981) 1153-1160, doi:10.1109/TASSP.1981.1163711, equation 15.

    Examples
    --------
    >>> y, x = np.mgrid[1:-1:128j, -1:1:128j]
    >>> image = 100 + 50 * np.cos(2 * np.pi * (10 * x - (x * x + y * y)))
    >>> result = height_from_carrier(image, fringe_height=1e-6, pixel_size=1e-4, tilt_opens_toward=0.0)
    >>> round(float(result.height[64, 64] - result.height[64, 2]) * 1e6, 2), result.sign_ambiguous
    (-0.94, False)
    """
    pixel = refusal.checked_scale(fringe_height, pixel_size)
    picture, finite = refusal.sound_picture(image, mask)
    region = rough_region(picture, mask)
    lobe = refusal.usable_carrier(carrier_lobe(picture, region), region, picture)
    sense, known = tilt_sense(lobe.frequency, pixel, tilt_opens_toward, pressed_fringes_toward)
    warnings: tuple[str, ...] = ()
    by_hand = mask is not None
    if mask is None:
        mask, drawn = _automatic_mask(picture, lobe, region)
        warnings = () if drawn else (EDGE_BY_FRINGES,)
    counts = refusal.pixels_that_count(picture, mask & finite, 1.0 / lobe.per_pixel)
    if not by_hand:
        refusal.refuse_half_fringed(counts, region)
    grid = _grid(picture.shape, lobe)
    fit = _fitted(grid, picture, counts, lobe)
    refusal.refuse_poor_fit(grid, fit, lobe)
    scale = Scale(fringe_height=fringe_height, pixel=pixel, sense=sense, sign_known=known)
    return assembled(
        grid, fit, mask, counts, scale=scale, method="carrier", frequency=lobe.frequency, warnings=warnings
    )


# ----------------------------------------------------------------------------------------------------------------------


def _automatic_mask(picture: Single, lobe: Lobe, region: Region) -> tuple[NDArray[np.bool_], bool]:
    block = region.block
    ny, nx = region.inside.shape
    rows = (np.arange(ny) + 0.5) * block - 0.5
    cols = (np.arange(nx) + 0.5) * block - 0.5
    amplitude = np.abs(lobe_at(lobe, rows, cols)).astype(np.float32)
    return sample_outline(picture, amplitude, block=block, closing=max(1.5, 0.5 / (lobe.per_pixel * block)))


def _grid(shape: tuple[int, int], lobe: Lobe) -> Grid:
    period = 1.0 / lobe.per_pixel
    bin_size = max(1, min(int(period / (2.6 + 10.0 * period / min(shape))), min(shape) // 250))
    step = max(1, round(min(period / NODES_PER_FRINGE, min(shape) / 64) / bin_size))
    return Grid(shape, bin_size, step)


def _fitted(grid: Grid, picture: Single, counts: NDArray[np.bool_], lobe: Lobe) -> Fit:
    area = np.float32(grid.bin_size**2)
    full = (grid.binned(counts) == area).astype(np.float32)
    rows, cols = grid.bin_positions()
    carrier = TURN * (lobe.frequency[0] * rows[:, None] + lobe.frequency[1] * cols)
    light = Light(grid.binned(picture) / area, full, carrier.astype(np.float32))
    window = Window(grid.nodes, WINDOW / lobe.per_pixel / grid.spacing)
    start = _first_fields(grid, light, lobe, window)
    return fitted(grid, light, start, window)


def _first_fields(grid: Grid, light: Light, lobe: Lobe, window: Window) -> Fields:
    """Phase from the lobe, unwrapped where the fringes are, continued beyond; plain background."""
    signal = lobe_at(lobe, *grid.node_positions())
    strength = np.abs(signal)
    share = window.mean(grid.pooled(light.counts)) / grid.step**2
    solid = (share > 0.3) & (strength > 0.25 * np.median(strength[share > 0.3]))
    sheet, island = unwrapped_phase(np.angle(signal), mask=solid, quality=strength)
    core = solid & (share > 0.8)
    known = np.where(core if np.count_nonzero(core & (island == 1)) > LEAST_CORE else solid, island, 0)
    degree = DEGREES[bool(np.count_nonzero(known == 1) * (grid.spacing * lobe.per_pixel) ** 2 > MANY)]
    phase = _continued(sheet, known, degree)
    level = np.float32(np.median(light.intensity[light.counts > 0]))
    return Fields(phase.astype(np.float32), np.full(grid.nodes, level), np.zeros(grid.nodes, np.float32))


def _continued(sheet: NDArray[np.float64], island: NDArray[np.integer], degree: int) -> NDArray[np.float64]:
    """A sheet continued from where it is known: by a polynomial, and what that leaves as at the nearest node.

    Islands other than the first are moved by whole turns towards the polynomial; their true number stays unknown.
    """
    from scipy import ndimage

    ny, nx = sheet.shape
    y, x = np.linspace(-1.0, 1.0, ny), np.linspace(-1.0, 1.0, nx)
    powers = [(i, j) for i in range(degree + 1) for j in range(degree + 1 - i)]
    columns = np.stack([np.outer(y**i, x**j) for i, j in powers], axis=-1)
    inner = columns[island == 1]
    weights, *_ = np.linalg.lstsq(inner.T @ inner, inner.T @ sheet[island == 1], rcond=None)
    trend = columns @ weights
    rest = sheet - trend
    for number in range(2, int(island.max()) + 1):
        if (island == number).any():
            rest[island == number] -= TURN * np.round(np.median(rest[island == number]) / TURN)
    nearest = ndimage.distance_transform_edt(island == 0, return_distances=False, return_indices=True)
    return np.asarray(trend + rest[tuple(nearest)])
