"""Pictures that must not become maps: each refusal says what is wrong, what was expected and what to change."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import (
    BadInput,
    Fault,
    FringesClosed,
    FringesRefused,
    FringesSaturated,
    FringesTooWeak,
    FringesUndersampled,
    NoSampleFound,
    OutOfValidRange,
    ShapeMismatch,
    TooFewFringes,
)
from lapwright.metrology.fringes._fit import Fit
from lapwright.metrology.fringes._grid import Grid, Single
from lapwright.metrology.fringes._search import Lobe, Region, block_mean
from lapwright.metrology.unwrap import TURN

Mask = NDArray[np.bool_]
LEAST_SIDE = 32  # pixels
LEAST_FRINGES = 5.5  # across a disc of the sample's area; 6 is what the user is told
NARROWEST = 2.5  # pixels per fringe
MOST_SATURATED = 0.45  # share of the sample at the camera's top value; crests alone take less
LEAST_AGREEMENT = 0.6  # median share of variation explained by the fringes
LEAST_COVERAGE = 0.6
ONE_WAY = 0.33  # least share of the fringes' power in the lobe of the carrier
LEAST_FRINGED = 0.6  # least share of a sample told by brightness that must carry fringes
SLOWEST = 0.15  # least local fringe frequency along the carrier, as a share of the carrier
NOISE_GAIN = 0.5  # pixels: error in fringes over pixel noise and fringe frequency, seen on made pictures
MOST_NOISE_ERROR = 0.02  # fringe
MOST_RESTLESS = 0.2  # rad, last change of the fit


def checked_scale(fringe_height: float, pixel_size: float | tuple[float, float]) -> tuple[float, float]:
    """Pixel size down and across, after both scales have been found to be lengths above zero."""
    sizes = pixel_size if isinstance(pixel_size, tuple) else (pixel_size, pixel_size)
    for name, value in (("fringe_height", fringe_height), ("pixel_size", sizes[0]), ("pixel_size", sizes[1])):
        if not (math.isfinite(value) and value > 0.0):
            raise OutOfValidRange(name, value, "a finite length above zero")
    return float(sizes[0]), float(sizes[1])


def sound_picture(image: NDArray[np.number], mask: Mask | None = None) -> tuple[Single, Mask]:
    """The picture in single precision, and where it holds a number; bad pixels take the median."""
    faults = []
    if image.ndim != 2:
        faults.append(f"The picture has {image.ndim} axes; 2 are expected. Turn colour into grey first.")
    elif min(image.shape) < LEAST_SIDE:
        faults.append(
            f"The picture is {image.shape} pixels; at least {LEAST_SIDE} a side are needed. Use a larger one."
        )
    if not (np.issubdtype(image.dtype, np.integer) or np.issubdtype(image.dtype, np.floating)):
        faults.append(f"The picture holds {image.dtype} values; real numbers are expected. Convert it first.")
    if faults:
        raise BadInput([Fault(sentence=sentence, field="image") for sentence in faults], subject="The picture")
    if mask is not None and mask.shape != image.shape:
        raise ShapeMismatch(image=image.shape, mask=mask.shape)
    if mask is not None:
        _need_pixels(int(np.count_nonzero(mask)))
    picture = np.ascontiguousarray(image, dtype=np.float32)
    finite = np.isfinite(picture)
    if not finite.any():
        raise NoSampleFound("The picture holds no number at all; intensities were expected. Load it again.")
    if not finite.all():
        picture = np.where(finite, picture, np.float32(np.median(picture[finite])))
    return picture, finite


def usable_carrier(lobe: Lobe | None, region: Region, picture: Single) -> Lobe:
    """The lobe, when its fringes are neither too few nor too narrow for one picture with tilt."""
    if lobe is None or lobe.share <= 0.0:
        if picture.min() < picture.max():
            top = block_mean(picture >= picture.max(), region.block)
            _refuse_burnt(max(float(np.mean(top[region.inside])), float(np.mean(top))))
        raise FringesTooWeak("The picture shows no fringes at all; tilt fringes were expected. Check light and focus.")
    if lobe.share < ONE_WAY and lobe.strength < 1.0:
        raise FringesTooWeak(
            f"The strongest pattern in the picture has {lobe.strength:.2f} times the amplitude of the noise; tilt "
            "fringes that stand out were expected. Check light and focus, shut out stray light, stop vibration.",
            strength=lobe.strength,
        )
    across = lobe.per_pixel * region.diameter
    if across < LEAST_FRINGES:
        raise TooFewFringes(
            f"About {across:.1f} fringes cross the sample; at least 6 are needed for one picture with tilt fringes. "
            "Add tilt until eight or more cross it, or use the method for closed fringes or phase steps.",
            fringes_across=across,
        )
    if lobe.per_pixel > 1.0 / NARROWEST:
        raise FringesUndersampled(
            f"A fringe is {1.0 / lobe.per_pixel:.1f} pixels wide; at least {NARROWEST} are needed. "
            "Take tilt out, or take the picture from nearer.",
            pixels_per_fringe=1.0 / lobe.per_pixel,
        )
    if lobe.share < ONE_WAY:
        raise FringesClosed(
            f"Only {100.0 * lobe.share:.0f} % of the fringe pattern runs one way; at least {100 * ONE_WAY:.0f} % must, "
            "or the fringes close or two sets of them cross. Add tilt, or use phase steps or the method for closed "
            "fringes.",
            share=lobe.share,
        )
    return lobe


def pixels_that_count(picture: Single, inside: Mask, fringe_width: float) -> Mask:
    """The inside without burnt-out patches; refuses a sample that is too small or mostly burnt out."""
    held = int(np.count_nonzero(inside))
    _need_pixels(held)
    top = picture >= picture.max()
    share = np.count_nonzero(top & inside) / held
    _refuse_burnt(share)
    return inside if share < 1e-3 else inside & ~_burnt_patches(top, fringe_width)


def refuse_poor_fit(grid: Grid, fit: Fit, lobe: Lobe) -> None:
    """Refuse what the fringes do not explain, and fringes that close or are too narrow somewhere."""
    sure = fit.weight > 0.5
    if not sure.any():
        raise NoSampleFound("No part of the sample is as wide as a fringe. Add tilt, or give the sample by hand.")
    agreement = float(np.median(fit.explained[sure]))
    if agreement < LEAST_AGREEMENT:
        raise FringesTooWeak(
            f"The fringes explain {100.0 * agreement:.0f} % of the variation in the picture; at least "
            f"{100 * LEAST_AGREEMENT:.0f} % are needed. Clean the optics, shut out stray light, stop vibration.",
            explained=agreement,
        )
    noise = NOISE_GAIN * pixel_noise(grid, fit) * lobe.per_pixel
    if noise > MOST_NOISE_ERROR:
        raise FringesTooWeak(
            f"Noise alone would leave about 1/{1.0 / noise:.0f} fringe of error in the map; at most "
            f"1/{1.0 / MOST_NOISE_ERROR:.0f} is allowed. Raise light and contrast, stop vibration, or take tilt out.",
            noise_error=noise,
        )
    if fit.last_change > MOST_RESTLESS:
        raise FringesRefused(
            f"The phase did not settle (last change {fit.last_change:.2f} rad, limit {MOST_RESTLESS}). "
            "Add tilt or take the picture again.",
            last_change=fit.last_change,
        )
    down, across = np.gradient(fit.fields.phase.astype(float), TURN * grid.spacing)
    down, across = (down + lobe.frequency[0])[sure], (across + lobe.frequency[1])[sure]
    along = (down * lobe.frequency[0] + across * lobe.frequency[1]) / lobe.per_pixel**2
    if float(np.percentile(along, 0.5)) < SLOWEST:
        raise FringesClosed(
            "Somewhere the surface is as steep as the tilt, so that the fringes close; with one picture the tilt must "
            "be steeper everywhere. Add tilt, or use phase steps or the method for closed fringes.",
        )
    narrow = 1.0 / float(np.percentile(np.hypot(down, across), 99.5))
    if narrow < 2.2:
        raise FringesUndersampled(
            f"The narrowest fringes are {narrow:.1f} pixels wide; at least 2.2 are needed. "
            "Take tilt out, or take the picture from nearer.",
            pixels_per_fringe=narrow,
        )


def pixel_noise(grid: Grid, fit: Fit) -> float:
    """Noise of a pixel as a share of the fringe amplitude."""
    residual = fit.left.residual[fit.used > 0]
    amplitude = float(np.median(fit.fields.amplitude[fit.weight > 0.5]))
    return 1.4826 * float(np.median(np.abs(residual))) * grid.bin_size / max(amplitude, 1e-30)


def refuse_half_fringed(counts: Mask, region: Region) -> None:
    """Refuse a sample, told by brightness, that carries fringes on its smaller part only."""
    told = np.count_nonzero(region.inside)
    fringed = np.count_nonzero(counts) / (told * region.block**2)
    if told < region.inside.size and fringed < LEAST_FRINGED:
        raise FringesRefused(
            f"Usable fringes are seen on {100.0 * fringed:.0f} % of the sample; at least {100 * LEAST_FRINGED:.0f} % "
            "are needed. Set the light and the reference so that they cover it, or give the part to measure by hand.",
            share=fringed,
        )


def refuse_thin_coverage(coverage: float) -> None:
    """Refuse a map of which only the smaller part can be trusted."""
    if coverage < LEAST_COVERAGE:
        raise FringesRefused(
            f"Only {100.0 * coverage:.0f} % of the sample can be trusted; at least {100 * LEAST_COVERAGE:.0f} % are "
            "needed. Look for dust, glare or a second set of fringes, and take the picture again.",
            coverage=coverage,
        )


# ----------------------------------------------------------------------------------------------------------------------


def _need_pixels(held: int) -> None:
    if held < LEAST_SIDE**2 / 2:
        raise NoSampleFound(
            f"The sample takes {held} pixels; at least {LEAST_SIDE**2 // 2} are needed. "
            "Give it by hand as a circle or polygon, or take the picture from nearer.",
            n_pixels=held,
        )


def _refuse_burnt(share: float) -> None:
    if share > MOST_SATURATED:
        raise FringesSaturated(
            f"{100.0 * share:.0f} % of the sample is at the camera's top value; at most {100 * MOST_SATURATED:.0f} % "
            "may be. Shorten the exposure.",
            share=share,
        )


def _burnt_patches(top: Mask, fringe_width: float) -> Mask:
    """Patches at the top value wider than the crest of a fringe, and a rim around them where the glare fades."""
    from scipy import ndimage

    block = max(1, min(int(fringe_width / 4.0), min(top.shape) // 128))
    burnt = np.asarray(block_mean(top, block)) > 0.9
    wide = max(1, math.ceil(0.7 * fringe_width / block))
    patches = ndimage.binary_opening(burnt, np.ones((wide, wide), bool))
    grown = ndimage.binary_dilation(patches, iterations=wide + 2)
    large = np.repeat(np.repeat(grown, block, axis=0), block, axis=1)
    missing = tuple((0, whole - part) for whole, part in zip(top.shape, large.shape, strict=True))
    return np.pad(large, missing, mode="edge")
