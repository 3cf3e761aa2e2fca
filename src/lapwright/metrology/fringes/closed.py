"""One picture with few or closed fringes to a height map, up to sign.

A smooth surface is sought whose fringes match the picture (`closed_search`). It is given back only when it explains the
picture down to its noise and no other surface does; else the picture is refused with the advice to add tilt.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, Fault, FringesRefused, FringesTooWeak, TooFewFringes
from lapwright.metrology.fringes import _closed_search as closed_search
from lapwright.metrology.fringes import _refusal as refusal
from lapwright.metrology.fringes._assemble import Scale, scaled_height, take_out_plane, tilt_of
from lapwright.metrology.fringes._closed_search import Match
from lapwright.metrology.fringes._grid import Single
from lapwright.metrology.fringes._outline import outline_by_brightness
from lapwright.metrology.fringes._polynomial import Basis, basis
from lapwright.metrology.fringes._search import block_mean
from lapwright.metrology.fringes.result import FringeResult
from lapwright.metrology.unwrap import TURN

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
ACROSS = 160  # bins across the sample
TRIED = 10  # starts at most
AGAIN = 2  # starts beyond the first that are always tried
RIVAL = 2.0  # ratio of the unexplained shares below which two surfaces count as equally good
RIVAL_AT_NOISE = 1.2  # the same where the better one leaves nothing but noise
MOST_NOISE = 0.05  # share of the variation, after averaging in bins
SLACK = 4e-3  # unexplained share beyond four times the noise that still passes
LEAST_RANGE = 1.2  # fringes, peak to valley: with less, light and form cannot be told apart
LEAST_POWER = 0.25  # share of the surface's rms that domed or dished form must make up to carry the sign
EDGE_NOT_DRAWN = "No plain surrounding was found, so the whole picture is taken as the sample."


def height_from_closed(
    image: NDArray[np.number],
    *,
    fringe_height: float,
    pixel_size: float | tuple[float, float],
    mask: NDArray[np.bool_] | None = None,
    pressed_fringes_move: Literal["outward", "inward"] | None = None,
) -> FringeResult:
    """Height map of a smooth sample from one picture with few or closed fringes, up to its sign.

    Parameters
    ----------
    image : array, shape (ny, nx) [1]
        Intensities.
    fringe_height : float [m]
        Height per fringe.
    pixel_size : float or tuple of float [m]
        Size of a pixel on the sample: one number, or height and width.
    mask : bool array, shape (ny, nx), or None
        Where the sample is; None: by brightness.
    pressed_fringes_move : "outward", "inward" or None
        Which way the fringes move when the sample is pressed towards the reference: outward for a domed sample,
        inward for a dished one. None: the map may be upside down.

    Returns
    -------
    FringeResult
        Map, confidence and what is not known.

    Raises
    ------
    BadInput, ShapeMismatch, OutOfValidRange
        A picture, mask or scale that does not fit; a sign asked of a form that is neither domed nor dished.
    NoSampleFound, FringesSaturated, TooFewFringes, FringesRefused
        Pictures that must not become a map.

    Notes
    -----
    The surface is a polynomial of the 11th degree at most, so that local detail is not shown; where the picture
    departs from it the confidence falls. Light and amplitude are polynomials of the second degree. A map is returned
    only when the share of the variation that is left is below four times that of the noise plus 0.4 %, and no other
    surface among those tried does as well.

    References
    ----------
    .. [1] takeda1982: one picture *with* a carrier, the better way where tilt can be added.

    Examples
    --------
    >>> y, x = np.mgrid[-1.1:1.1:160j, -1.1:1.1:160j]
    >>> inside = x * x + y * y < 1
    >>> image = np.where(inside, 100 + 50 * np.cos(2 * np.pi * 3 * (x * x + y * y) + 1), 5.0)
    >>> result = height_from_closed(image, fringe_height=1e-6, pixel_size=1e-4, mask=inside)
    >>> round(float(np.nanmax(result.height) - np.nanmin(result.height)) * 1e6, 1), result.sign_ambiguous
    (3.0, True)
    """
    pixel = refusal.checked_scale(fringe_height, pixel_size)
    picture, finite = refusal.sound_picture(image, mask)
    warnings: tuple[str, ...] = ()
    if mask is None:
        mask, drawn = outline_by_brightness(picture, closing=3.0)
        warnings = () if drawn else (EDGE_NOT_DRAWN,)
    counts = refusal.pixels_that_count(picture, mask & finite, min(picture.shape) / 8.0)
    bins = _bins(picture, counts)
    match = _only_match(bins)
    phase, confidence = _on_pixels(bins, match, picture.shape)
    trusted = mask & finite & (confidence > 0.5)
    n_pixels, n_mask = int(np.count_nonzero(trusted)), max(1, int(np.count_nonzero(mask)))
    refusal.refuse_thin_coverage(n_pixels / n_mask)
    slope = take_out_plane(phase, trusted)
    _refuse_small_range(phase[trusted])
    sense = 1 if pressed_fringes_move is None else _sense(phase, trusted, pressed_fringes_move)
    scale = Scale(fringe_height=fringe_height, pixel=pixel, sense=sense, sign_known=pressed_fringes_move is not None)
    _, tilt, azimuth = tilt_of(slope, None, trusted, scale)
    contrast, noise = _light(bins, match)
    return FringeResult(
        method="closed",
        height=scaled_height(phase, trusted, scale),
        mask=mask,
        confidence=confidence,
        pixel_size=pixel,
        fringe_height=fringe_height,
        n_pixels=n_pixels,
        coverage=n_pixels / n_mask,
        tilt=tilt,
        tilt_azimuth=azimuth,
        contrast=contrast,
        noise=noise,
        sign_ambiguous=not scale.sign_known,
        warnings=warnings,
    )


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Bins:
    """Mean intensity in bins of `size` pixels, those wholly on the sample, and the frame of the polynomials."""

    mean: Single
    inside: Mask
    size: int
    centre: tuple[float, float]
    half: float
    noise: float

    def terms(self, every: int = 1) -> Basis:
        """Polynomials at every n-th inside bin."""
        rows, cols = np.nonzero(self.inside)
        x, y = (cols - self.centre[1]) / self.half, (rows - self.centre[0]) / self.half
        return basis(x[::every], y[::every], closed_search.DEGREES[-1])


def _bins(picture: Single, counts: Mask) -> _Bins:
    rows, cols = np.flatnonzero(counts.any(axis=1)), np.flatnonzero(counts.any(axis=0))
    extent = max(np.ptp(rows), np.ptp(cols)) + 1
    size = max(1, int(extent / ACROSS))
    inside = block_mean(counts, size) > 0.999
    rows, cols = np.flatnonzero(inside.any(axis=1)), np.flatnonzero(inside.any(axis=0))
    if rows.size < 16 or cols.size < 16:
        raise FringesRefused("The sample is too narrow in the picture for closed fringes; take it from nearer.")
    centre = 0.5 * (rows[0] + rows[-1]), 0.5 * (cols[0] + cols[-1])
    half = 0.5 * max(rows[-1] - rows[0], cols[-1] - cols[0])
    return _Bins(block_mean(picture, size), inside, size, centre, half, _pixel_noise(picture, counts))


def _pixel_noise(picture: Single, counts: Mask) -> float:
    """Standard deviation of the noise by Immerkær's double second difference (1996), which smooth fringes pass by."""
    second = picture[2:] - 2.0 * picture[1:-1] + picture[:-2]
    second = second[:, 2:] - 2.0 * second[:, 1:-1] + second[:, :-2]
    return 1.4826 * float(np.median(np.abs(second[counts[1:-1, 1:-1]]))) / 6.0


