"""Several phase-stepped pictures to a height map, pixel by pixel."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, Fault, FringesTooWeak, ShapeMismatch
from lapwright.metrology.fringes import _refusal as refusal
from lapwright.metrology.fringes._assemble import (
    WORTH_TELLING,
    Scale,
    scaled_height,
    take_out_plane,
    tilt_of,
    told_islands,
)
from lapwright.metrology.fringes._stepping import Stepped, found_steps, with_known_steps
from lapwright.metrology.fringes.result import FringeResult, Island
from lapwright.metrology.unwrap import unwrapped_phase

Mask = NDArray[np.bool_]
SAMPLED = 20_000  # pixels that find unknown steps
TRUSTED = 0.5


def height_from_steps(
    frames: NDArray[np.number],
    *,
    fringe_height: float,
    pixel_size: float | tuple[float, float],
    steps: NDArray[np.floating] | None = None,
    equal_steps: bool = False,
    steps_open_gap: bool | None = None,
    mask: NDArray[np.bool_] | None = None,
) -> FringeResult:
    """Height map of a sample from three or more phase-stepped pictures.

    Parameters
    ----------
    frames : array, shape (n, ny, nx) [1]
        Intensities, n >= 3 with known steps, n >= 4 with unknown ones.
    fringe_height : float [m]
        Height per fringe.
    pixel_size : float or tuple of float [m]
        Size of a pixel on the sample: one number, or height and width.
    steps : float array, shape (n,), or None [rad]
        Phase of each picture against the first or any other zero. None: found from the pictures.
    equal_steps : bool
        Unknown steps are all alike.
    steps_open_gap : bool or None
        True when a growing phase means a growing gap between reference and sample, False when a shrinking one.
        None: not known, and the map may be upside down. Means something only together with `steps`.
    mask : bool array, shape (ny, nx), or None
        Where the sample is; None: where the intensity moves with the steps.

    Returns
    -------
    FringeResult
        Map, confidence and what is not known.

    Raises
    ------
    BadInput, ShapeMismatch, OutOfValidRange
        Pictures, steps or scales that do not fit together.
    NoSampleFound, FringesTooWeak, FringesRefused, DidNotConverge
        Pictures that must not become a map.

    Notes
    -----
    Model at each pixel: I_i = a + b cos(phase + step_i). Unwrapped over the sample; islands other than the largest
    are left out and named. The least-squares plane is taken out. Per pixel noise of phase with known even steps:
    noise / amplitude * sqrt(2 / n).

    References
    ----------
    .. [1] hariharan1987: five quarter turns, see `five_frame_phase`.

    Examples
    --------
    >>> y, x = np.mgrid[-1:1:64j, -1:1:64j]
    >>> phase = 4 * (x * x + y * y)
    >>> steps = np.arange(4) * np.pi / 2
    >>> frames = 100 + 50 * np.cos(phase + steps[:, None, None])
    >>> result = height_from_steps(frames, fringe_height=1e-6, pixel_size=1e-4, steps=steps, steps_open_gap=True)
    >>> round(float(np.ptp(result.height)) * 1e6, 3)
    1.273
    """
    pixel = refusal.checked_scale(fringe_height, pixel_size)
    pictures, finite = _sound_frames(frames, steps, mask)
    if steps is None:
        used = found_steps(_sampled(pictures, finite, mask), None, equal=equal_steps)
    else:
        used = np.asarray(steps, dtype=float)
    stepped = with_known_steps(pictures, used)
    mask = _moving(stepped) if mask is None else mask
    confidence, noise = _confidence(stepped, mask & finite)
    trusted = mask & finite & (confidence > TRUSTED) & ~_burnt(frames)
    phase, trusted, lost = _unwrapped(stepped, trusted)
    known = steps is not None and steps_open_gap is not None
    scale = Scale(
        fringe_height=fringe_height, pixel=pixel, sense=-1 if steps_open_gap is False else 1, sign_known=known
    )
    n_pixels, n_mask = int(np.count_nonzero(trusted)), max(1, int(np.count_nonzero(mask)))
    refusal.refuse_thin_coverage(n_pixels / n_mask)
    slope = take_out_plane(phase, trusted)
    _, tilt, azimuth = tilt_of(slope, None, trusted, scale)
    return FringeResult(
        method="steps",
        height=scaled_height(phase, trusted, scale),
        mask=mask,
        confidence=confidence,
        pixel_size=pixel,
        fringe_height=fringe_height,
        n_pixels=n_pixels,
        coverage=n_pixels / n_mask,
        islands=lost,
        tilt=tilt,
        tilt_azimuth=azimuth,
        contrast=float(np.median((stepped.amplitude / np.maximum(stepped.background, 1e-12))[trusted])),
        noise=noise,
        sign_ambiguous=not known,
        steps=used,
        warnings=told_islands(lost),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _sound_frames(
    frames: NDArray[np.number], steps: NDArray[np.floating] | None, mask: Mask | None
) -> tuple[NDArray[np.float32], Mask]:
    """The pictures in single precision, and where all of them hold a number."""
    faults = []
    if frames.ndim != 3:
        faults.append(f"The pictures have {frames.ndim} axes; 3 are expected: picture, row, column.")
    least = 3 if steps is not None else 4
    if frames.ndim == 3 and len(frames) < least:
        how = "known" if steps is not None else "unknown"
        faults.append(f"{len(frames)} pictures were given; {how} steps need at least {least}. Take more.")
    if steps is not None and frames.ndim == 3 and np.shape(steps) != (len(frames),):
        faults.append(f"{np.size(steps)} steps were given for {len(frames)} pictures; one for each is needed.")
    if steps is not None and not np.all(np.isfinite(steps)):
        faults.append("A phase step is not a number; give each in degrees or radians.")
    if faults:
        raise BadInput([Fault(sentence=text, field="frames") for text in faults], subject="The set of pictures")
    if mask is not None and mask.shape != frames.shape[1:]:
        raise ShapeMismatch(frames=frames.shape, mask=mask.shape)
    sound = [refusal.sound_picture(frame) for frame in frames]
    return np.stack([picture for picture, _ in sound]), np.logical_and.reduce([finite for _, finite in sound])


def _sampled(pictures: NDArray[np.float32], finite: Mask, mask: Mask | None) -> NDArray[np.float64]:
    """Intensities (n, m) of evenly chosen pixels among those that move most."""
    inside = finite if mask is None else finite & mask
    travel = np.where(inside, np.ptp(pictures, axis=0), 0.0)
    lively = travel > 0.4 * np.percentile(travel[inside], 95)
    chosen = np.flatnonzero(lively)
    chosen = chosen[:: max(1, chosen.size // SAMPLED)]
    return pictures.reshape(len(pictures), -1)[:, chosen].astype(float)


def _moving(stepped: Stepped) -> Mask:
    """Where the intensity moves with the steps: amplitude not far below the strong ones, specks left out."""
    from scipy import ndimage

    amplitude = ndimage.uniform_filter(stepped.amplitude, 3)
    strong = float(np.percentile(amplitude, 95))
    moving = (amplitude > 0.3 * strong) & (stepped.amplitude > 0.2 * strong)
    label, count = ndimage.label(moving)
    size = np.bincount(label.ravel(), minlength=count + 1)
    size[0] = 0
    return (size >= 0.02 * size.max())[label] & moving  # type: ignore[no-any-return]


def _confidence(stepped: Stepped, inside: Mask) -> tuple[NDArray[np.float32], float]:
    """Share of each pixel's variation that its fringes explain, and the noise as a share of the amplitude."""
    from scipy import ndimage

    typical = float(np.median(stepped.amplitude[inside])) if inside.any() else 0.0
    if stepped.left is not None:
        local = ndimage.uniform_filter(stepped.left, 5)
        noise = float(np.sqrt(np.mean(stepped.left[inside]))) if inside.any() else math.nan
    else:
        rough = stepped.background - ndimage.uniform_filter(stepped.background, 3)
        noise = 1.4826 * float(np.median(np.abs(rough[inside]))) * math.sqrt(3.0 * 9.0 / 8.0)
        local = np.full(rough.shape, noise**2, np.float32)
    if not inside.any() or noise > typical:
        raise FringesTooWeak(
            "The fringes do not stand out of the noise: the intensity hardly moves with the steps. "
            "Raise contrast and light, stop vibration, and take the pictures again."
        )
    shown = 0.5 * stepped.amplitude**2
    return (shown / np.maximum(shown + local, 1e-30)).astype(np.float32), noise / typical


def _burnt(frames: NDArray[np.number]) -> Mask:
    """Pixels at the top of the scale in any picture; numbers that are not whole have a top when many share it."""
    whole = np.issubdtype(frames.dtype, np.integer)
    top = np.iinfo(frames.dtype.name).max if whole else frames.max()
    burnt = np.asarray((frames >= top).any(axis=0))
    return burnt if whole or burnt.mean() > 0.01 else np.zeros(burnt.shape, bool)


def _unwrapped(stepped: Stepped, trusted: Mask) -> tuple[NDArray[np.float64], Mask, tuple[Island, ...]]:
    """Phase over the largest island, the pixels of it, and the islands left out that are worth telling."""
    sheet, label = unwrapped_phase(stepped.phase, mask=trusted, quality=stepped.amplitude)
    size = np.bincount(label.ravel())
    lost = []
    for number in range(2, size.size):
        if size[number] < WORTH_TELLING * trusted.sum():
            break
        rows, cols = np.nonzero(label == number)
        lost.append(Island(n_pixels=int(size[number]), centre=(float(rows.mean()), float(cols.mean()))))
    return np.where(label == 1, sheet, 0.0), label == 1, tuple(lost)
