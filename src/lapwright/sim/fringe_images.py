"""Fringe photographs of a sample whose height is known.

The picture is built forwards, pixel by pixel: height and tilt to phase, phase to intensity, then what spoils a real
picture (uneven light, weak contrast, dust, glare, camera curve, noise, digits). Nothing here is shared with the
analysis, so a map worked back from such a picture is a test of the analysis. Two-beam
interference, I = a + b cos(phase); common practice, any textbook. Left out: speckle, diffraction at the edge,
coherence loss with height.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange

Form = Literal["round", "rectangle"]
Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """Where the sample lies in the picture. Lengths as shares of the picture's shorter side.

    `size` is the diameter, or the width of a rectangle whose height is `size * aspect`; `flat` is the share of the
    radius that a flat at the bottom cuts away; `hole` is the diameter of a round hole in the middle.
    """

    form: Form = "round"
    size: float = 0.9
    aspect: float = 0.7
    centre: tuple[float, float] = (0.5, 0.5)
    flat: float = 0.0
    hole: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """Light and camera. Intensities as shares of full scale; noise as a share of the fringe amplitude.

    `contrast` is amplitude over mean; `unevenness` and `vignetting` are the loss of light from one side to the other
    and from the middle to the corner; `harmonic` is the second harmonic over the first; `gamma` is the camera curve;
    `dust` the number of specks; `glare` the share of the picture's side that a burnt-out patch takes;
    `levels` the number of grey levels, 0 for none.
    """

    mean: float = 0.4
    contrast: float = 0.6
    background: float = 0.03
    noise: float = 0.05
    unevenness: float = 0.0
    vignetting: float = 0.0
    harmonic: float = 0.0
    gamma: float = 1.0
    dust: int = 0
    glare: float = 0.0
    levels: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class FringePicture:
    """A made picture and the truth behind it: image, height [m], phase [rad] and mask, all (ny, nx)."""

    image: Array
    height: Array
    phase: Array
    inside: Mask


PLAIN_SAMPLE = Sample()
PLAIN_CAMERA = Camera()


def sample_mask(shape: tuple[int, int], sample: Sample = PLAIN_SAMPLE) -> Mask:
    """True where the sample is.

    >>> bool(sample_mask((64, 64))[32, 32])
    True
    """
    u, v = unit_coordinates(shape, sample)
    if sample.form == "round":
        inside = (u * u + v * v <= 1.0) & (v >= -1.0 + sample.flat)
    else:
        inside = (np.abs(u) <= 1.0) & (np.abs(v) <= sample.aspect)
    if sample.hole > 0.0:
        inside &= u * u + v * v > (sample.hole / sample.size) ** 2
    return inside


def unit_coordinates(shape: tuple[int, int], sample: Sample = PLAIN_SAMPLE) -> tuple[Array, Array]:
    """Coordinates in sample radii from its centre, x to the right and y up, for each pixel."""
    ny, nx = shape
    radius = 0.5 * sample.size * min(ny, nx)
    u = (np.arange(nx) - sample.centre[0] * (nx - 1)) / radius
    v = (sample.centre[1] * (ny - 1) - np.arange(ny)) / radius
    return np.broadcast_to(u, shape), np.broadcast_to(v[:, None], shape)


def smooth_form(
    rng: np.random.Generator,
    shape: tuple[int, int],
    *,
    departure: float,
    degree: int = 4,
    sample: Sample = PLAIN_SAMPLE,
) -> Array:
    """A random smooth surface without piston and tilt, of a given peak to valley over the sample.

    A polynomial of the given degree with random coefficients that fall with the order; `departure` is in whatever
    unit the result shall have.
    """
    u, v = unit_coordinates(shape, sample)
    inside = sample_mask(shape, sample)
    form = np.zeros(shape)
    for order in range(2, degree + 1):
        for power in range(order + 1):
            form += rng.normal() / order * u ** (order - power) * v**power
    form = without_plane(form, inside)
    span = np.ptp(form[inside])
    return np.asarray(form * (departure / span))


def bumpy_form(
    rng: np.random.Generator,
    shape: tuple[int, int],
    *,
    departure: float,
    narrowest: float = 0.3,
    roll_off: float = 0.3,
    sample: Sample = PLAIN_SAMPLE,
) -> Array:
    """A random surface of broad hills and hollows with an edge that falls off, of a given peak to valley.

    `narrowest` is the smallest standard deviation of a hill in sample radii; `roll_off` the share of the fall at the
    edge, which sets in over the outer third.
    """
    u, v = unit_coordinates(shape, sample)
    inside = sample_mask(shape, sample)
    form = np.zeros(shape)
    for _ in range(6):
        x, y = rng.uniform(-0.9, 0.9, 2)
        width = rng.uniform(narrowest, 3.0 * narrowest)
        form += rng.normal() * np.exp(-0.5 * ((u - x) ** 2 + (v - y) ** 2) / width**2)
    outer = np.clip((np.hypot(u, v) - 2.0 / 3.0) * 3.0, 0.0, None)
    form = form / np.ptp(form[inside]) - roll_off * outer**3
    form = without_plane(form, inside)
    return np.asarray(form * (departure / np.ptp(form[inside])))


def without_plane(form: Array, inside: Mask) -> Array:
    """A surface less its least-squares plane over the sample."""
    ny, nx = form.shape
    y, x = np.mgrid[:ny, :nx]
    columns = np.stack([np.ones(form.shape), x / nx, y / ny], axis=-1)
    plane, *_ = np.linalg.lstsq(columns[inside], form[inside], rcond=None)
    return np.asarray(form - columns @ plane)


def tilt_phase(shape: tuple[int, int], *, fringes: float, azimuth: float, sample: Sample = PLAIN_SAMPLE) -> Array:
    """Phase [rad] of a tilt that puts `fringes` across the sample's size and opens the gap towards `azimuth` [rad]."""
    u, v = unit_coordinates(shape, sample)
    return math.pi * fringes * (u * math.cos(azimuth) + v * math.sin(azimuth))


