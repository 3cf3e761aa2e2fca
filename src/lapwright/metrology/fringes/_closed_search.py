"""A smooth surface whose fringes match a picture, when there is no carrier to lean on.

From the picture the square of the local fringe frequency and its axis are read (energy of the gradient against that of
the second derivatives), which is the slope of the phase up to its sign. Signs are chosen by fitting polynomials to the
slopes and turning each slope towards the fit, from many starting shapes. The best starts are then fitted to the
intensities themselves, degree by degree. Own scheme; the energy operator is that of Larkin, J. Opt. Soc. Am. A 18
(2001) 1862, in discrete form (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.metrology.fringes._polynomial import Basis

Array = NDArray[np.float64]
DEGREES = (3, 4, 6, 8, 11)
START = 6  # degree of the starts
LIGHT = 6  # terms of the background and of the amplitude: up to the second degree
DISTINCT = 0.05  # fringes rms between two surfaces that count as two


@dataclass(frozen=True)
class Match:
    """A surface's coefficients, and the share of the picture's variation that it leaves unexplained."""

    weights: Array
    unexplained: float


def slopes_squared(picture: Array, inside: NDArray[np.bool_], blur: float, window: float) -> tuple[Array, ...]:
    """Tensor of the local fringe frequency (xx, xy, yy) [rad² per bin²] and how much of the fringe is seen there."""
    from scipy import ndimage

    weight = inside.astype(float)

    def smooth(field: Array, sigma: float) -> Array:
        return np.asarray(ndimage.gaussian_filter(field, sigma, mode="constant"))

    light = smooth(picture * weight, blur) / np.maximum(smooth(weight, blur), 1e-6)
    gy, gx = np.gradient(light)
    gyy, gyx = np.gradient(gy)
    gxx = np.gradient(gx, axis=1)
    core = ndimage.binary_erosion(inside, iterations=max(2, round(2 * blur)))
    power = smooth(light * light * core, window)
    reach = np.maximum(smooth(core.astype(float), window), 1e-6)
    tensor = [
        smooth(one * core, window) / np.maximum(2.0 * power, 1e-6 * reach)
        for one in (gx * gx - light * gxx, gx * gy - light * gyx, gy * gy - light * gyy)
    ]
    return (*tensor, core.astype(float))


def signed_starts(
    rng: np.random.Generator, tensor: tuple[Array, Array, Array], trust: Array, terms: Basis, count: int
) -> list[Array]:
    """Coefficients of smooth phases whose slopes agree with the tensor, the best first.

    The tensor and the basis are given at the same points, slopes in the basis' units.
    """
    length, ax, ay = _principal(tensor)
    weight = trust * np.minimum(1.0, length / np.percentile(length, 40))
    low = terms.up_to(START)[1:]
    gx, gy = terms.slope_x[:, low] * weight[:, None], terms.slope_y[:, low] * weight[:, None]
    normal = gx.T @ gx + gy.T @ gy + 1e-3 * np.eye(low.size) * np.trace(gx.T @ gx) / low.size
    solver = np.linalg.inv(normal)
    found = []
    for start in _shapes(rng, terms.values.shape[1], count):
        weights = start[low]
        for _ in range(25):
            along = ax * (gx @ weights) + ay * (gy @ weights)
            sign = np.where(along >= 0.0, 1.0, -1.0) * weight
            new = solver @ (gx.T @ (sign * ax * length) + gy.T @ (sign * ay * length))
            done = np.allclose(new, weights, rtol=1e-4)
            weights = new
            if done:
                break
        off = np.abs(ax * (gx @ weights) + ay * (gy @ weights)) - length * weight
        side = ay * (gx @ weights) - ax * (gy @ weights)
        full = np.zeros(terms.values.shape[1])
        full[low] = weights
        found.append((float(np.mean(off**2 + side**2)), full))
    found.sort(key=lambda pair: pair[0])
    return _different([weights for _, weights in found], terms)


def matched(intensity: Array, terms: Basis, start: Array, *, floor: float, rounds: int = 15) -> Match:
    """The surface near `start` that fits the intensities best, from low degrees to high.

    `floor` is the unexplained share that noise alone would leave: no higher degree is tried once it is reached.
    """
    weights, unexplained = start, 1.0
    for degree in DEGREES:
        places = terms.up_to(degree)[1:]
        weights, unexplained = _refined(intensity, terms, weights, places, rounds)
        hopeless = unexplained > 0.7 and degree >= DEGREES[1]
        if hopeless or unexplained < 1.3 * floor + 2e-4:
            break
    return Match(weights, unexplained)


def light_weights(intensity: Array, terms: Basis, weights: Array) -> Array:
    """Weights of background, in-phase and quadrature amplitude and overtone for a surface, by least squares."""
    columns = _light_columns(terms, weights)
    normal = columns.T @ columns
    return np.asarray(np.linalg.solve(normal + 1e-9 * np.trace(normal) * np.eye(len(normal)), columns.T @ intensity))


def whole_phase(intensity: Array, terms: Basis, weights: Array) -> Array:
    """Phase at the points with the part that the two amplitudes carry, less its mean."""
    parts = light_weights(intensity, terms, weights)
    light = terms.values[:, :LIGHT]
    signal = light @ parts[LIGHT : 2 * LIGHT] + 1j * (light @ parts[2 * LIGHT : 3 * LIGHT])
    turn = np.angle(signal.mean())
    phase = terms.values @ weights + turn + np.angle(signal * np.exp(-1j * turn))
    return np.asarray(phase - phase.mean())


def surface_distance(first: Array, second: Array, terms: Basis) -> float:
    """Rms distance [rad] of two surfaces less piston, the second either way up."""
    one, other = terms.values @ first, terms.values @ second
    return float(min(np.std(one - other), np.std(one + other)))


# ----------------------------------------------------------------------------------------------------------------------


def _principal(tensor: tuple[Array, Array, Array]) -> tuple[Array, Array, Array]:
    """Length and direction of the larger principal axis of each tensor, as a slope."""
    xx, xy, yy = tensor
    half = np.hypot(0.5 * (xx - yy), xy)
    large = np.maximum(0.5 * (xx + yy) + half, 0.0)
    angle = 0.5 * np.arctan2(2.0 * xy, xx - yy)
    return np.sqrt(large), np.cos(angle), np.sin(angle)


def _shapes(rng: np.random.Generator, size: int, count: int) -> list[Array]:
    """Starting shapes: tilts, dome, saddles, troughs, then random ones of the third degree."""
    plain = []
    for quadratic in ((1, 0, 1), (1, 0, -1), (0, 1, 0), (1, 0, 0), (0, 0, 1), (1, 1, 1), (1, -1, 1), (0, 0, 0)):
        for tilt in ((0.0, 0.0), (1.5, 0.0), (0.0, 1.5)):
            start = np.zeros(size)
            start[1:3], start[3:6] = tilt, quadratic
            plain.append(start)
    for _ in range(count):
        start = np.zeros(size)
        start[1:10] = rng.normal(size=9)
        plain.append(start)
    return [start for start in plain if start.any()]


def _different(ordered: list[Array], terms: Basis) -> list[Array]:
    kept: list[Array] = []
    for weights in ordered:
        if all(surface_distance(weights, other, terms) > DISTINCT * 2.0 * np.pi for other in kept):
            kept.append(weights)
    return kept


def _light_columns(terms: Basis, weights: Array) -> Array:
    phase = terms.values @ weights
    light, cos, sin = terms.values[:, :LIGHT], np.cos(phase), np.sin(phase)
    overtone = np.stack([cos * cos - sin * sin, 2.0 * sin * cos], axis=1)
    return np.concatenate([light, light * cos[:, None], light * -sin[:, None], overtone], axis=1)


def _refined(
    intensity: Array, terms: Basis, weights: Array, places: NDArray[np.intp], rounds: int
) -> tuple[Array, float]:
    """Gauss-Newton with Levenberg's damping; light and piston are solved for at each step."""
    total = float(np.var(intensity))
    damping, weights = 1e-2, weights.copy()
    columns = terms.values[:, places]
    left, slope = _residual(intensity, terms, weights)
    for _ in range(rounds):
        jacobian = columns * slope[:, None]
        normal, right = jacobian.T @ jacobian, jacobian.T @ left
        trial = weights.copy()
        trial[places] += np.linalg.solve(normal + damping * np.diag(np.diag(normal) + 1e-12), right)
        new_left, new_slope = _residual(intensity, terms, trial)
        gain = float(left @ left - new_left @ new_left) / float(left @ left)
        if gain > 0.0:
            weights, left, slope, damping = trial, new_left, new_slope, damping / 5.0
            if gain < 1e-4:
                break
        else:
            damping *= 10.0
            if damping > 1e4:
                break
    return weights, float(np.mean(left**2)) / total


def _residual(intensity: Array, terms: Basis, weights: Array) -> tuple[Array, Array]:
    """What a surface leaves of the intensities, and how they change with its phase."""
    columns = _light_columns(terms, weights)
    normal = columns.T @ columns
    parts = np.linalg.solve(normal + 1e-9 * np.trace(normal) * np.eye(len(normal)), columns.T @ intensity)
    light = terms.values[:, :LIGHT]
    cosine, sine = light @ parts[LIGHT : 2 * LIGHT], light @ parts[2 * LIGHT : 3 * LIGHT]
    cos, sin = columns[:, LIGHT], -columns[:, 2 * LIGHT]
    return intensity - columns @ parts, -cosine * sin - sine * cos