def _only_match(bins: _Bins) -> Match:
    """The one surface that explains the picture; refuses when there is none, or more than one."""
    every = max(1, int(np.count_nonzero(bins.inside) / 6000))
    terms = bins.terms(every)
    intensity = bins.mean[bins.inside].astype(float)[::every]
    floor = bins.noise**2 / bins.size**2 / max(float(np.var(intensity)), 1e-30)
    if floor > MOST_NOISE:
        raise FringesTooWeak(
            f"{100.0 * floor:.0f} % of the variation in the picture is noise; at most {100 * MOST_NOISE:.0f} % may be. "
            "Clean the optics, shut out stray light, stop vibration.",
            noise=floor,
        )
    matches: list[Match] = []
    for start in _starts(bins)[:TRIED]:
        matches.append(closed_search.matched(intensity, terms, start, floor=floor))
        matches.sort(key=lambda match: match.unexplained)
        if matches[0].unexplained < _down_to_noise(floor) and len(matches) > AGAIN:
            break
    best = matches[0]
    if best.unexplained > 4.0 * floor + SLACK:
        raise FringesRefused(
            f"The best smooth surface leaves {100 * best.unexplained:.1f} % of the picture unexplained; at most "
            f"{100 * (4.0 * floor + SLACK):.1f} % may be left. Add tilt until six or more fringes cross the sample, or "
            "step the phase.",
            unexplained=best.unexplained,
        )
    close = RIVAL_AT_NOISE if best.unexplained < _down_to_noise(floor) else RIVAL
    if any(match.unexplained < close * best.unexplained and _apart(best, match, terms, intensity) for match in matches):
        raise FringesRefused(
            "Two different surfaces explain the picture equally well; one alone must. Add tilt until six or more "
            "fringes cross the sample, or step the phase."
        )
    return best