def fringe_picture(
    rng: np.random.Generator,
    height: Array,
    *,
    fringe_height: float,
    fringes: float,
    azimuth: float = 0.3,
    sample: Sample = PLAIN_SAMPLE,
    camera: Camera = PLAIN_CAMERA,
) -> FringePicture:
    """One photograph of a sample under a tilted reference.

    The gap between reference and sample opens towards `azimuth` and is smaller where the sample is high, so
    phase = tilt - 2 pi height / fringe_height.
    """
    phase = tilt_phase(height.shape, fringes=fringes, azimuth=azimuth, sample=sample)
    phase = phase - 2.0 * math.pi * height / fringe_height + rng.uniform(-math.pi, math.pi)
    inside = sample_mask(height.shape, sample)
    image = _photographed(rng, phase, inside, camera)
    return FringePicture(image=image, height=height, phase=phase, inside=inside)


def stepped_pictures(
    rng: np.random.Generator,
    phase: Array,
    steps: Array,
    *,
    sample: Sample = PLAIN_SAMPLE,
    camera: Camera = PLAIN_CAMERA,
) -> Array:
    """A stack (n, ny, nx) of photographs whose phase [rad] is moved by each of `steps` [rad] in turn."""
    inside = sample_mask(phase.shape, sample)
    seed = int(rng.integers(2**31))
    fixed = replace(camera, noise=0.0, levels=0)
    frames = []
    for step in steps:
        clean = _photographed(np.random.default_rng(seed), phase + step, inside, fixed)
        frames.append(_digitised(_noisy(rng, clean, camera), camera))
    return np.stack(frames)


# ----------------------------------------------------------------------------------------------------------------------


def _photographed(rng: np.random.Generator, phase: Array, inside: Mask, camera: Camera) -> Array:
    if not 0.0 <= camera.contrast <= 1.0:
        raise OutOfValidRange("contrast", camera.contrast, "0 to 1")
    fringe = np.cos(phase) + camera.harmonic * np.cos(2.0 * phase)
    light = camera.mean * _illumination(rng, phase.shape, camera)
    image = np.where(inside, light * (1.0 + camera.contrast * fringe), camera.background)
    image = _dusted(rng, image, camera)
    image = _glared(rng, image, camera)
    image = np.clip(image, 0.0, None) ** camera.gamma
    return _digitised(_noisy(rng, image, camera), camera)


def _illumination(rng: np.random.Generator, shape: tuple[int, int], camera: Camera) -> Array:
    ny, nx = shape
    y, x = np.mgrid[-1.0 : 1.0 : ny * 1j, -1.0 : 1.0 : nx * 1j]
    turn = rng.uniform(0.0, 2.0 * math.pi)
    slope = 0.5 * camera.unevenness * (x * math.cos(turn) + y * math.sin(turn))
    return np.asarray((1.0 + slope) * (1.0 - 0.5 * camera.vignetting * (x * x + y * y)))


def _dusted(rng: np.random.Generator, image: Array, camera: Camera) -> Array:
    ny, nx = image.shape
    image = image.copy()
    for _ in range(camera.dust):
        radius = rng.uniform(0.001, 0.006) * min(ny, nx)
        cy, cx = rng.uniform(0, ny), rng.uniform(0, nx)
        reach = math.ceil(radius) + 1
        rows = slice(max(0, int(cy) - reach), min(ny, int(cy) + reach + 1))
        cols = slice(max(0, int(cx) - reach), min(nx, int(cx) + reach + 1))
        y, x = np.mgrid[rows, cols]
        image[rows, cols][np.hypot(x - cx, y - cy) <= radius] *= rng.uniform(0.0, 0.4)
    return image


def _glared(rng: np.random.Generator, image: Array, camera: Camera) -> Array:
    if camera.glare <= 0.0:
        return image
    ny, nx = image.shape
    cy, cx = rng.uniform(0.3, 0.7, 2) * (ny, nx)
    y, x = np.mgrid[:ny, :nx]
    radius = 0.5 * camera.glare * min(ny, nx)
    return np.asarray(image + 3.0 * np.exp(-0.5 * ((x - cx) ** 2 + (y - cy) ** 2) / (0.5 * radius) ** 2))


def _noisy(rng: np.random.Generator, image: Array, camera: Camera) -> Array:
    spread = camera.noise * camera.mean * camera.contrast
    return image + rng.normal(0.0, spread, image.shape)


def _digitised(image: Array, camera: Camera) -> Array:
    if camera.levels <= 0:
        return np.minimum(image, 1.0) if camera.glare > 0.0 else image
    top = camera.levels - 1
    return np.clip(np.round(image * top), 0, top)
