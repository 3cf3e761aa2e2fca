"""From fitted fields to the map: what is trusted, the plane taken out, islands, scale and sign."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.metrology.fringes._fit import Fit
from lapwright.metrology.fringes._grid import Grid, Single
from lapwright.metrology.fringes._refusal import pixel_noise, refuse_thin_coverage
from lapwright.metrology.fringes.result import Carrier, FringeResult, Island, Method
from lapwright.metrology.unwrap import TURN, islands

Mask = NDArray[np.bool_]
TRUSTED = 0.5  # least confidence of a pixel with a height
FULL_WEIGHT = 0.2  # share of a full window above which more light does not add confidence
STEEP = 3.6  # rad between neighbouring nodes: more cannot be told from a wrong turn
FIRM = 0.3  # share of a full window that a node needs to join others
WORTH_TELLING = 0.005  # share of the sample above which an island is reported


@dataclass(frozen=True, kw_only=True)
class Scale:
    """What turns phase into height: height per fringe [m], pixel size down and across [m], sign and if it is known."""

    fringe_height: float
    pixel: tuple[float, float]
    sense: int
    sign_known: bool


def assembled(
    grid: Grid,
    fit: Fit,
    mask: Mask,
    counts: Mask,
    *,
    scale: Scale,
    method: Method,
    frequency: tuple[float, float] | None,
    warnings: tuple[str, ...] = (),
) -> FringeResult:
    """The result out of a fit on a grid.

    `counts` are the pixels of the mask that may have a height; `frequency` is the carrier's [cycles per pixel].
    """
    sure, lost = _main_island(_node_confidence(fit), grid, fit.weight, fit.counts)
    confidence = grid.bins_on_pixels(np.clip(grid.on_bins(sure), 0.0, 1.0))
    trusted = counts & (confidence > TRUSTED)
    trusted &= ~grid.bins_on_pixels((fit.used == 0) & (fit.counts > 0))
    n_pixels, n_mask = int(np.count_nonzero(trusted)), max(1, int(np.count_nonzero(mask)))
    refuse_thin_coverage(n_pixels / n_mask)
    phase = grid.on_pixels(fit.fields.phase)
    slope = take_out_plane(phase, trusted)
    carrier, tilt, azimuth = tilt_of(slope, frequency, trusted, scale)
    told = tuple(island for island in lost if island.n_pixels > WORTH_TELLING * n_mask)
    contrast, noise = _light(grid, fit)
    return FringeResult(
        method=method,
        height=scaled_height(phase, trusted, scale),
        mask=mask,
        confidence=confidence,
        pixel_size=scale.pixel,
        fringe_height=scale.fringe_height,
        n_pixels=n_pixels,
        coverage=n_pixels / n_mask,
        islands=told,
        carrier=carrier,
        tilt=tilt,
        tilt_azimuth=azimuth,
        contrast=contrast,
        noise=noise,
        sign_ambiguous=not scale.sign_known,
        warnings=warnings + told_islands(told),
    )


def take_out_plane(phase: NDArray[np.floating], inside: Mask) -> tuple[float, float]:
    """Subtract the least-squares plane over the inside, in place; its slope down and across [rad per pixel]."""
    ny, nx = phase.shape
    y, x = np.linspace(-1.0, 1.0, ny), np.linspace(-1.0, 1.0, nx)
    powers_x = np.stack([np.ones(nx), x, x * x], axis=1).astype(phase.dtype)
    powers_y = np.stack([np.ones(ny), y, y * y])
    weight = inside.astype(phase.dtype)
    m = powers_y @ (weight @ powers_x).astype(float)
    p = powers_y[:2] @ ((weight * phase) @ powers_x[:, :2]).astype(float)
    normal = np.array([[m[0, 0], m[0, 1], m[1, 0]], [m[0, 1], m[0, 2], m[1, 1]], [m[1, 0], m[1, 1], m[2, 0]]])
    level, across, down = np.linalg.solve(normal, np.array([p[0, 0], p[0, 1], p[1, 0]]))
    phase -= (level + across * x).astype(phase.dtype)
    phase -= (down * y).astype(phase.dtype)[:, None]
    return float(down * 2.0 / (ny - 1)), float(across * 2.0 / (nx - 1))


def scaled_height(phase: NDArray[np.floating], trusted: Mask, scale: Scale) -> NDArray[np.float64]:
    """Height of each trusted pixel; the gap is smaller, and the phase with it, where the sample is higher."""
    height = np.full(phase.shape, np.nan)
    np.multiply(phase, -scale.sense * scale.fringe_height / TURN, out=height, where=trusted, dtype=np.float64)
    return height


def tilt_of(
    slope: tuple[float, float], frequency: tuple[float, float] | None, trusted: Mask, scale: Scale
) -> tuple[Carrier | None, float, float | None]:
    """Carrier, height of the plane over the sample's extent, and where the gap opens to."""
    base = frequency or (0.0, 0.0)
    up = -(base[0] + slope[0] / TURN) / scale.pixel[0] * scale.sense
    right = (base[1] + slope[1] / TURN) / scale.pixel[1] * scale.sense
    azimuth = math.atan2(up, right)
    rows, cols = np.nonzero(trusted[::8, ::8])
    along = 8.0 * (cols * scale.pixel[1] * math.cos(azimuth) - rows * scale.pixel[0] * math.sin(azimuth))
    across = math.hypot(up, right) * float(np.ptp(along)) if along.size else 0.0
    carrier = Carrier(fringes_across=across, azimuth=azimuth % math.pi) if frequency is not None else None
    return carrier, across * scale.fringe_height, azimuth if scale.sign_known else None