def _down_to_noise(floor: float) -> float:
    """Unexplained share that counts as nothing but noise, for the noise's own share."""
    return 1.2 * floor + 1e-4


def _apart(one: Match, other: Match, terms: Basis, intensity: Array) -> bool:
    """True when two surfaces differ, either way up."""
    first, second = (closed_search.whole_phase(intensity, terms, match.weights) for match in (one, other))
    return min(float(np.std(first - second)), float(np.std(first + second))) > closed_search.DISTINCT * TURN


def _starts(bins: _Bins) -> list[Array]:
    """Starting surfaces from the local fringe frequency."""
    rows, cols = np.nonzero(bins.inside)
    frame = basis((cols - bins.centre[1]) / bins.half, (rows - bins.centre[0]) / bins.half, 2).values
    intensity = bins.mean[bins.inside].astype(float)
    level, *_ = np.linalg.lstsq(frame, intensity, rcond=None)
    fringe = np.zeros(bins.inside.shape)
    fringe[bins.inside] = intensity - frame @ level
    xx, xy, yy, core = closed_search.slopes_squared(fringe, bins.inside, 1.0, 3.0)
    every = max(1, int(np.count_nonzero(bins.inside) / 2500))
    kept = core[bins.inside][::every] > 0.0
    terms = bins.terms(every)
    terms = Basis(terms.values[kept], terms.slope_x[kept], terms.slope_y[kept], terms.degree)
    scaled = [bins.half**2 * part[bins.inside][::every][kept] for part in (xx, xy, yy)]
    rng = np.random.default_rng(19_820_101)
    return closed_search.signed_starts(rng, (scaled[0], scaled[1], scaled[2]), np.ones(scaled[0].size), terms, 30)


def _on_pixels(bins: _Bins, match: Match, shape: tuple[int, int]) -> tuple[Array, NDArray[np.float32]]:
    """Phase and confidence at every pixel."""
    every = max(1, int(np.count_nonzero(bins.inside) / 6000))
    parts = closed_search.light_weights(bins.mean[bins.inside].astype(float)[::every], bins.terms(every), match.weights)
    rows, cols = (((np.arange(n) + 0.5) / bins.size - 0.5) for n in shape)
    phase = _surface(bins, match, parts, rows, cols)[0]
    ny, nx = bins.inside.shape
    confidence = _confidence(
        bins, _surface(bins, match, parts, np.arange(ny, dtype=float), np.arange(nx, dtype=float))[1]
    )
    large = np.repeat(np.repeat(confidence, bins.size, axis=0), bins.size, axis=1)
    missing = tuple((0, whole - part) for whole, part in zip(shape, large.shape, strict=True))
    return phase, np.pad(large, missing, mode="edge").astype(np.float32)


