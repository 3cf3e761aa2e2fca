"""Where the sample roughly is, and which tilt its fringes have: the search before the fit.

The picture, less a smooth background and tapered to the sample, is Fourier transformed once; the strongest lobe off
the origin is the carrier (Takeda, Ina, Kobayashi 1982), its centre of power the mean fringe frequency. The lobe is
carried back to the nodes by two small matrix products, which is the inverse transform at just those points.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lapwright.metrology.fringes._grid import Single

Mask = NDArray[np.bool_]
LEAST_FRINGES = 3.5  # nearer to the origin than this the background is taken to rule
OUT_OF_NOISE = 0.03  # least power of all fringes as a share of that of the noise
LOBE = 0.6  # radius of the lobe as a share of its distance from the origin


@dataclass(frozen=True)
class Region:
    """A rough region in blocks of `block` pixels, their mean intensity, the diameter of a disc of its area [pixel]."""

    inside: Mask
    mean: Single
    block: int
    diameter: float


@dataclass(frozen=True)
class Lobe:
    """Fringe frequency (down, across) [cycles per pixel], the half spectrum it was found in, the padded shape.

    `share` is the lobe's part of the power above the noise, `strength` the amplitude over the noise of a pixel.
    """

    frequency: tuple[float, float]
    spectrum: NDArray[np.complex64]
    shape: tuple[int, int]
    share: float
    strength: float

    @property
    def per_pixel(self) -> float:
        """Length of the frequency vector [cycles per pixel]."""
        return math.hypot(*self.frequency)


def rough_region(image: Single, valid: Mask | None = None) -> Region:
    """The sample by brightness: of a bright and a dark class the one with the stronger fringes.

    When brightness does not part the picture in two, the region is the whole picture.
    """
    block = max(1, min(image.shape) // 128)
    mean = block_mean(image, block)
    inside = _parted(mean) if valid is None else block_mean(valid, block) > 0.5
    return Region(inside, mean, block, 2.0 * block * math.sqrt(inside.sum() / math.pi))


def block_mean(image: NDArray[np.floating] | Mask, block: int) -> Single:
    """Mean over blocks; what sticks out beyond the last full block is left off."""
    ny, nx = (length // block for length in image.shape)
    rows = np.add.reduce(image[: ny * block, : nx * block].reshape(ny, block, nx * block), axis=1, dtype=np.float32)
    return np.add.reduce(rows.reshape(ny, nx, block), axis=2) / np.float32(block * block)  # type: ignore[no-any-return]


def carrier_lobe(image: Single, region: Region) -> Lobe | None:
    """The strongest lobe off the origin, or None when nothing stands out."""
    from scipy import fft

    flat = _flattened(image, region)
    shape = (fft.next_fast_len(flat.shape[0], real=True), fft.next_fast_len(flat.shape[1], real=True))
    spectrum = fft.rfft2(flat, s=shape)
    power = spectrum.real**2 + spectrum.imag**2
    fy, fx = fft.fftfreq(shape[0]).astype(np.float32), fft.rfftfreq(shape[1]).astype(np.float32)
    low = LEAST_FRINGES / region.diameter
    near_y, near_x = np.flatnonzero(np.abs(fy) <= low), np.flatnonzero(fx <= low)
    far = fy[near_y, None] ** 2 + fx[None, near_x] ** 2 > low**2
    power[np.ix_(near_y, near_x)] *= far
    row, col = np.unravel_index(int(np.argmax(power)), power.shape)
    if power[row, col] <= 0.0:
        return None
    frequency, share, strength = _centred(power, (fy, fx), (float(fy[row]), float(fx[col])), low)
    return Lobe(frequency, spectrum, shape, share, strength)


def lobe_at(lobe: Lobe, rows: NDArray[np.floating], cols: NDArray[np.floating]) -> NDArray[np.complex64]:
    """Fringe signal b/2 exp(i phase) without its carrier, at the crossings of some rows and columns [pixel]."""
    reach = 0.8 * lobe.per_pixel
    down = _indices(lobe.frequency[0], reach, lobe.shape[0])
    across = _indices(lobe.frequency[1], reach, lobe.shape[1])
    box = _gathered(lobe.spectrum, down, across, lobe.shape)
    dy = down / lobe.shape[0] - lobe.frequency[0]
    dx = across / lobe.shape[1] - lobe.frequency[1]
    apart = (dy[:, None] ** 2 + dx[None, :] ** 2) / lobe.per_pixel**2
    box = box * np.exp(-0.5 * apart / 0.35**2).astype(np.float32)
    waves_down = np.exp(2j * np.pi * np.outer(rows, dy)).astype(np.complex64)
    waves_across = np.exp(2j * np.pi * np.outer(dx, cols)).astype(np.complex64)
    signal = waves_down @ box @ waves_across / (lobe.shape[0] * lobe.shape[1])
    return np.asarray(signal, dtype=np.complex64)


# ----------------------------------------------------------------------------------------------------------------------


def _parted(mean: Single) -> Mask:
    """Blocks of the class, bright or dark, that holds the fringes; all blocks when there are no two classes."""
    from scipy import ndimage

    size = max(3, min(mean.shape) // 9)
    upper = _filtered(ndimage.grey_closing, mean, size, float(mean.min()))
    lower = _filtered(ndimage.grey_opening, mean, size, float(mean.max()))
    bright = upper > _two_class_threshold(upper)
    dark = lower < _two_class_threshold(lower)
    found = [
        (_liveliness(mean, inside), inside)
        for envelope, inside in ((upper, bright), (lower, dark))
        if _is_parted(envelope, inside)
    ]
    return max(found, key=lambda pair: pair[0])[1] if found else np.ones(mean.shape, bool)


def _filtered(operation: Callable[..., Any], mean: Single, size: int, rim: float) -> Single:
    """A closing or opening to which the picture's rim is no mirror."""
    padded = np.pad(mean, size, constant_values=rim)
    return np.asarray(operation(padded, size=size))[size:-size, size:-size]