def told_islands(lost: tuple[Island, ...]) -> tuple[str, ...]:
    """What to say of parts that were left out."""
    if not lost:
        return ()
    size = sum(island.n_pixels for island in lost)
    sentence = (
        f"{len(lost)} part(s) of the sample, about {size} pixels, are not joined to the rest by fringes; their height "
        "against the rest is unknown by whole fringes, so they are left out."
    )
    return (sentence,)


# ----------------------------------------------------------------------------------------------------------------------


def _node_confidence(fit: Fit) -> Single:
    sure: Single = fit.explained * np.minimum(np.float32(1.0), fit.weight / np.float32(FULL_WEIGHT))
    phase = fit.fields.phase
    down = np.abs(np.diff(phase, axis=0)) > STEEP
    across = np.abs(np.diff(phase, axis=1)) > STEEP
    torn = np.zeros(phase.shape, bool)
    torn[1:] |= down
    torn[:-1] |= down
    torn[:, 1:] |= across
    torn[:, :-1] |= across
    return np.where(torn, np.float32(0.0), sure)


def _main_island(sure: Single, grid: Grid, weight: Single, counts: Single) -> tuple[Single, list[Island]]:
    """Confidence of the largest connected island of nodes, and the others as islands in pixels."""
    from scipy import ndimage

    label = islands((sure > TRUSTED) & (weight > FIRM))
    pixels = grid.pooled(counts) * np.float32(grid.bin_size**2)
    rows, cols = grid.node_positions()
    lost = []
    for number in range(2, int(label.max()) + 1):
        held = np.where(label == number, pixels, np.float32(0.0))
        size = float(held.sum())
        if size > 0.0:
            centre = float(held.sum(axis=1) @ rows) / size, float(held.sum(axis=0) @ cols) / size
            lost.append(Island(n_pixels=round(size), centre=centre))
    reached = ndimage.binary_dilation(label == 1, iterations=2) & (label <= 1)
    return np.where(reached, sure, np.float32(0.0)), lost


def _light(grid: Grid, fit: Fit) -> tuple[float, float]:
    """Median contrast, and the noise of a pixel as a share of the fringe amplitude."""
    sure = fit.weight > 0.5
    amplitude = float(np.median(fit.fields.amplitude[sure]))
    level = float(np.median(fit.fields.background[sure]))
    return (amplitude / level if level > 0.0 else math.nan), pixel_noise(grid, fit)