def _surface(bins: _Bins, match: Match, parts: Array, rows: Array, cols: Array) -> tuple[Array, tuple[Array, Array]]:
    """Phase, and (model intensity, its fringe) at the crossings of rows and columns [bins]."""
    from numpy.polynomial import legendre

    y, x = (
        np.clip((rows - bins.centre[0]) / bins.half, -1.02, 1.02),
        np.clip((cols - bins.centre[1]) / bins.half, -1.02, 1.02),
    )

    def field(weights: Array) -> Array:
        degree = next(d for d in range(40) if (d + 1) * (d + 2) // 2 == weights.size)
        square, place = np.zeros((degree + 1, degree + 1)), 0
        for total in range(degree + 1):
            for j in range(total + 1):
                square[j, total - j] = weights[place]
                place += 1
        return np.asarray(legendre.legvander(y, degree) @ square @ legendre.legvander(x, degree).T)

    n = closed_search.LIGHT
    base = field(match.weights)
    level, cosine, sine = (field(parts[k * n : (k + 1) * n]) for k in range(3))
    turn = np.angle(np.mean(cosine) + 1j * np.mean(sine))
    phase = base + turn + np.angle((cosine + 1j * sine) * np.exp(-1j * turn))
    fringe = np.hypot(cosine, sine) * np.cos(phase)
    overtone = parts[3 * n] * np.cos(2.0 * base) + parts[3 * n + 1] * np.sin(2.0 * base)
    return phase, (level + fringe + overtone, fringe)


def _confidence(bins: _Bins, model: tuple[Array, Array]) -> Array:
    from scipy import ndimage

    left = np.where(bins.inside, (bins.mean - model[0]) ** 2, 0.0)
    strength = float(np.mean(model[1][bins.inside] ** 2))
    share = np.maximum(ndimage.gaussian_filter(bins.inside.astype(float), 2.0), 1e-3)
    return np.asarray(strength / (strength + ndimage.gaussian_filter(left, 2.0) / share))


def _light(bins: _Bins, match: Match) -> tuple[float, float]:
    """Contrast, and the noise of a pixel as a share of the amplitude."""
    every = max(1, int(np.count_nonzero(bins.inside) / 6000))
    intensity = bins.mean[bins.inside].astype(float)[::every]
    parts = closed_search.light_weights(intensity, bins.terms(every), match.weights)
    amplitude = float(np.hypot(parts[closed_search.LIGHT], parts[2 * closed_search.LIGHT]))
    return amplitude / max(float(np.mean(intensity)), 1e-12), bins.noise / amplitude


def _refuse_small_range(phase: Array) -> None:
    span = float(np.ptp(phase)) / TURN
    if span < LEAST_RANGE:
        raise TooFewFringes(
            f"The surface spans {span:.1f} fringes; at least {LEAST_RANGE} are needed to tell form from light. "
            "Add tilt until six or more fringes cross the sample, or step the phase.",
            fringes_across=span,
        )


def _sense(phase: Array, trusted: Mask, moves: str) -> int:
    """+1 when the phase grows with the gap, given which way the fringes move when pressed."""
    rows, cols = np.nonzero(trusted)
    radius = (rows - rows.mean()) ** 2 + (cols - cols.mean()) ** 2
    values = phase[trusted] - phase[trusted].mean()
    radius = (radius - radius.mean()) / np.std(radius)
    power = float(np.mean(values * radius))
    if abs(power) < LEAST_POWER * float(np.std(values)):
        sentence = (
            "The form is neither domed nor dished enough for fringes to move outward or inward; the way they move "
            "cannot settle the sign. Add tilt and say which way the gap opens."
        )
        raise BadInput([Fault(sentence=sentence, field="pressed_fringes_move")])
    domed = moves == "outward"
    return 1 if (power > 0.0) == domed else -1