def _liveliness(mean: Single, inside: Mask) -> float:
    """Median step from block to block within a class, its rim left out."""
    from scipy import ndimage

    core = ndimage.binary_erosion(inside, iterations=2)
    step = np.abs(np.diff(mean, axis=0, append=mean[-1:])) + np.abs(np.diff(mean, axis=1, append=mean[:, -1:]))
    return float(np.median(step[core])) if core.any() else -1.0


def _two_class_threshold(values: Single) -> float:
    """Threshold with the largest variance between the classes (Otsu 1979), from a histogram of 64 steps."""
    count, edges = np.histogram(values, bins=64)
    middle = 0.5 * (edges[1:] + edges[:-1])
    below = np.cumsum(count)
    above = below[-1] - below
    first = np.cumsum(count * middle)
    gap = first / np.maximum(below, 1) - (first[-1] - first) / np.maximum(above, 1)
    return float(edges[1 + int(np.argmax(below * above * gap**2))])


def _is_parted(envelope: Single, inside: Mask) -> bool:
    """True when the two classes lie further apart than they are wide."""
    if not 0.02 < inside.mean() < 0.99:
        return False
    one, other = envelope[inside], envelope[~inside]
    return bool(abs(one.mean() - other.mean()) > 3.0 * (np.std(other) + 0.3 * np.std(one)))


def _flattened(image: Single, region: Region) -> Single:
    """The picture less a quadratic background, tapered to zero at the region's edge, zero outside."""
    from scipy import ndimage

    block, mean = region.block, region.mean
    ny, nx = mean.shape
    y, x = np.mgrid[-1.0 : 1.0 : ny * 1j, -1.0 : 1.0 : nx * 1j]
    columns = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)
    near = ndimage.uniform_filter(np.pad(region.inside, 3).astype(np.float32), 7)[3:-3, 3:-3]
    taper = np.clip((near - 0.6) / 0.4, 0.0, 1.0) * region.inside
    inner = columns[taper > 0.0]
    values, *_ = np.linalg.lstsq(inner.T @ inner, inner.T @ mean[taper > 0.0].astype(float), rcond=None)
    background = (columns @ values).astype(np.float32)
    tiles = image[: ny * block, : nx * block].reshape(ny, block, nx, block)
    flat = (tiles - background[:, None, :, None]) * taper[:, None, :, None]
    return np.asarray(flat.reshape(ny * block, nx * block))


def _centred(
    power: Single, axes: tuple[Single, Single], start: tuple[float, float], low: float
) -> tuple[tuple[float, float], float, float]:
    """Centre of power of the lobe around `start`, found by moving to the mean; its share, and amplitude over noise."""
    fy, fx = axes
    ky, kx = start
    inside = 0.0
    for _ in range(6):
        reach = max(LOBE * math.hypot(ky, kx), 2.0 * low / LEAST_FRINGES)
        rows, cols = np.flatnonzero(np.abs(fy - ky) < reach), np.flatnonzero(np.abs(fx - kx) < reach)
        box = power[np.ix_(rows, cols)] * ((fy[rows, None] - ky) ** 2 + (fx[None, cols] - kx) ** 2 < reach**2)
        inside = float(box.sum())
        new = float((box.sum(axis=1) @ fy[rows]) / inside), float((box.sum(axis=0) @ fx[cols]) / inside)
        moved = math.hypot(new[0] - ky, new[1] - kx)
        ky, kx = new
        if moved < 0.02 * reach:
            break
    floor = float(np.median(power[::4, ::4])) / math.log(2.0)
    above = float(power.sum()) - floor * power.size
    pixels = fy.size * 2.0 * (fx.size - 1)
    lobe = max(inside - floor * math.pi * reach**2 * pixels, 0.0)
    share = lobe / above if above > OUT_OF_NOISE * floor * power.size else 0.0
    return (ky, kx), share, 2.0 * math.sqrt(lobe / pixels / max(floor, 1e-30))


def _indices(frequency: float, reach: float, length: int) -> NDArray[np.int64]:
    return np.arange(math.ceil((frequency - reach) * length), math.floor((frequency + reach) * length) + 1)


def _gathered(
    spectrum: NDArray[np.complex64], down: NDArray[np.int64], across: NDArray[np.int64], shape: tuple[int, int]
) -> NDArray[np.complex64]:
    """A box of the full spectrum out of its stored half: F(-k) is the conjugate of F(k)."""
    right = across[across >= 0]
    left = across[across < 0]
    stored = spectrum.shape[1]
    right = right[right < stored]
    direct = spectrum[np.ix_(down % shape[0], right)]
    mirrored = np.conj(spectrum[np.ix_(-down % shape[0], np.minimum(-left, stored - 1))])
    missing = across.size - left.size - right.size
    return np.pad(np.concatenate([mirrored, direct], axis=1), ((0, 0), (0, missing)))
